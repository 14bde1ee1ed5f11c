//! A shop far larger than most, from a seed: 200 products, 24 job types, 6 suppliers, 12 visits a
//! week. Its rows hang together: what was poured stood on the shelf, what ran low was ordered.

use capful_domain::catalog::ComesBack;
use capful_domain::facts::{
    Count, Discard, DiscardReason, Method, Opening, Order, OrderLine, OrderStatus, Pour, Receipt,
};
use capful_domain::{
    Amount, Condition, Currency, Facts, Id, Job, JobStatus, JobType, Money, Offer, Product,
    SheetRow, Shop, Snapshot, Supplier, Unit, VehicleSize,
};
use chrono::{DateTime, Datelike, Days, NaiveDate, Utc, Weekday};
use rand::{RngExt, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use rust_decimal::Decimal;

/// A year of weeks, so that each year ends on the same weekday.
const YEAR: Days = Days::new(364);
const PRODUCTS: usize = 200;
const JOB_TYPES: usize = 24;
const SUPPLIERS: usize = 6;
/// Products that only one job type takes, for each job type.
const OWN_PRODUCTS: usize = 8;
/// Of the products that many job types take, so many are on each sheet.
const SHARED_PRODUCTS: usize = 3;
const VISITS_A_WEEK: f64 = 12.0;
/// Share of the visits with a second job type, in percent.
const SECOND_TYPE: u32 = 40;
/// Longest time from booking to visit; about 60 jobs stand booked with it.
const LONGEST_BOOKING_DAYS: u64 = 60;
/// Each product is counted once in so many weeks.
const WEEKS_BETWEEN_COUNTS: usize = 5;

/// How much the shop has written down.
pub struct Written {
    /// Years of history.
    pub years: u32,
    /// Share of the jobs whose pours were measured, in percent.
    pub measured: u32,
}

/// The shop on the morning after its history, with what is booked by then.
pub fn large_shop(written: &Written) -> Facts {
    let mut world = World::new();
    world.book(end_of_year(written.years));
    world.live(end_of_year(written.years), written.measured);
    world.facts
}

/// The shop as it stood after the first `years` of its history.
pub fn after_years(facts: &Facts, years: u32) -> Snapshot {
    Snapshot::of(facts, facts.shop.start_of(end_of_year(years)))
}

fn first_day() -> NaiveDate {
    NaiveDate::from_ymd_opt(2020, 1, 6).expect("a Monday")
}

fn end_of_year(years: u32) -> NaiveDate {
    (0..years).fold(first_day(), |day, _| day + YEAR)
}

/// What stands on the shelf of one product.
struct Shelf {
    size: f64,
    sealed: u32,
    open: f64,
    opened_on: NaiveDate,
    on_order: u32,
    use_a_week: f64,
}

impl Shelf {
    fn total(&self) -> f64 {
        self.open + f64::from(self.sealed) * self.size
    }
}

/// An order on its way: its place among the orders, the day it comes, products and containers.
struct Coming {
    order: usize,
    day: NaiveDate,
    lines: Vec<(usize, u32)>,
}

struct World {
    rng: Xoshiro256PlusPlus,
    facts: Facts,
    /// Products and usual quantities of each job type.
    sheet: Vec<Vec<(usize, f64)>>,
    /// What jobs truly take of each product, as a share of the sheet.
    truth: Vec<f64>,
    shelves: Vec<Shelf>,
    coming: Vec<Coming>,
}

fn id(letter: &str, number: usize) -> Id {
    Id::parse(&format!("{letter}-{number:05}")).expect("letters and digits")
}

fn millilitres(quantity: f64) -> Amount {
    Amount { number: Decimal::new((quantity * 10.0).round() as i64, 1), unit: Unit::Ml }
}

impl World {
    fn new() -> Self {
        let zone = "America/Halifax".parse().expect("a time zone");
        let shop = Shop::new("A large shop", zone, Currency::parse("CAD").expect("a currency"));
        let mut world = Self {
            rng: Xoshiro256PlusPlus::seed_from_u64(1),
            facts: Facts::new(shop),
            sheet: Vec::new(),
            truth: Vec::new(),
            shelves: Vec::new(),
            coming: Vec::new(),
        };
        world.stock_products();
        world.take_on_suppliers();
        world.sell_services();
        world
    }

    fn stock_products(&mut self) {
        for place in 0..PRODUCTS {
            // Every tenth is a coating: a small bottle that does not last once opened.
            let coating = place % 10 == 3;
            let size = if coating { 50.0 } else { [250.0, 500.0, 1000.0, 3800.0][place % 4] };
            let name = format!("Product {place}");
            let mut product = Product::new(id("p", place), &name, millilitres(size));
            product.shelf_days = Some(730);
            product.open_days =
                if coating { Some(60) } else { Some(270).filter(|_| place % 2 == 0) };
            self.facts.products.push(product);
            self.truth.push(self.rng.random_range(0.7..1.4));
            self.shelves.push(Shelf {
                size,
                sealed: 0,
                open: 0.0,
                opened_on: first_day(),
                on_order: 0,
                use_a_week: 0.0,
            });
        }
    }

    fn take_on_suppliers(&mut self) {
        for place in 0..SUPPLIERS {
            self.facts.suppliers.push(Supplier {
                id: id("s", place),
                name: format!("Supplier {place}"),
                lead_days: Decimal::from(3 + place % 3),
                lead_days_sd: None,
                order_weekdays: Vec::new(),
                freight: Money::from_minor(1500),
                free_freight_over: Some(Money::from_minor(30_000)),
                minimum_order: Money::from_minor(5000),
            });
        }
        for place in 0..PRODUCTS {
            // Every third product is sold by a second supplier too.
            let others = if place % 3 == 0 { 2 } else { 1 };
            for supplier in (place..).step_by(5).take(others) {
                self.facts.offers.push(Offer {
                    supplier: id("s", supplier % SUPPLIERS),
                    product: id("p", place),
                    pack: 1,
                    price: Money::from_minor(1200 + (place as i64 % 40) * 75),
                    code: None,
                    minimum_packs: 1,
                    preferred: supplier == place,
                });
            }
        }
    }

    fn sell_services(&mut self) {
        let weights: usize = (1..=JOB_TYPES).sum();
        let types_a_week = VISITS_A_WEEK * (1.0 + f64::from(SECOND_TYPE) / 100.0);
        for place in 0..JOB_TYPES {
            self.facts.job_types.push(JobType {
                id: id("t", place),
                name: format!("Service {place}"),
                price: Some(Money::from_minor(20_000)),
                stall_cost: None,
                comes_back: (place % 6 == 0).then(|| ComesBack {
                    days: 180,
                    share: Decimal::new(3, 1),
                    job_type: None,
                }),
            });
            let a_week = types_a_week * (JOB_TYPES - place) as f64 / weights as f64;
            let own = place * OWN_PRODUCTS..(place + 1) * OWN_PRODUCTS;
            let of_many = JOB_TYPES * OWN_PRODUCTS..PRODUCTS;
            let shared = (0..SHARED_PRODUCTS).map(|n| of_many.start + (place + n) % of_many.len());
            let mut rows = Vec::new();
            for product in own.chain(shared) {
                let jobs_in_one = self.rng.random_range(8.0..50.0);
                let quantity = (self.shelves[product].size / jobs_in_one).max(0.5);
                self.shelves[product].use_a_week += a_week * quantity;
                self.facts.usage_sheet.push(SheetRow {
                    job_type: id("t", place),
                    product: id("p", product),
                    amount: millilitres(quantity),
                    ratio: None,
                    share_of_jobs: None,
                    log_sd: None,
                });
                rows.push((product, quantity));
            }
            self.sheet.push(rows);
        }
    }

    /// A job type; the first are asked for most.
    fn job_type(&mut self) -> usize {
        let (a, b) = (self.rng.random_range(0..JOB_TYPES), self.rng.random_range(0..JOB_TYPES));
        a.min(b)
    }

    /// Every visit of the history, and those booked by `today`.
    fn book(&mut self, today: NaiveDate) {
        let shop = self.facts.shop.clone();
        let ahead = today + Days::new(LONGEST_BOOKING_DAYS);
        let days = first_day().iter_days().take_while(|day| *day < ahead);
        for day in days.filter(|day| shop.is_open(*day)) {
            for _ in 0..self.rng.random_range(1..=3) {
                let booked_on = day - Days::new(self.rng.random_range(1..=LONGEST_BOOKING_DAYS));
                let job = self.visit(day, booked_on, day < today);
                if booked_on < today {
                    self.facts.jobs.push(job);
                }
            }
        }
    }

    fn visit(&mut self, day: NaiveDate, booked_on: NaiveDate, past: bool) -> Job {
        let mut job_types = vec![self.job_type()];
        if self.rng.random_range(0..100) < SECOND_TYPE {
            job_types.push(self.job_type());
            job_types.dedup();
        }
        let status = match (past, self.rng.random_range(0..100) < 4) {
            (true, true) => JobStatus::Cancelled,
            (true, false) => JobStatus::Done,
            (false, _) => JobStatus::Booked,
        };
        let done = status == JobStatus::Done;
        let at = |day: NaiveDate, hour| self.at(day, hour);
        let (started_at, finished_at) = (at(day, 9), at(day, 15));
        let (booked_at, cancelled_at) = (at(booked_on, 12), at(day - Days::new(1), 17));
        Job {
            id: id("j", self.facts.jobs.len()),
            booked_at,
            planned_on: day,
            status,
            job_types: job_types.into_iter().map(|place| id("t", place)).collect(),
            size: VehicleSize::ALL[self.rng.random_range(0..4)],
            condition: Condition::new(self.rng.random_range(1..=5)).expect("a grade"),
            started_at: Some(started_at).filter(|_| done),
            finished_at: Some(finished_at).filter(|_| done),
            cancelled_at: Some(cancelled_at).filter(|_| status == JobStatus::Cancelled),
            vehicle: None,
            price: None,
        }
    }

    fn at(&self, day: NaiveDate, hour: u32) -> DateTime<Utc> {
        self.facts.shop.moment(day.and_hms_opt(hour, 0, 0).expect("an hour"))
    }

    /// Lives from the first day to the morning of `today`.
    fn live(&mut self, today: NaiveDate, measured: u32) {
        for product in 0..PRODUCTS {
            let shelf = &self.shelves[product];
            let containers = (8.0 * shelf.use_a_week / shelf.size).ceil() as u32;
            self.receive(self.at(first_day(), 7), product, containers, None);
        }
        let mut done = 0;
        for (number, day) in first_day().iter_days().take_while(|day| *day < today).enumerate() {
            self.take_deliveries(day);
            if day.weekday() == Weekday::Mon {
                self.count(day, number / 7);
                self.order(day);
            }
            while self.facts.jobs.get(done).is_some_and(|job| job.planned_on == day) {
                if self.facts.jobs[done].status == JobStatus::Done {
                    let measured = self.rng.random_range(0..100) < measured;
                    self.do_job(done, measured);
                }
                done += 1;
            }
        }
    }

    fn do_job(&mut self, place: usize, measured: bool) {
        let job = self.facts.jobs[place].clone();
        let shop = &self.facts.shop;
        let factor = shop.size_factor(job.size) * shop.condition_factor(job.condition);
        let factor: f64 = factor.try_into().expect("a number near one");
        for job_type in &job.job_types {
            let number = self.facts.job_types.iter().position(|t| t.id == *job_type);
            for (product, quantity) in self.sheet[number.expect("a job type")].clone() {
                let chance = self.rng.random_range(0.5..1.5);
                let taken = quantity * self.truth[product] * factor * chance;
                self.take(product, taken, &job);
                if measured {
                    let number = self.facts.pours.len();
                    self.facts.pours.push(Pour {
                        id: id("P", number),
                        at: self.at(job.planned_on, 14),
                        product: id("p", product),
                        amount: millilitres(taken),
                        job: Some(job.id.clone()),
                        ratio: None,
                        container: None,
                        method: Some(Method::Measured),
                    });
                }
            }
        }
    }

    /// Takes a quantity off the shelf, opening and throwing away as it must.
    fn take(&mut self, product: usize, quantity: f64, job: &Job) {
        let day = job.planned_on;
        let open_days = self.facts.products[product].open_days.unwrap_or(u32::MAX);
        let shelf = &mut self.shelves[product];
        let open_for = (day - shelf.opened_on).num_days();
        if shelf.open > 0.0 && open_for > i64::from(open_days) {
            shelf.open = 0.0;
            self.discard(product, day);
        }
        let mut missing = quantity;
        while self.shelves[product].open < missing {
            if self.shelves[product].sealed == 0 {
                // Fetched at a counter while the vehicle waits.
                self.receive(self.at(day, 10), product, 1, None);
            }
            let shelf = &mut self.shelves[product];
            missing -= shelf.open;
            shelf.sealed -= 1;
            (shelf.open, shelf.opened_on) = (shelf.size, day);
            if product.is_multiple_of(2) {
                self.open(product, day);
            }
        }
        self.shelves[product].open -= missing;
    }

    fn open(&mut self, product: usize, day: NaiveDate) {
        self.facts.openings.push(Opening {
            id: id("U", self.facts.openings.len()),
            at: self.at(day, 11),
            product: id("p", product),
            container: None,
        });
    }

    fn discard(&mut self, product: usize, day: NaiveDate) {
        self.facts.discards.push(Discard {
            id: id("D", self.facts.discards.len()),
            at: self.at(day, 9),
            product: id("p", product),
            amount: None,
            container: None,
            reason: Some(DiscardReason::Expired),
        });
    }

    fn receive(
        &mut self,
        at: DateTime<Utc>,
        product: usize,
        containers: u32,
        order: Option<(Id, Id)>,
    ) {
        let (order, supplier) = order.unzip();
        let number = self.facts.receipts.len();
        self.facts.receipts.push(Receipt {
            id: id("R", number),
            at,
            product: id("p", product),
            containers,
            unit_cost: Money::from_minor(1200 + (product as i64 % 40) * 75),
            supplier,
            lot: Some(format!("L{number}")),
            best_before: Some(at.date_naive() + Days::new(730)),
            order,
            container_size: None,
        });
        self.shelves[product].sealed += containers;
    }

    fn take_deliveries(&mut self, day: NaiveDate) {
        let (come, coming) =
            std::mem::take(&mut self.coming).into_iter().partition(|c| c.day == day);
        self.coming = coming;
        let come: Vec<Coming> = come;
        for delivery in come {
            let order = &mut self.facts.orders[delivery.order];
            order.status = Some(OrderStatus::Received);
            let from = (order.id.clone(), order.supplier.clone());
            for (product, containers) in delivery.lines {
                self.shelves[product].on_order -= containers;
                self.receive(self.at(day, 7), product, containers, Some(from.clone()));
            }
        }
    }

    fn count(&mut self, day: NaiveDate, week: usize) {
        for product in (0..PRODUCTS).filter(|p| (p + week).is_multiple_of(WEEKS_BETWEEN_COUNTS)) {
            let seen = self.shelves[product].total() * self.rng.random_range(0.95..1.05);
            self.facts.counts.push(Count {
                id: id("C", self.facts.counts.len()),
                at: self.at(day, 8),
                product: id("p", product),
                amount: Some(millilitres(seen)),
                gross_g: None,
                container: None,
                sealed: None,
                sd_share: None,
            });
        }
    }

    /// Whatever will not last three weeks is ordered for eight.
    fn order(&mut self, day: NaiveDate) {
        for supplier in 0..SUPPLIERS {
            let mut lines = Vec::new();
            for product in (supplier..PRODUCTS).step_by(SUPPLIERS) {
                let shelf = &mut self.shelves[product];
                let have = shelf.total() + f64::from(shelf.on_order) * shelf.size;
                if have < 3.0 * shelf.use_a_week {
                    let missing = 8.0 * shelf.use_a_week - have;
                    let containers = (missing / shelf.size).ceil() as u32;
                    shelf.on_order += containers;
                    lines.push((product, containers));
                }
            }
            if lines.is_empty() {
                continue;
            }
            let order = self.facts.orders.len();
            self.facts.orders.push(Order {
                id: id("O", order),
                placed_at: self.at(day, 9),
                supplier: id("s", supplier),
                status: Some(OrderStatus::Placed),
            });
            self.facts.order_lines.extend(lines.iter().map(|(product, packs)| OrderLine {
                order: id("O", order),
                product: id("p", *product),
                packs: *packs,
                supplier_code: None,
            }));
            let comes = day + Days::new(self.rng.random_range(2..=6));
            self.coming.push(Coming { order, day: comes, lines });
        }
    }
}
