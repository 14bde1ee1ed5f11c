//! A line of the weekly order in words: what is bought, why, what happens without it, and what its
//! reason is made of.

use capful_domain::{Money, Offer, Product};
use capful_forecast::plan::{LineParts, OrderLine, PacksTried};
use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::pages::amounts::{percent, together};
use crate::pages::drawing;
use crate::pages::frame::{Measures, day_name};
use crate::pages::say::words;

/// A line as the page shows it.
#[derive(Debug, Clone)]
pub(super) struct Line {
    pub product: String,
    pub name: String,
    pub code: String,
    /// As it was typed, or as it is advised.
    pub packs: String,
    /// What they hold: "2 packs of 6 × 500 mL".
    pub holds: String,
    pub cost: String,
    pub price: String,
    pub why: String,
    /// The chance that no job stalls for it, drawn and in words.
    pub drawing: String,
    pub skip: String,
    /// What is expected to go off of it.
    pub waste: Option<String>,
    /// What another number than the advised one comes to.
    pub instead: Vec<String>,
    /// What the reason is made of: two sums.
    pub parts: Vec<Vec<Part>>,
}

/// A row of a sum.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub text: String,
    pub amount: String,
    pub is_sum: bool,
}

/// What a line is written from.
pub(super) struct Written<'w> {
    pub product: &'w Product,
    pub offer: &'w Offer,
    /// As it was typed; nothing where it was not.
    pub typed: Option<&'w str>,
    pub packs: u32,
    /// The plan's own line, where it has one.
    pub advised: Option<&'w OrderLine>,
    pub measures: Measures,
    pub day: NaiveDate,
}

impl Written<'_> {
    /// What the packs cost.
    pub(super) fn cost(&self) -> Money {
        self.offer.price.times(self.packs.into())
    }

    /// The line.
    pub(super) fn line(&self) -> Line {
        let advised = self.advised;
        Line {
            product: self.product.id.to_string(),
            name: self.product.name.clone(),
            code: self.offer.code.clone().unwrap_or_default(),
            packs: self.typed.map_or_else(|| self.packs.to_string(), str::to_owned),
            holds: self.holds(),
            cost: self.measures.money(self.cost()),
            price: self.measures.money(self.offer.price),
            why: match advised {
                Some(line) => line.why.clone(),
                None => words().say("order-added").to_string(),
            },
            drawing: advised.map(|line| self.drawing(line)).unwrap_or_default(),
            skip: advised.map(skip).unwrap_or_default(),
            waste: advised.and_then(|line| self.waste(line.expected_waste)),
            instead: self.instead(),
            parts: advised.map(|line| self.parts(line)).unwrap_or_default(),
        }
    }

    /// What the packs hold.
    fn holds(&self) -> String {
        let size = self.measures.quantity(self.product.size(), self.product);
        let name = match (self.packs, self.offer.pack) {
            (0, _) => "order-holds-none",
            (_, 1) => "order-holds-one",
            _ => "order-holds",
        };
        words()
            .say(name)
            .with("packs", self.packs)
            .with("pack", self.offer.pack)
            .with("containers", self.packs.saturating_mul(self.offer.pack))
            .with("size", size)
            .to_string()
    }

    fn drawing(&self, line: &OrderLine) -> String {
        let with = self.chance(line).unwrap_or(line.stall_chance_with);
        drawing::gain(1.0 - line.stall_chance_without, 1.0 - with, &skip(line))
    }

    /// The chance of a stall with the packs that are chosen, where it is known to the point.
    fn chance(&self, line: &OrderLine) -> Option<f64> {
        match line.tried_about(self.packs) {
            (Some(fewer), _) if fewer.packs == self.packs => Some(fewer.stall_chance),
            _ => None,
        }
    }

    fn waste(&self, waste: Decimal) -> Option<String> {
        let amount = self.measures.money_of(waste);
        let said = || words().say("order-waste").with("amount", amount).to_string();
        (waste > Decimal::ZERO).then(said)
    }

    /// What is to be known of the packs that are chosen, where they are not those advised.
    fn instead(&self) -> Vec<String> {
        let t = words();
        let mut all = Vec::new();
        if self.packs > 0 && self.packs < self.offer.minimum_packs {
            let said = t.say("order-least-packs").with("packs", self.offer.minimum_packs);
            all.push(said.to_string());
        }
        let Some(line) = self.advised.filter(|line| line.packs != self.packs) else { return all };
        let (fewer, more) = line.tried_about(self.packs);
        let chance = |tried: Option<&PacksTried>| tried.map(|tried| percent(tried.stall_chance));
        let exact = fewer.zip(more).is_some_and(|(a, b)| a.packs == b.packs);
        let (name, high, low) = match (chance(fewer), chance(more)) {
            (Some(high), _) if exact || more.is_none() => ("order-instead", high, String::new()),
            (Some(high), Some(low)) if high != low => ("order-instead-between", high, low),
            (Some(high), _) => ("order-instead", high, String::new()),
            (None, _) => return all,
        };
        let name = if more.is_none() { "order-instead-more" } else { name };
        let said = t.say(name).with("packs", self.packs).with("advised", line.packs);
        all.push(said.with("chance", high).with("low", low).to_string());
        let waste = fewer.filter(|_| exact).and_then(|tried| self.waste(tried.expected_waste));
        all.extend(waste);
        all
    }

    /// What is there, and what it is for; each adds up as it stands.
    fn parts(&self, line: &OrderLine) -> Vec<Vec<Part>> {
        let t = words();
        let LineParts { on_hand, on_order, booked, not_booked, safety, to, .. } = line.parts;
        let mut bought = line.parts.bought;
        bought.amount *= f64::from(self.packs) / f64::from(line.packs.max(1));
        let until = day_name(to, self.day);
        let say = |name: &'static str| t.say(name).to_string();
        let jobs = t.say("order-part-booked").with("count", line.parts.booked_jobs);
        let lists = [
            (
                vec![on_hand, on_order, bought],
                vec![
                    say("order-part-hand"),
                    say("order-part-coming"),
                    say("order-part-bought"),
                    say("order-part-then"),
                ],
            ),
            (
                vec![booked, not_booked, safety],
                vec![
                    jobs.with("day", &until).to_string(),
                    t.say("order-part-others").with("day", &until).to_string(),
                    say("order-part-safety"),
                    say("order-part-level"),
                ],
            ),
        ];
        let list = |(amounts, texts): (Vec<_>, Vec<String>)| {
            let shown = together(&amounts, self.measures.units());
            let last = texts.len().saturating_sub(1);
            let rows = texts.into_iter().zip(shown).enumerate();
            let part = |(place, (text, amount))| Part { text, amount, is_sum: place == last };
            rows.map(part).collect()
        };
        lists.into_iter().map(list).collect()
    }
}

/// What happens if a line is left out, and what if not.
fn skip(line: &OrderLine) -> String {
    let (without, with) = (percent(line.stall_chance_without), percent(line.stall_chance_with));
    let name = if without == with { "order-skip-same" } else { "order-skip" };
    words().say(name).with("without", without).with("with", with).to_string()
}
