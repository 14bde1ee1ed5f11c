//! The sums behind the numbers of a plan: which parts, in which order, added or taken off, and how
//! they are rounded so that they add up as they are printed.

use crate::plan::{AmountIn, LineParts, ShortParts};

/// How a number goes into a sum.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sign {
    /// It is added.
    Plus,
    /// It is taken off.
    Minus,
    /// It is what all before it come to.
    Is,
}

/// A row of a sum.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summand {
    /// How it goes in.
    pub sign: Sign,
    /// The field that it is, `coming` for each line on its way.
    pub part: &'static str,
    /// How much, in the product's unit.
    pub amount: AmountIn,
    /// Whether it is what is left to the next [`Sign::Is`], and takes up what rounding leaves.
    pub fills: bool,
}

const fn row(sign: Sign, part: &'static str, amount: AmountIn) -> Summand {
    Summand { sign, part, amount, fills: false }
}

impl LineParts {
    /// From what jobs take to what is bought.
    #[must_use]
    pub fn sum(&self) -> Vec<Summand> {
        use Sign::{Is, Minus, Plus};
        vec![
            row(Plus, "booked", self.booked),
            row(Plus, "not_booked", self.not_booked),
            row(Plus, "lead_time", self.lead_time),
            row(Plus, "safety", self.safety),
            row(Is, "reorder_point", self.reorder_point),
            row(Plus, "to_last", self.to_last),
            row(Is, "order_up_to", self.order_up_to),
            row(Plus, "goes_off", self.goes_off),
            row(Minus, "on_hand", self.on_hand),
            row(Minus, "on_order", self.on_order),
            row(Is, "missing", self.missing),
            Summand { fills: true, ..row(Plus, "beyond", self.beyond) },
            row(Is, "bought", self.bought),
        ]
    }

    /// The same with another number of packs: so many times what was bought.
    #[must_use]
    pub fn with_bought(&self, times: f64) -> Self {
        let mut other = self.clone();
        other.bought.amount = thousandths(self.bought.amount * times);
        other.beyond.amount = thousandths(other.bought.amount - self.missing.amount);
        other
    }

    /// What jobs take a day on average before `to`, in the product's unit.
    #[must_use]
    pub fn a_day(&self) -> AmountIn {
        let days = (self.to - self.from).num_days().max(1) as f64;
        let amount = thousandths((self.booked.amount + self.not_booked.amount) / days);
        AmountIn { amount, ..self.booked }
    }
}

impl ShortParts {
    /// From what is on the shelf now to what is left over after the job.
    #[must_use]
    pub fn sum(&self) -> Vec<Summand> {
        use Sign::{Is, Minus, Plus};
        let mut rows =
            vec![row(Plus, "on_hand", self.on_hand), row(Plus, "books_off", self.books_off)];
        rows.extend(self.coming.iter().map(|line| row(Plus, "coming", line.average)));
        rows.extend([
            row(Minus, "booked", self.booked),
            row(Minus, "not_booked", self.not_booked),
            row(Minus, "goes_off", self.goes_off),
            row(Minus, "other_ratio", self.other_ratio),
            row(Minus, "takes", self.takes),
            row(Is, "left", self.left),
            row(Minus, "swing", self.swing),
            row(Is, "least", self.least),
        ]);
        rows
    }
}

/// The numbers of a sum in a unit of which `factor` are one of theirs, to so many decimals: each is
/// rounded, and what they come to is what the rounded ones come to.
#[must_use]
pub fn adding_up(sum: &[Summand], factor: f64, decimals: u32) -> Vec<f64> {
    let scale = 10_f64.powi(decimals.min(9) as i32);
    let rounded = |number: f64| (number * factor * scale).round();
    let mut running = 0.0;
    let mut numbers = Vec::with_capacity(sum.len());
    for (place, row) in sum.iter().enumerate() {
        let own = rounded(row.amount.amount);
        let goal = sum.get(place + 1).map_or(own, |next| rounded(next.amount.amount));
        let own = if row.fills { goal - running } else { own };
        match row.sign {
            Sign::Plus => running += own,
            Sign::Minus => running -= own,
            Sign::Is => {}
        }
        let shown = if row.sign == Sign::Is { running } else { own };
        // No minus before a zero.
        numbers.push(if shown == 0.0 { 0.0 } else { shown / scale });
    }
    numbers
}

fn thousandths(amount: f64) -> f64 {
    crate::statistics::rounded(amount, 3)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rounded_numbers_add_up_as_they_stand() {
        let ml = |amount| AmountIn { amount, unit: "mL" };
        let sum = [
            row(Sign::Plus, "a", ml(1214.0)),
            row(Sign::Plus, "b", ml(894.0)),
            row(Sign::Minus, "c", ml(1004.0)),
            row(Sign::Is, "d", ml(1104.0)),
            Summand { fills: true, ..row(Sign::Plus, "e", ml(3896.0)) },
            row(Sign::Is, "f", ml(5000.0)),
        ];
        // In litres to two decimals: 1.21 + 0.89 - 1.00 = 1.10, and 3.90 more are 5.
        assert_eq!(adding_up(&sum, 0.001, 2), [1.21, 0.89, 1.0, 1.1, 3.9, 5.0]);
        // In whole litres 1 + 1 - 1 = 1, and 4 more are 5.
        assert_eq!(adding_up(&sum, 0.001, 0), [1.0, 1.0, 1.0, 1.0, 4.0, 5.0]);
    }
}
