//! A plan beside the facts it was made from: names for its ids, units for its numbers.

use std::collections::HashMap;

use capful_domain::{Facts, Job, Product, Unit, Word};
use capful_forecast::Plan;
use capful_forecast::plan::AmountIn;
use capful_forecast::sums::Summand;
use chrono::NaiveDate;
use rust_decimal::Decimal;

use super::numbers::{self, Digits};
use super::{Ink, Tone};

/// Everything that is needed to show a plan.
pub struct View<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Whether to colour it.
    pub ink: Ink,
    facts: &'a Facts,
    products: HashMap<&'a str, &'a Product>,
    suppliers: HashMap<&'a str, &'a str>,
    job_types: HashMap<&'a str, &'a str>,
    jobs: HashMap<&'a str, &'a Job>,
}

impl<'a> View<'a> {
    /// A view of the plan made from these facts.
    #[must_use]
    pub fn new(facts: &'a Facts, plan: &'a Plan, ink: Ink) -> Self {
        let named = |s: &'a capful_domain::Supplier| (s.id.as_str(), s.name.as_str());
        Self {
            plan,
            ink,
            facts,
            products: facts.products.iter().map(|p| (p.id.as_str(), p)).collect(),
            suppliers: facts.suppliers.iter().map(named).collect(),
            job_types: facts.job_types.iter().map(|t| (t.id.as_str(), t.name.as_str())).collect(),
            jobs: facts.jobs.iter().map(|j| (j.id.as_str(), j)).collect(),
        }
    }

    /// The name on the shelf.
    pub(crate) fn product<'b>(&'b self, id: &'b str) -> &'b str {
        self.products.get(id).map_or(id, |product| product.name.as_str())
    }

    /// Who sells.
    pub(crate) fn supplier<'b>(&'b self, id: &'b str) -> &'b str {
        self.suppliers.get(id).copied().unwrap_or(id)
    }

    /// The service.
    pub(crate) fn job_type<'b>(&'b self, id: &'b str) -> &'b str {
        self.job_types.get(id).copied().unwrap_or(id)
    }

    /// The booking.
    pub(crate) fn job(&self, id: &str) -> Option<&'a Job> {
        self.jobs.get(id).copied()
    }

    /// What is done on a job: the names of its services.
    pub(crate) fn work(&self, id: &str) -> String {
        let Some(job) = self.job(id) else { return String::new() };
        let types: Vec<&str> = job.job_types.iter().map(|t| self.job_type(t.as_str())).collect();
        types.join(" + ")
    }

    /// The vehicle of a job: `large, condition 4`.
    pub(crate) fn vehicle(&self, id: &str) -> String {
        let Some(job) = self.job(id) else { return String::new() };
        let own = job.vehicle.as_ref().map(|v| format!("{v}, ")).unwrap_or_default();
        format!("{own}{}, condition {}", job.size.word(), job.condition.grade())
    }

    /// A quantity of the plan, to two figures.
    pub(crate) fn amount(&self, amount: AmountIn) -> String {
        self.exact(amount, Digits::Two)
    }

    /// A quantity of the plan, to three figures.
    pub(crate) fn fine(&self, amount: AmountIn) -> String {
        self.exact(amount, Digits::Three)
    }

    /// A quantity, or a dash where there is none.
    pub(crate) fn amount_or_dash(&self, amount: AmountIn) -> String {
        if amount.amount.abs() < 0.0005 { "–".to_owned() } else { self.amount(amount) }
    }

    fn exact(&self, amount: AmountIn, digits: Digits) -> String {
        let unit = Unit::parse(amount.unit).unwrap_or(Unit::Each);
        numbers::quantity(amount.amount, unit, self.facts.shop.units, digits)
    }

    /// The rows of a sum: the sign of each and its number, which add up as they stand.
    pub(crate) fn sum(&self, rows: &[Summand]) -> Vec<(&'static str, String)> {
        numbers::sum(rows, self.facts.shop.units)
    }

    /// A bare number of the plan that is in a product's own unit, to two figures.
    pub(crate) fn of_product(&self, product: &str, number: f64) -> String {
        numbers::quantity(number, self.unit(product), self.facts.shop.units, Digits::Two)
    }

    /// Two such numbers as one span: `24.0–66.8 mL`.
    pub(crate) fn span_of_product(&self, product: &str, low: f64, high: f64) -> String {
        let ends = numbers::in_one_unit(&[low, high], self.unit(product), self.facts.shop.units);
        let number = |end: &str| end.split(' ').next().unwrap_or_default().to_owned();
        let low = ends.first().map(|end| number(end)).unwrap_or_default();
        format!("{low}–{}", ends.last().map_or("", String::as_str))
    }

    fn unit(&self, product: &str) -> Unit {
        self.products.get(product).map_or(Unit::Each, |product| product.unit)
    }

    /// Money with its currency: `CAD 46.00`.
    pub(crate) fn money(&self, money: Decimal) -> String {
        format!("{} {money}", self.plan.currency)
    }

    /// A day as seen from the plan's.
    pub(crate) fn day(&self, day: NaiveDate) -> String {
        numbers::day(day, self.plan.as_of)
    }

    /// A use-by as seen from the plan's day.
    pub(crate) fn use_by(&self, last: NaiveDate) -> String {
        numbers::use_by(last, self.plan.as_of)
    }

    /// What to put on the bench: pieces are whole, and rather one more than one too few.
    pub(crate) fn on_bench(&self, amount: AmountIn) -> String {
        let pieces = amount.unit == Unit::Each.symbol();
        let number = if pieces { amount.amount.ceil() } else { amount.amount };
        self.fine(AmountIn { amount: number, ..amount })
    }

    /// The last day to do something: `today`, `by Thu 5 Mar`.
    pub(crate) fn by(&self, day: NaiveDate) -> String {
        let last = self.day(day);
        if last == "today" { last } else { format!("by {last}") }
    }

    /// Two days as one span, as seen from the plan's.
    pub(crate) fn span(&self, first: NaiveDate, last: NaiveDate) -> String {
        numbers::span(first, last, self.plan.as_of)
    }

    /// Money where there is some, else a dash.
    pub(crate) fn money_or_dash(&self, money: Decimal) -> String {
        if money.is_zero() { "–".to_owned() } else { self.money(money) }
    }

    /// How a chance of being ready looks.
    pub(crate) fn ready_tone(chance: f64) -> Tone {
        if chance < 0.9 { Tone::Alarm } else { Tone::Plain }
    }
}
