//! Today: the day's jobs and whether the shelf carries them, what to set out and what to mix, what
//! goes off, and whether an order is due.

use std::collections::BTreeMap;
use std::sync::Arc;

use askama::Template;
use axum::extract::State;
use axum::response::Response;
use capful_domain::{Id, Job, JobStatus, Product, Snapshot};
use capful_forecast::Plan;
use capful_forecast::plan::{GoingOff, JobReadiness, SetOut, ShortOf, SupplierOrder};
use chrono::NaiveDate;
use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::amounts::chance;
use super::drawing;
use super::frame::{Frame, Measures, Place, day_name};
use super::names::{job_name, with_vehicles};
use super::say::words;
use super::shelf::corrodes;
use super::shown::page;
use super::visitor::Visitor;
use crate::api::Api;
use crate::params::WhichPlan;
use crate::plans;
use crate::problem::Problem;
use crate::view;

/// Days in which a container goes off that is named here.
const SOON_DAYS: i64 = 14;

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    frame: Frame,
    day: String,
    is_empty: bool,
    jobs: Vec<JobCard>,
    done: Vec<DoneLine>,
    mixes: Vec<MixLine>,
    going_off: Vec<GoingLine>,
    orders: Vec<OrderDue>,
    next: Option<String>,
}

/// A job of the day.
pub(crate) struct JobCard {
    pub id: String,
    /// The vehicle, or the job's id.
    pub name: String,
    pub what: String,
    /// Size and condition.
    pub vehicle: String,
    /// The day it was planned on, where that has passed.
    pub late: Option<String>,
    pub is_started: bool,
    /// Whether the shelf carries it, drawn and in words.
    pub chance: String,
    pub carries: String,
    pub short_of: Vec<String>,
    pub set_out: Vec<SetOutLine>,
}

/// What to set out for a job.
pub(crate) struct SetOutLine {
    pub product: String,
    pub container: String,
    pub amount: String,
    /// The protection that it asks for.
    pub protection: String,
}

/// A mix that the day needs.
struct MixLine {
    product: String,
    product_id: String,
    ratio: String,
    concentrate: String,
    water: String,
    jobs: String,
    is_acid: bool,
}

struct DoneLine {
    id: String,
    name: String,
    what: String,
}

struct GoingLine {
    drawing: String,
    product: String,
    container: String,
    text: String,
    advice: String,
}

/// An order of this week.
struct OrderDue {
    supplier: String,
    text: String,
    total: String,
}

/// `GET /`
pub(crate) async fn get(State(api): State<Api>, visitor: Visitor) -> Result<Response, Problem> {
    let snapshot = view::snapshot(&api, &visitor.caller, None).await?;
    let plan = plans::planned(&api, &visitor.caller, WhichPlan::default()).await?;
    let title = words().say("today-title");
    let frame = Frame::of(&api, &visitor, Place::Today, title, "/").await?;
    let view = View::new(&snapshot, &plan);
    let (jobs, done, mixes) = (view.jobs(), view.done(), view.mixes());
    page(&TodayPage {
        day: snapshot.day.format("%A %-d %B").to_string(),
        is_empty: snapshot.facts.products.is_empty(),
        going_off: view.going_off(),
        orders: view.orders(),
        next: jobs.is_empty().then(|| view.next()).flatten(),
        frame,
        jobs,
        done,
        mixes,
    })
}

/// A shop on a day, as its people see it.
pub(crate) struct View<'v> {
    pub snapshot: &'v Snapshot,
    pub plan: &'v Arc<Plan>,
    pub products: BTreeMap<&'v str, &'v Product>,
    pub measures: Measures,
}

impl<'v> View<'v> {
    pub(crate) fn new(snapshot: &'v Snapshot, plan: &'v Arc<Plan>) -> Self {
        let products = snapshot.facts.products.iter();
        Self {
            snapshot,
            plan,
            products: products.map(|product| (product.id.as_str(), product)).collect(),
            measures: Measures::of(&snapshot.facts.shop),
        }
    }

    fn day(&self) -> NaiveDate {
        self.snapshot.day
    }

    /// A product's name.
    pub(crate) fn name(&self, product: &str) -> String {
        self.products.get(product).map_or(product, |product| product.name.as_str()).to_owned()
    }

    /// What a job is: its types by their names.
    pub(crate) fn what(&self, job: &Job) -> String {
        let types = &self.snapshot.facts.job_types;
        let name = |id: &Id| types.iter().find(|own| own.id == *id).map(|own| own.name.as_str());
        let names = job.job_types.iter().map(|id| name(id).unwrap_or(id.as_str()));
        names.collect::<Vec<_>>().join(", ")
    }

    /// Jobs of today, and of before that are not finished.
    fn jobs(&self) -> Vec<JobCard> {
        let open = [JobStatus::Booked, JobStatus::Started];
        let mut jobs: Vec<&Job> = self.snapshot.facts.jobs.iter().collect();
        jobs.retain(|job| open.contains(&job.status) && job.planned_on <= self.day());
        jobs.sort_by_key(|job| (job.planned_on, job.booked_at));
        jobs.into_iter().map(|job| self.card(job)).collect()
    }

    /// A job and whether the shelf carries it.
    pub(crate) fn card(&self, job: &Job) -> JobCard {
        let t = words();
        let ready = self.plan.readiness.iter().find(|ready| ready.job == job.id.as_str());
        let late = (job.planned_on < self.day()).then(|| day_name(job.planned_on, self.day()));
        let (chance, carries) = match ready {
            None => (String::new(), t.say("ready-unknown").to_string()),
            Some(ready) => carries(ready),
        };
        let size = format!("size-{}", capful_domain::Word::word(job.size));
        JobCard {
            id: job.id.to_string(),
            name: job_name(job),
            what: self.what(job),
            vehicle: t
                .say("job-vehicle")
                .with("size", t.say(&size))
                .with("condition", job.condition.grade())
                .to_string(),
            late,
            is_started: job.status == JobStatus::Started,
            chance,
            carries,
            short_of: ready.map(|ready| self.short_of(&ready.short_of)).unwrap_or_default(),
            set_out: ready.map(|ready| self.set_out(&ready.set_out)).unwrap_or_default(),
        }
    }

    /// What may run short, in words.
    fn short_of(&self, short_of: &[ShortOf]) -> Vec<String> {
        let t = words();
        let line = |short: &ShortOf| {
            let name = if short.substitute.is_some() { "short-substitute" } else { "short" };
            t.say(name)
                .with("product", self.name(&short.product))
                .with("chance", chance(short.chance))
                .with("missing", self.measures.amount(&short.missing))
                .with("substitute", self.name(short.substitute.as_deref().unwrap_or_default()))
                .to_string()
        };
        short_of.iter().filter(|short| short.chance >= 0.02).map(line).collect()
    }

    fn set_out(&self, lines: &[SetOut]) -> Vec<SetOutLine> {
        // Of what is set out for the odd job that takes more, nothing is expected to be taken.
        let amount = |line: &SetOut| match line.expect.amount > 0.0 {
            true => self.measures.amount(&line.expect),
            false => words().say("set-out-spare").to_string(),
        };
        let line = |line: &SetOut| SetOutLine {
            product: self.name(&line.product),
            container: line.container.clone(),
            amount: amount(line),
            protection: self
                .products
                .get(line.product.as_str())
                .map(|product| product.protection.join(", "))
                .unwrap_or_default(),
        };
        lines.iter().map(line).collect()
    }

    fn done(&self) -> Vec<DoneLine> {
        let shop = &self.snapshot.facts.shop;
        let mut jobs: Vec<&Job> = self.snapshot.facts.jobs.iter().collect();
        jobs.retain(|job| {
            job.status == JobStatus::Done && shop.day_of(job.ended_at(shop)) == self.day()
        });
        let line = |job: &&Job| DoneLine {
            id: job.id.to_string(),
            name: job_name(job),
            what: self.what(job),
        };
        jobs.iter().map(line).collect()
    }

    /// What the day's jobs take cut with water: one mix for each product and ratio.
    fn mixes(&self) -> Vec<MixLine> {
        let mut mixes: BTreeMap<(&str, String), (f64, Vec<String>)> = BTreeMap::new();
        for job in self.snapshot.facts.jobs.iter().filter(|job| job.planned_on <= self.day()) {
            let ready = self.plan.readiness.iter().find(|ready| ready.job == job.id.as_str());
            for line in ready.into_iter().flat_map(|ready| &ready.set_out) {
                let Some(water) = line.water.filter(|water| *water > 0.0) else { continue };
                let mix = mixes.entry((&line.product, water.to_string())).or_default();
                mix.0 += line.expect.amount;
                mix.1.push(job_name(job));
            }
        }
        let line =
            |((product, water), (amount, mut jobs)): ((&str, String), (f64, Vec<String>))| {
                let own = self.products.get(product)?;
                let parts: f64 = water.parse().ok()?;
                let neat = capful_domain::Quantity::from_unit(Decimal::from_f64(amount)?, own.unit);
                let of_water = Decimal::from_f64(amount * parts)?;
                let of_water = capful_domain::Quantity::from_unit(of_water, own.unit).ok()?;
                jobs.dedup();
                Some(MixLine {
                    product: own.name.clone(),
                    product_id: own.id.to_string(),
                    ratio: format!("{water}:1"),
                    concentrate: self.measures.quantity(neat.ok()?, own),
                    water: self.measures.quantity(of_water, own),
                    jobs: jobs.join(", "),
                    is_acid: corrodes(own),
                })
            };
        mixes.into_iter().filter_map(line).collect()
    }

    fn going_off(&self) -> Vec<GoingLine> {
        let t = words();
        let line = |going: &GoingOff| GoingLine {
            drawing: drawing::vessel(
                self.filled(going),
                going.state == "open",
                if going.days_left < 0 { drawing::Near::Past } else { drawing::Near::Soon },
                &t.say("left").with("amount", self.measures.amount(&going.left)).to_string(),
            ),
            product: self.name(&going.product),
            container: going.container.clone(),
            text: t
                .say(if going.days_left < 0 { "gone-off" } else { "goes-off" })
                .with("left", self.measures.amount(&going.left))
                .with("days", going.days_left.abs())
                .with("day", day_name(going.use_by, self.day()))
                .to_string(),
            advice: with_vehicles(&going.advice, &self.snapshot.facts.jobs),
        };
        let soon = self.plan.going_off.iter().filter(|going| going.days_left <= SOON_DAYS);
        soon.take(5).map(line).collect()
    }

    /// How full a container is, in thousandths of what its product comes in.
    fn filled(&self, going: &GoingOff) -> u32 {
        let Some(product) = self.products.get(going.product.as_str()) else { return 500 };
        let left = Decimal::from_f64(going.left.amount).unwrap_or_default();
        let left = capful_domain::Quantity::from_unit(left, product.unit).unwrap_or_default();
        super::amounts::thousandths(left, product.size())
    }

    /// What is to be ordered, by supplier, the soonest first.
    fn orders(&self) -> Vec<OrderDue> {
        let mut orders: Vec<_> = self.plan.weekly_order.orders.iter().collect();
        orders.sort_by_key(|order| order.place_by);
        let suppliers = &self.snapshot.facts.suppliers;
        let name = |id: &str| suppliers.iter().find(|own| own.id.as_str() == id);
        let due = |order: &&SupplierOrder| OrderDue {
            supplier: name(&order.supplier).map_or(&order.supplier, |own| &own.name).clone(),
            text: words()
                .say("order-due")
                .with("day", day_name(order.place_by, self.day()))
                .with("lines", order.lines.len())
                .to_string(),
            total: self.measures.money_of(order.total),
        };
        orders.iter().map(due).collect()
    }

    /// When the next vehicle comes.
    fn next(&self) -> Option<String> {
        let jobs = self.snapshot.facts.jobs.iter();
        let booked = jobs.filter(|job| job.status == JobStatus::Booked);
        let next =
            booked.filter(|job| job.planned_on > self.day()).min_by_key(|job| job.planned_on)?;
        let day = day_name(next.planned_on, self.day());
        Some(words().say("next-job").with("job", job_name(next)).with("day", day).to_string())
    }
}

/// Whether the shelf carries a job, drawn and in words.
pub(crate) fn carries(ready: &JobReadiness) -> (String, String) {
    let share = ready.ready_chance;
    let name = match share {
        share if share >= 0.95 => "ready-yes",
        share if share >= 0.7 => "ready-likely",
        _ => "ready-no",
    };
    let text = words().say(name).with("chance", chance(share)).to_string();
    (drawing::chance(share, &text), text)
}
