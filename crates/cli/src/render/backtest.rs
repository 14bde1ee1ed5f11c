//! How the plan would have done in past weeks, as a table.

use capful_domain::{Facts, Unit};
use capful_forecast::backtest::{Account, Backtest, MethodScore, ProductScore, SpanScore, Stalled};
use capful_forecast::plan::AmountIn;
use rust_decimal::Decimal;

use super::numbers::{Digits, counted, day, quantity, share};
use super::{Cell, Column, Ink, Table, Tone, heading, paragraph};

/// Products and stalled jobs that a screen has room for.
const MOST_PRODUCTS: usize = 8;
const MOST_STALLED: usize = 4;

/// The whole backtest on one screen, or a little more.
#[must_use]
pub fn backtest_screen(facts: &Facts, told: &Backtest, ink: Ink) -> String {
    let until = told.as_of.format("%A %-d %B %Y");
    let mut text = heading(ink, &told.shop, &until.to_string());
    let weeks = counted(told.weeks.len(), "week", "weeks");
    let line = format!(
        "{weeks} replayed, from {} on: what the plan of each order day's morning foretold, by what \
         was known then, against what came.",
        told.from.format("%A %-d %B %Y")
    );
    text.push_str(&paragraph(ink, Tone::Plain, 0, &line));
    let screen = Screen { facts, told, ink };
    let parts = [screen.demand(), screen.bands(), screen.products(), screen.followed()];
    for part in parts.into_iter().filter(|part| !part.is_empty()) {
        text.push('\n');
        text.push_str(&part);
    }
    text
}

struct Screen<'a> {
    facts: &'a Facts,
    told: &'a Backtest,
    ink: Ink,
}

impl Screen<'_> {
    fn demand(&self) -> String {
        let mut text = heading(self.ink, "Demand foretold", "");
        let number = Column::Right;
        let mut table = Table::new(&[Column::Left, Column::Flex, number, number, number]);
        table.names(&["days", "forecast", "off by", "too high by", "pinball loss"]);
        for score in &self.told.spans {
            table.line(format!("{}: {}", score.yardstick, cases(score)));
            for (place, own) in score.methods.iter().enumerate() {
                let days = if place == 0 { score.days.to_string() } else { String::new() };
                table.row(vec![
                    days.into(),
                    method(own.method).into(),
                    share(own.error).into(),
                    signed(own).into(),
                    format!("{:.1}%", own.pinball * 100.0).into(),
                ]);
            }
        }
        text.push_str(&table.lines(self.ink));
        let note = format!(
            "In shares of what was taken, each product by what it usually takes. Pinball loss: how \
             far the printed quantiles are off, the lower the better. {}",
            self.told.yardstick
        );
        text.push_str(&paragraph(self.ink, Tone::Quiet, 0, &note));
        text
    }

    fn bands(&self) -> String {
        let mut text = heading(self.ink, "Bands of the plan", "said and held");
        let number = Column::Right;
        let mut table = Table::new(&[Column::Left, Column::Flex, number, number, number]);
        table.names(&["days", "", "50% band", "80% band", "95% band"]);
        for score in &self.told.spans {
            let mut row: Vec<Cell> = vec![score.days.to_string().into(), score.yardstick.into()];
            row.extend(score.bands.iter().map(|band| {
                Cell::from(format!("said {}, held {}", share(band.said), share(band.held)))
            }));
            table.row(row);
        }
        text.push_str(&table.lines(self.ink));
        let note = "A band that rests on nothing taken says more than its name: no future lies \
                    below it.";
        text.push_str(&paragraph(self.ink, Tone::Quiet, 0, note));
        text
    }

    /// The products whose demand was foretold worst.
    fn products(&self) -> String {
        let taken = |score: &&ProductScore| score.error.is_some();
        let worst: Vec<&ProductScore> =
            self.told.products.iter().filter(taken).take(MOST_PRODUCTS).collect();
        let Some(first) = worst.first() else { return String::new() };
        let span = format!("the next {} days, on average", first.days);
        let mut text = heading(self.ink, "Foretold worst", &span);
        let number = Column::Right;
        let mut table = Table::new(&[Column::Flex, number, number, number, number, number]);
        table.names(&["product", "taken", "foretold", "off by", "sheet off by", "known"]);
        for score in worst {
            let percent = |error: Option<f64>| error.map_or_else(|| "–".to_owned(), share);
            table.row(vec![
                self.product(&score.product).into(),
                self.amount(score.taken).into(),
                self.amount(score.foretold).into(),
                percent(score.error).into(),
                percent(score.sheet_error).into(),
                format!("{} of {}", score.known, score.cases).into(),
            ]);
        }
        text.push_str(&table.lines(self.ink));
        text
    }

    fn followed(&self) -> String {
        let followed = &self.told.followed;
        let weeks = counted(followed.weeks as usize, "week", "weeks");
        let sum = format!("{}, {weeks}", self.told.currency);
        let mut text = heading(self.ink, "Had the list been followed", &sum);
        let mut table = Table::new(&[Column::Left, Column::Right, Column::Right]);
        table.names(&["", "the list", "the shop"]);
        let (list, shop) = (&followed.list, &followed.shop);
        let mut row = |name: &str, of: &dyn Fn(&Account) -> String| {
            table.row(vec![name.into(), of(list).into(), of(shop).into()]);
        };
        let or_unknown = |known: Option<String>| known.unwrap_or_else(|| "not known".to_owned());
        let money = |amount: Decimal| amount.to_string();
        row("orders", &|one| one.orders.to_string());
        row("freight", &|one| money(one.freight));
        row("went off", &|one| money(one.waste));
        row("holding", &|one| money(one.holding));
        row("stalled jobs", &|one| or_unknown(one.stalled_jobs.map(|jobs| jobs.to_string())));
        row("stalls", &|one| or_unknown(one.stalls.map(money)));
        row("these together", &|one| money(one.avoidable));
        row("goods that came", &|one| money(one.goods));
        row("stock at the end", &|one| money(one.stock_at_end));
        text.push_str(&table.lines(self.ink));
        for stalled in followed.stalled.iter().take(MOST_STALLED) {
            text.push_str(&paragraph(self.ink, Tone::Plain, 2, &self.stalled(stalled)));
        }
        let hidden = followed.stalled.len().saturating_sub(MOST_STALLED);
        if hidden > 0 {
            let more = format!("and {hidden} more: --json lists them");
            text.push_str(&paragraph(self.ink, Tone::Quiet, 2, &more));
        }
        text.push_str(&paragraph(self.ink, Tone::Quiet, 0, followed.assumes));
        text
    }

    fn stalled(&self, one: &Stalled) -> String {
        let (missing, product) = (self.amount(one.missing), self.product(&one.product));
        let on = day(one.on, self.told.as_of);
        format!("{} ({on}) would have lacked {missing} of {product}.", one.job)
    }

    fn product<'b>(&'b self, id: &'b str) -> &'b str {
        let own = self.facts.products.iter().find(|product| product.id.as_str() == id);
        own.map_or(id, |product| product.name.as_str())
    }

    fn amount(&self, amount: AmountIn) -> String {
        let unit = Unit::parse(amount.unit).unwrap_or(Unit::Each);
        quantity(amount.amount, unit, self.facts.shop.units, Digits::Two)
    }
}

fn cases(score: &SpanScore) -> String {
    let cases = counted(score.cases as usize, "product and week", "products and weeks");
    format!("{cases} over the next {} days", score.days)
}

/// What a method is called.
fn method(name: &'static str) -> &'static str {
    match name {
        "plan" => "the plan",
        "sheet" => "usage sheet × recent jobs",
        "moving-average" => "average of eight weeks",
        "tsb" => "TSB",
        "smoothing" => "exponential smoothing",
        other => other,
    }
}

fn signed(own: &MethodScore) -> String {
    format!("{:+.0}%", own.bias * 100.0)
}
