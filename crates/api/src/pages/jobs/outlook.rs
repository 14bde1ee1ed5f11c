//! Whether the shelf would carry a job that is not booked yet: what it may lack, by when that has
//! to be ordered, and which other jobs it would take from.

use capful_domain::{Id, Job, Offer, Supplier};
use capful_forecast::Plan;
use capful_forecast::plan::{JobReadiness, ShortOf};
use chrono::{Datelike, Days, NaiveDate};

use crate::api::Api;
use crate::auth::Caller;
use crate::known::Known;
use crate::page;
use crate::pages::amounts::chance;
use crate::pages::frame::{Measures, day_name};
use crate::pages::names::job_name;
use crate::pages::say::words;
use crate::pages::today::carries;
use crate::params::WhichPlan;
use crate::plans;
use crate::problem::Problem;

/// A chance to run short that is told.
const TOLD: f64 = 0.02;
/// A chance to run short against which something is to be ordered.
const ORDERED_FOR: f64 = 0.05;
/// How much less likely another job becomes, where that is told.
const TAKEN: f64 = 0.03;

/// Whether the shelf would carry a job.
pub(crate) struct Outlook {
    /// Drawn and in words.
    pub chance: String,
    pub carries: String,
    /// What it may lack, and what to do about it.
    pub short: Vec<Short>,
    /// Which other jobs it would take from.
    pub takes: Vec<String>,
    /// What else is to be known of the day.
    pub notes: Vec<String>,
}

/// What a job may lack.
pub(crate) struct Short {
    pub text: String,
    pub advice: String,
}

impl Outlook {
    /// Of a job, had it been booked now.
    ///
    /// # Errors
    /// [`Problem`] where the store does not answer or the planner fails.
    pub(crate) async fn of(
        api: &Api,
        caller: &Caller,
        known: &Known,
        job: Job,
    ) -> Result<Self, Problem> {
        let (id, day) = (job.id.to_string(), job.planned_on);
        let before = plans::planned(api, caller, WhichPlan::default()).await?;
        let after = plans::planned_with(api, caller, job).await?;
        let own = after.readiness.iter().find(|ready| ready.job == id);
        let suppliers = page::whole::<Supplier>(api, caller).await?;
        let offers = page::whole::<Offer>(api, caller).await?;
        let buying = Buying {
            known,
            plan: &after,
            day,
            suppliers: suppliers.into_iter().map(|listed| listed.row).collect(),
            offers: offers.into_iter().map(|listed| listed.row).collect(),
        };
        let short = own.into_iter().flat_map(|ready| &ready.short_of);
        let (chance, carries) = own.map(carries).unwrap_or_default();
        Ok(Self {
            chance,
            carries,
            short: short.filter(|s| s.chance >= TOLD).map(|s| buying.short(s)).collect(),
            takes: takes(api, caller, &before, &after).await?,
            notes: notes(known, &after, day),
        })
    }
}

/// What is to be known of the day itself.
fn notes(known: &Known, plan: &Plan, day: NaiveDate) -> Vec<String> {
    let t = words();
    let horizon = plan.products.iter().map(|product| product.horizon_days).max().unwrap_or(0);
    let date = day.format("%A %-d %B").to_string();
    let mut notes = Vec::new();
    if !known.shop.is_open(day) {
        notes.push(t.say("book-closed").with("day", &date).to_string());
    }
    if day < plan.as_of {
        notes.push(t.say("book-past").with("day", &date).to_string());
    }
    if (day - plan.as_of).num_days() >= i64::from(horizon) {
        notes.push(t.say("book-far").with("days", horizon).to_string());
    }
    notes
}

/// The jobs that the shelf carries less likely than before.
async fn takes(
    api: &Api,
    caller: &Caller,
    before: &Plan,
    after: &Plan,
) -> Result<Vec<String>, Problem> {
    let mut lines = Vec::new();
    for ready in &before.readiness {
        let Some(then) = after.readiness.iter().find(|then| then.job == ready.job) else {
            continue;
        };
        if ready.ready_chance - then.ready_chance < TAKEN {
            continue;
        }
        let job = api.store.get::<Job>(caller.shop, &ready.job).await?.row;
        lines.push(taken(&job, ready, then, after.as_of));
    }
    Ok(lines)
}

fn taken(job: &Job, ready: &JobReadiness, then: &JobReadiness, today: NaiveDate) -> String {
    words()
        .say("book-takes")
        .with("job", job_name(job))
        .with("day", day_name(job.planned_on, today))
        .with("before", chance(ready.ready_chance))
        .with("after", chance(then.ready_chance))
        .to_string()
}

/// Where and when what is lacking can be bought.
struct Buying<'b> {
    known: &'b Known,
    plan: &'b Plan,
    day: NaiveDate,
    suppliers: Vec<Supplier>,
    offers: Vec<Offer>,
}

impl Buying<'_> {
    fn short(&self, short: &ShortOf) -> Short {
        let product = |id: &str| {
            let own = Id::parse(id).ok().and_then(|id| self.known.products.get(&id));
            own.map_or_else(|| id.to_owned(), |product| product.name.clone())
        };
        let name = if short.substitute.is_some() { "short-substitute" } else { "short" };
        let text = words()
            .say(name)
            .with("product", product(&short.product))
            .with("chance", chance(short.chance))
            .with("missing", Measures::of(&self.known.shop).amount(&short.missing))
            .with("substitute", product(short.substitute.as_deref().unwrap_or_default()))
            .to_string();
        let is_told = short.chance >= ORDERED_FOR && short.substitute.is_none();
        let advice = if is_told { self.advice(&short.product) } else { String::new() };
        Short { text, advice }
    }

    /// By when to order a product, so that it is there for the job.
    fn advice(&self, product: &str) -> String {
        let (t, today) = (words(), self.plan.as_of);
        let Some(supplier) = self.supplier(product) else {
            return t.say("order-nowhere").to_string();
        };
        let own = self.plan.products.iter().find(|own| own.product == product);
        let lead = Days::new(own.map_or(0.0, |own| own.lead_days.p90).ceil().max(0.0) as u64);
        let taken = |day: &NaiveDate| {
            let days = &supplier.order_weekdays;
            days.is_empty() || days.contains(&day.weekday())
        };
        let mut in_time = today.iter_days().take(366).take_while(|day| *day + lead <= self.day);
        let (name, by) = match in_time.by_ref().filter(&taken).last() {
            Some(by) => ("order-by", by),
            None => {
                let first = today.iter_days().take(7).find(&taken).unwrap_or(today);
                ("order-too-late", first)
            }
        };
        t.say(name)
            .with("supplier", &supplier.name)
            .with("by", day_name(by, today))
            .with("arrives", day_name(by + lead, today))
            .with("day", day_name(self.day, today))
            .to_string()
    }

    /// Who sells a product: who the plan would order it from, else whom the shop buys it from.
    fn supplier(&self, product: &str) -> Option<&Supplier> {
        let mut orders = self.plan.weekly_order.orders.iter();
        let ordered = orders.find(|order| order.lines.iter().any(|line| line.product == product));
        let own = || self.offers.iter().filter(|offer| offer.product.as_str() == product);
        let offered = own().find(|offer| offer.preferred).or_else(|| own().next());
        let id = ordered
            .map(|order| order.supplier.as_str())
            .or_else(|| offered.map(|offer| offer.supplier.as_str()))?;
        self.suppliers.iter().find(|supplier| supplier.id.as_str() == id)
    }
}
