//! A line of the weekly order in words: what is bought, why, what happens without it, and what its
//! reason is made of.

use capful_domain::{Dimension, Money, Offer, Product};
use capful_forecast::plan::{LineParts, OrderLine, PacksTried};
use capful_forecast::sums::{Sign, Summand};
use chrono::NaiveDate;
use rust_decimal::Decimal;

use crate::pages::amounts::{chance, sum};
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
    /// What the reason is made of: a sum.
    pub parts: Vec<Part>,
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
            holds: holds(self.product, self.packs, self.offer.pack, &self.measures),
            cost: self.measures.money(self.cost()),
            price: self.measures.money(self.offer.price),
            why: match advised {
                Some(line) => line.why.replace(" %", "\u{a0}%"),
                None => words().say("order-added").to_string(),
            },
            drawing: advised.map(|line| self.drawing(line)).unwrap_or_default(),
            skip: advised.map(skip).unwrap_or_default(),
            waste: advised.and_then(|line| self.waste(line.expected_waste)),
            instead: self.instead(),
            parts: advised.map(|line| self.parts(line)).unwrap_or_default(),
        }
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
        let of = |tried: Option<&PacksTried>| tried.map(|tried| chance(tried.stall_chance));
        let exact = fewer.zip(more).is_some_and(|(a, b)| a.packs == b.packs);
        let (name, high, low) = match (of(fewer), of(more)) {
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

    /// From what jobs take to the packs that are chosen; the numbers add up as they stand.
    fn parts(&self, line: &OrderLine) -> Vec<Part> {
        let times = f64::from(self.packs) / f64::from(line.packs.max(1));
        let parts = line.parts.with_bought(times);
        let rows = parts.sum();
        let shown = sum(&rows, self.measures.units());
        let part = |(row, amount): (&Summand, String)| Part {
            text: self.part(&parts, row),
            amount,
            is_sum: row.sign == Sign::Is,
        };
        rows.iter().zip(shown).map(part).collect()
    }

    /// What a part of a line is.
    fn part(&self, parts: &LineParts, row: &Summand) -> String {
        let t = words();
        let day = |day| day_name(day, self.day);
        let less = row.amount.amount < 0.0;
        match row.part {
            "booked" => t
                .say("order-part-booked")
                .with("count", parts.booked_jobs)
                .with("day", day(parts.to))
                .to_string(),
            "not_booked" => {
                let a_day = self.measures.amount(&parts.a_day());
                t.say("order-part-not-booked").with("amount", a_day).to_string()
            }
            "lead_time" => t.say("order-part-lead-time").to_string(),
            "safety" => t.say("order-part-safety").to_string(),
            "reorder_point" => t.say("order-part-level").to_string(),
            "to_last" => t.say("order-part-last").with("day", day(parts.up_to_day)).to_string(),
            "order_up_to" => t.say("order-part-up-to").to_string(),
            "goes_off" => t.say("order-part-goes-off").to_string(),
            "on_hand" => t.say("order-part-hand").to_string(),
            "on_order" => t.say("order-part-coming").to_string(),
            "missing" if less => t.say("order-part-enough").to_string(),
            "missing" => t.say("order-part-missing").to_string(),
            "beyond" if self.packs != self.advised.map_or(0, |line| line.packs) => {
                t.say(if less { "order-part-fewer" } else { "order-part-further" }).to_string()
            }
            "beyond" => t.say(if less { "order-part-less" } else { "order-part-more" }).to_string(),
            _ => t.say("order-part-bought").to_string(),
        }
    }
}

/// What packs hold: "2 packs of 6 × 500 mL".
pub(super) fn holds(product: &Product, packs: u32, pack: u32, measures: &Measures) -> String {
    let t = words();
    let is_pieces = product.unit.dimension() == Dimension::Piece;
    let is_one = is_pieces && product.container_size.number == Decimal::ONE;
    let size = measures.quantity(product.size(), product);
    let name = match (packs, pack) {
        (0, _) => "order-holds-none",
        (_, 1) if is_one => "order-holds-piece",
        (_, 1) => "order-holds-one",
        _ if is_one => "order-holds-pieces",
        _ => "order-holds",
    };
    let said = t.say(name).with("packs", packs).with("pack", pack).with("size", size);
    said.with("containers", packs.saturating_mul(pack)).to_string()
}

/// What happens if a line is left out, and what if not.
fn skip(line: &OrderLine) -> String {
    let (without, with) = (chance(line.stall_chance_without), chance(line.stall_chance_with));
    let name = if without == with { "order-skip-same" } else { "order-skip" };
    words().say(name).with("without", without).with("with", with).to_string()
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;
    use capful_domain::{Amount, Currency, Id, Shop, Unit};
    use capful_forecast::plan::AmountIn;

    fn id(text: &str) -> Id {
        Id::parse(text).unwrap()
    }

    fn advised(day: NaiveDate) -> OrderLine {
        let of = |amount| AmountIn { amount, unit: "mL" };
        let tried = |packs, stall_chance, cents| PacksTried {
            packs,
            stall_chance,
            expected_waste: Decimal::new(cents, 2),
        };
        OrderLine {
            product: "soap".to_owned(),
            packs: 3,
            containers: 3,
            cost: Decimal::new(6000, 2),
            stall_chance_without: 0.4,
            stall_chance_with: 0.02,
            expected_waste: Decimal::ZERO,
            why: "It is needed.".to_owned(),
            code: None,
            parts: LineParts {
                from: day,
                to: day,
                late_to: day,
                booked_jobs: 2,
                booked: of(600.0),
                not_booked: of(900.0),
                lead_time: of(-50.0),
                safety: of(350.0),
                reorder_point: of(1800.0),
                to_last: of(1400.0),
                order_up_to: of(3200.0),
                up_to_day: day,
                goes_off: of(20.0),
                on_hand: of(250.0),
                on_order: of(0.0),
                missing: of(2970.0),
                beyond: of(30.0),
                bought: of(3000.0),
            },
            tried: vec![tried(0, 0.4, 0), tried(3, 0.02, 0), tried(5, 0.0, 120)],
        }
    }

    fn with_packs(packs: u32) -> Line {
        let shop = Shop::new("A", chrono_tz::UTC, Currency::parse("CAD").unwrap());
        let day = NaiveDate::from_ymd_opt(2026, 3, 2).unwrap();
        let size = Amount { number: Decimal::from(1000), unit: Unit::Ml };
        let product = Product::new(id("soap"), "Soap", size);
        let offer = Offer {
            supplier: id("north"),
            product: id("soap"),
            pack: 1,
            price: Money::from_minor(2000),
            code: None,
            minimum_packs: 2,
            preferred: false,
        };
        let line = advised(day);
        let written = Written {
            product: &product,
            offer: &offer,
            typed: None,
            packs,
            advised: Some(&line),
            measures: Measures::of(&shop),
            day,
        };
        written.line()
    }

    #[test]
    fn another_number_of_packs_says_what_is_known_of_it() {
        assert!(with_packs(3).instead.is_empty());
        let less = with_packs(1).instead;
        assert!(less[0].contains("sells 2 packs at least"), "{less:?}");
        assert!(less[1].contains("between 2\u{a0}% and 40\u{a0}%"), "{less:?}");
        let more = with_packs(5).instead;
        assert!(more[0].contains("is under 1\u{a0}%") && more[1].contains("CAD 1.20"), "{more:?}");
        assert!(with_packs(9).instead[0].contains("under 1\u{a0}% at most"));
        assert_eq!(with_packs(9).cost, "CAD 180.00");
    }

    #[test]
    fn the_parts_of_a_reason_add_up() {
        let parts = with_packs(1).parts;
        let amounts: Vec<String> =
            parts.iter().map(|part| part.amount.replace('\u{a0}', "")).collect();
        let jobs = ["0.6 L", "+0.9 L", "−0.05 L", "+0.35 L", "1.8 L"];
        assert_eq!(amounts[..5], jobs);
        let last = ["+1.4 L", "3.2 L", "+0.02 L", "−0.25 L", "−0 L", "2.97 L"];
        assert_eq!(amounts[5..11], last);
        // What is bought is what is chosen, not what was advised.
        assert_eq!(amounts[11..], ["−1.97 L", "1 L"]);
        let sums: Vec<usize> = (0..parts.len()).filter(|place| parts[*place].is_sum).collect();
        assert_eq!(sums, [4, 6, 10, 12]);
        let said = words();
        for part in parts {
            assert!(!said.has(&part.text) && !part.text.contains("order-"), "{}", part.text);
        }
    }
}
