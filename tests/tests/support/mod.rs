//! A shop to tell stories with: each call is a row that somebody wrote down, at a local time.
//!
//! Rows are named by their kind and place: the second receipt is `r2` and brings `r2/1`, `r2/2`, …

#![allow(dead_code, clippy::unwrap_used, clippy::expect_used, missing_docs)]

use capful_domain::catalog::{JobType, NamedRatio, Offer, Product, SheetRow, Supplier};
use capful_domain::facts::{Count, Discard, Mix, Opening, Order, OrderLine, Pour, Receipt};
use capful_domain::*;
use capful_forecast::plan::{JobReadiness, OrderLine as Line, ProductOutlook, UsageRow};
use capful_forecast::sums::{Sign, Summand};
use capful_forecast::{Plan, PlanSettings};
use chrono::{DateTime, NaiveDate, NaiveDateTime, Utc};
use chrono_tz::America::Halifax;
use rust_decimal::Decimal;

/// The moment that plans are asked for: a Monday, the weekly order day, before work.
pub const NOW: &str = "2026-03-02T07:00";

pub fn id(text: &str) -> Id {
    Id::parse(text).unwrap()
}

pub fn dec(text: &str) -> Decimal {
    text.parse().unwrap()
}

/// `"600 mL"`, `"4 fl oz"`.
pub fn amount(text: &str) -> Amount {
    let (number, unit) = text.split_once(' ').unwrap();
    Amount { number: dec(number), unit: Unit::parse(unit).unwrap() }
}

/// `"5:1"`.
pub fn ratio(text: &str) -> Ratio {
    Ratio::from_water(dec(text.strip_suffix(":1").unwrap())).unwrap()
}

pub fn day(text: &str) -> NaiveDate {
    text.parse().unwrap()
}

/// Cents.
pub fn cents(minor: i64) -> Money {
    Money::from_minor(minor)
}

#[derive(Debug, Clone)]
pub struct TestShop {
    pub facts: Facts,
    pub seed: u64,
    pub futures: u32,
}

impl TestShop {
    /// A shop with nothing in it.
    pub fn new() -> Self {
        let shop = Shop::new("Two Gulls Detailing", Halifax, Currency::parse("CAD").unwrap());
        Self { facts: Facts::new(shop), seed: 1, futures: 400 }
    }

    /// One product, `soap` in bottles of 1000 mL; one service, `wash`, that takes 100 mL of it; one
    /// supplier, `north`, three days away, 20.00 a bottle and 8.00 a delivery.
    pub fn with_soap() -> Self {
        let mut shop = Self::new();
        shop.product("soap", "1000 mL");
        shop.job_type("wash");
        shop.sheet("wash", "soap", "100 mL").log_sd = Some(dec("0.2"));
        shop.supplier("north", "3").freight = cents(800);
        shop.offer("north", "soap", 2000);
        shop
    }

    /// [`TestShop::with_soap`] after thirteen weeks of a wash every Monday, Wednesday and Friday,
    /// from 1 December 2025 to 27 February 2026, all measured: 95 mL and 105 mL in turn. Twenty
    /// bottles came before; what is left was thrown away on 28 February, so that the shelf is bare.
    pub fn busy() -> Self {
        let mut shop = Self::with_soap();
        shop.receipt("2025-11-28", "soap", 20);
        let mut date = day("2025-12-01");
        for visit in 0..39 {
            let number = shop.done("wash", &date.to_string());
            let poured = if visit % 2 == 0 { "95 mL" } else { "105 mL" };
            shop.pour(&format!("{date}T11:00"), "soap", poured).job = Some(number);
            date = date + chrono::Days::new(if visit % 3 == 2 { 3 } else { 2 });
        }
        shop.count("2026-02-28", "soap", "0 mL");
        shop
    }

    /// [`TestShop::busy`] with so much soap on the shelf, counted to the drop, and a wash booked
    /// for today, Wednesday and Friday.
    pub fn busy_with(left: &str) -> Self {
        let mut shop = Self::busy();
        shop.on_shelf(left);
        for date in ["2026-03-02", "2026-03-04", "2026-03-06"] {
            shop.booked("wash", date);
        }
        shop
    }

    /// So much soap in one bottle that came and was opened on the last day of February.
    pub fn on_shelf(&mut self, left: &str) -> &mut Receipt {
        self.count("2026-02-28T15:00", "soap", left).sd_share = Some(dec("0"));
        let place = self.facts.receipts.len();
        self.receipt("2026-02-28T13:00", "soap", 1).container_size = Some(amount(left).number);
        &mut self.facts.receipts[place]
    }

    /// A local time: `2026-03-02T09:00`, or a day's noon.
    pub fn at(&self, when: &str) -> DateTime<Utc> {
        let full = if when.contains('T') { when.to_owned() } else { format!("{when}T12:00") };
        let local = NaiveDateTime::parse_from_str(&full, "%Y-%m-%dT%H:%M").unwrap();
        self.facts.shop.moment(local)
    }

    // ---- what the shop is

    pub fn product(&mut self, name: &str, size: &str) -> &mut Product {
        self.facts.products.push(Product::new(id(name), name, amount(size)));
        self.facts.products.last_mut().unwrap()
    }

    /// The first product.
    pub fn soap(&mut self) -> &mut Product {
        &mut self.facts.products[0]
    }

    pub fn ratio(&mut self, product: &str, water: &str) {
        let named = NamedRatio { product: id(product), label: "usual".into(), ratio: ratio(water) };
        self.facts.ratios.push(named);
    }

    pub fn supplier(&mut self, name: &str, lead_days: &str) -> &mut Supplier {
        self.facts.suppliers.push(Supplier {
            id: id(name),
            name: name.to_owned(),
            lead_days: dec(lead_days),
            lead_days_sd: Some(dec("0.3")),
            order_weekdays: Vec::new(),
            freight: Money::ZERO,
            free_freight_over: None,
            minimum_order: Money::ZERO,
        });
        self.facts.suppliers.last_mut().unwrap()
    }

    /// Single containers at a price in cents.
    pub fn offer(&mut self, supplier: &str, product: &str, price: i64) -> &mut Offer {
        self.facts.offers.push(Offer {
            supplier: id(supplier),
            product: id(product),
            pack: 1,
            price: cents(price),
            code: None,
            minimum_packs: 1,
            preferred: false,
        });
        self.facts.offers.last_mut().unwrap()
    }

    pub fn job_type(&mut self, name: &str) -> &mut JobType {
        let (id, name) = (id(name), name.to_owned());
        self.facts.job_types.push(JobType {
            id,
            name,
            price: None,
            stall_cost: None,
            comes_back: None,
        });
        self.facts.job_types.last_mut().unwrap()
    }

    pub fn sheet(&mut self, job_type: &str, product: &str, takes: &str) -> &mut SheetRow {
        self.facts.usage_sheet.push(SheetRow {
            job_type: id(job_type),
            product: id(product),
            amount: amount(takes),
            ratio: None,
            share_of_jobs: None,
            log_sd: None,
        });
        self.facts.usage_sheet.last_mut().unwrap()
    }

    // ---- what happened

    /// A medium vehicle in condition 3, booked a week ahead; those of the weeks after [`NOW`] were
    /// booked on the Friday before it.
    pub fn booked(&mut self, job_type: &str, planned_on: &str) -> &mut Job {
        let number = self.facts.jobs.len() + 1;
        let date = day(planned_on);
        let friday = day("2026-02-27");
        let ahead = date - chrono::Days::new(7);
        let booked_on = if ahead < day("2026-04-01") { ahead.min(friday) } else { ahead };
        self.facts.jobs.push(Job {
            id: id(&format!("j{number}")),
            booked_at: self.at(&format!("{booked_on}T09:00")),
            planned_on: date,
            status: JobStatus::Booked,
            job_types: vec![id(job_type)],
            size: VehicleSize::Medium,
            condition: Condition::REFERENCE,
            started_at: None,
            finished_at: None,
            cancelled_at: None,
            vehicle: None,
            price: None,
        });
        self.facts.jobs.last_mut().unwrap()
    }

    /// The same, done from 9 to 12; gives its id.
    pub fn done(&mut self, job_type: &str, on: &str) -> Id {
        let (began, ended) = (self.at(&format!("{on}T09:00")), self.at(&format!("{on}T12:00")));
        let job = self.booked(job_type, on);
        job.status = JobStatus::Done;
        (job.started_at, job.finished_at) = (Some(began), Some(ended));
        job.id.clone()
    }

    /// The last job written down.
    pub fn last_job(&mut self) -> &mut Job {
        self.facts.jobs.last_mut().unwrap()
    }

    pub fn job(&mut self, name: &str) -> &mut Job {
        self.facts.jobs.iter_mut().find(|job| job.id == id(name)).unwrap()
    }

    pub fn receipt(&mut self, when: &str, product: &str, containers: u32) -> &mut Receipt {
        let row = Receipt {
            id: id(&format!("r{}", self.facts.receipts.len() + 1)),
            at: self.at(when),
            product: id(product),
            containers,
            unit_cost: cents(2000),
            supplier: None,
            lot: None,
            best_before: None,
            order: None,
            container_size: None,
        };
        self.facts.receipts.push(row);
        self.facts.receipts.last_mut().unwrap()
    }

    pub fn pour(&mut self, when: &str, product: &str, poured: &str) -> &mut Pour {
        let row = Pour {
            id: id(&format!("p{}", self.facts.pours.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: amount(poured),
            job: None,
            ratio: None,
            container: None,
            method: None,
        };
        self.facts.pours.push(row);
        self.facts.pours.last_mut().unwrap()
    }

    pub fn mix(&mut self, when: &str, product: &str, mixed: &str, water: &str) -> &mut Mix {
        let row = Mix {
            id: id(&format!("m{}", self.facts.mixes.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: amount(mixed),
            ratio: ratio(water),
            container: None,
        };
        self.facts.mixes.push(row);
        self.facts.mixes.last_mut().unwrap()
    }

    pub fn open(&mut self, when: &str, product: &str) -> &mut Opening {
        let row = Opening {
            id: id(&format!("o{}", self.facts.openings.len() + 1)),
            at: self.at(when),
            product: id(product),
            container: None,
        };
        self.facts.openings.push(row);
        self.facts.openings.last_mut().unwrap()
    }

    /// The whole container, unless an amount is set.
    pub fn discard(&mut self, when: &str, product: &str) -> &mut Discard {
        let row = Discard {
            id: id(&format!("d{}", self.facts.discards.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: None,
            container: None,
            reason: None,
        };
        self.facts.discards.push(row);
        self.facts.discards.last_mut().unwrap()
    }

    /// The whole product.
    pub fn count(&mut self, when: &str, product: &str, seen: &str) -> &mut Count {
        let row = Count {
            id: id(&format!("c{}", self.facts.counts.len() + 1)),
            at: self.at(when),
            product: id(product),
            amount: Some(amount(seen)),
            gross_g: None,
            container: None,
            sealed: None,
            sd_share: None,
        };
        self.facts.counts.push(row);
        self.facts.counts.last_mut().unwrap()
    }

    /// An order of one product; gives its id.
    pub fn order(&mut self, when: &str, supplier: &str, product: &str, packs: u32) -> Id {
        let order = id(&format!("po{}", self.facts.orders.len() + 1));
        let placed_at = self.at(when);
        let (supplier, product) = (id(supplier), id(product));
        self.facts.orders.push(Order { id: order.clone(), placed_at, supplier, status: None });
        let line = OrderLine { order: order.clone(), product, packs, supplier_code: None };
        self.facts.order_lines.push(line);
        order
    }

    // ---- what is advised

    pub fn plan(&self) -> Plan {
        self.plan_at(NOW)
    }

    pub fn plan_at(&self, when: &str) -> Plan {
        let snapshot = Snapshot::of(&self.facts, self.at(when));
        let plan = capful_forecast::plan(&snapshot, &self.settings(), self.seed);
        check(&self.facts, &plan);
        plan
    }

    pub fn settings(&self) -> PlanSettings {
        PlanSettings { futures: self.futures }
    }

    pub fn json_at(&self, when: &str) -> String {
        serde_json::to_string_pretty(&self.plan_at(when)).unwrap()
    }
}

// ---- looking things up in a plan

pub fn outlook<'p>(plan: &'p Plan, product: &str) -> &'p ProductOutlook {
    plan.products.iter().find(|row| row.product == product).unwrap()
}

pub fn on_hand(plan: &Plan, product: &str) -> f64 {
    outlook(plan, product).on_hand.amount
}

pub fn line<'p>(plan: &'p Plan, product: &str) -> Option<&'p Line> {
    let mut lines = plan.weekly_order.orders.iter().flat_map(|order| &order.lines);
    lines.find(|line| line.product == product)
}

pub fn packs(plan: &Plan, product: &str) -> u32 {
    line(plan, product).map_or(0, |line| line.packs)
}

pub fn readiness<'p>(plan: &'p Plan, job: &Id) -> &'p JobReadiness {
    plan.readiness.iter().find(|row| row.job == job.as_str()).unwrap()
}

pub fn ready(plan: &Plan, job: &Id) -> f64 {
    readiness(plan, job).ready_chance
}

pub fn warned<'p>(plan: &'p Plan, code: &str) -> Option<&'p str> {
    plan.warnings.iter().find(|w| w.code == code).map(|w| w.text.as_str())
}

pub fn usage<'p>(plan: &'p Plan, pair: (&str, &str), size: &str, condition: u8) -> &'p UsageRow {
    let own = |row: &&UsageRow| row.job_type == pair.0 && row.product == pair.1;
    let at = |row: &&UsageRow| row.size == size && row.condition == condition;
    plan.usage.iter().filter(own).find(at).unwrap()
}

// ---- what holds of every plan

/// What holds of every plan, whatever the shop.
pub fn check(facts: &Facts, plan: &Plan) {
    check_orders(facts, plan);
    for row in &plan.products {
        assert!(row.order_up_to.amount >= row.reorder_point.amount, "{row:?}");
        assert!(row.on_hand.amount >= 0.0 && row.on_order.amount >= 0.0, "{row:?}");
        let d = &row.demand;
        let rising = [0.0, d.bands.p2_5, d.p10, d.bands.p25, d.p50, d.bands.p75, d.p90, d.p95];
        assert!(rising.is_sorted() && d.p95 <= d.bands.p97_5, "{d:?}");
        let cover = row.cover_days;
        assert!([cover.p10, cover.p50, cover.p90].is_sorted(), "{cover:?}");
    }
    for row in &plan.readiness {
        assert!((0.0..=1.0).contains(&row.ready_chance), "{row:?}");
        for short in &row.short_of {
            assert!((0.0..=1.0).contains(&short.chance) && short.missing.amount >= 0.0, "{row:?}");
        }
        check_lacks(row);
        for out in &row.set_out {
            assert!(out.expect.amount <= out.up_to.amount + 1e-9, "{row:?}");
        }
    }
    for row in &plan.going_off {
        assert!(row.expected_waste.amount <= row.left.amount + 0.001, "{row:?}");
        assert_eq!(row.days_left, (row.use_by - plan.as_of).num_days());
    }
    for row in &plan.usage {
        assert!(row.mean_p10 <= row.mean && row.mean <= row.mean_p90, "{row:?}");
        assert!((0.0..=1.0).contains(&row.share_of_jobs), "{row:?}");
    }
}

fn check_orders(facts: &Facts, plan: &Plan) {
    let currency = facts.shop.currency;
    let mut sum = Decimal::ZERO;
    for order in &plan.weekly_order.orders {
        let supplier = facts.suppliers.iter().find(|s| s.id.as_str() == order.supplier).unwrap();
        assert!(!order.lines.is_empty());
        let goods: Decimal = order.lines.iter().map(|line| line.cost).sum();
        assert_eq!(order.goods, goods);
        assert!(goods >= supplier.minimum_order.to_decimal(currency), "{order:?}");
        let over = supplier.free_freight_over.map(|over| over.to_decimal(currency));
        let free = over.is_some_and(|over| goods >= over);
        let freight = if free { Money::ZERO } else { supplier.freight };
        assert_eq!(order.freight, freight.to_decimal(currency));
        assert_eq!(order.total, goods + order.freight);
        assert!(order.arrives.p50 <= order.arrives.p90 && plan.as_of <= order.place_by);
        for line in &order.lines {
            check_line(facts, &order.supplier, line);
        }
        sum += order.total;
    }
    assert_eq!(plan.weekly_order.total, sum);
    if let Some(budget) = facts.shop.budget {
        assert!(sum <= budget.to_decimal(currency), "{sum} is more than the budget");
    }
}

fn check_line(facts: &Facts, supplier: &str, line: &Line) {
    let currency = facts.shop.currency;
    let fits = |offer: &&Offer| {
        offer.supplier.as_str() == supplier
            && offer.product.as_str() == line.product
            && line.packs >= offer.minimum_packs
            && line.containers == line.packs * offer.pack
            && line.cost == offer.price.times(line.packs.into()).to_decimal(currency)
    };
    assert!(facts.offers.iter().any(|offer| fits(&offer)), "no such offer: {line:?}");
    assert!(line.packs > 0);
    assert!(line.stall_chance_with <= line.stall_chance_without + 1e-9, "{line:?}");
    let parts = &line.parts;
    add_up(&parts.sum());
    let never_negative = [parts.booked, parts.not_booked, parts.safety, parts.to_last];
    let never_negative = never_negative.iter().chain([&parts.goes_off, &parts.bought]);
    assert!(never_negative.into_iter().all(|part| part.amount >= 0.0), "{parts:?}");
    assert!(parts.from <= parts.to && parts.to <= parts.late_to, "{parts:?}");
    assert!(parts.to <= parts.up_to_day, "{parts:?}");
}

/// The parts of a sum come to what it says, as they are printed, to the thousandth.
pub fn add_up(sum: &[Summand]) {
    let thousandths = |amount: f64| (amount * 1000.0).round() as i64;
    let mut running = 0;
    for row in sum {
        match row.sign {
            Sign::Plus => running += thousandths(row.amount.amount),
            Sign::Minus => running -= thousandths(row.amount.amount),
            Sign::Is => assert_eq!(running, thousandths(row.amount.amount), "{row:?} of {sum:?}"),
        }
    }
    assert!(sum.last().is_some_and(|row| row.sign == Sign::Is), "{sum:?}");
}

/// What a job may lack adds up: each product's parts, and the products' parts of its chance.
fn check_lacks(row: &JobReadiness) {
    let ten_thousandths = |chance: f64| (chance * 10_000.0).round() as i64;
    let shares = row.short_of.iter().map(|short| short.not_ready);
    let all: i64 = shares.chain([row.not_ready_others]).map(ten_thousandths).sum();
    assert_eq!(all, ten_thousandths(1.0 - row.ready_chance), "{row:?}");
    for short in &row.short_of {
        let most = ten_thousandths(short.chance) + 1;
        assert!((0..=most).contains(&ten_thousandths(short.not_ready)), "{row:?}");
        let parts = &short.parts;
        add_up(&parts.sum());
        let gone = [parts.booked, parts.not_booked, parts.goes_off, parts.other_ratio];
        let never_negative = gone.iter().chain([&parts.on_hand, &parts.takes, &parts.swing]);
        assert!(never_negative.into_iter().all(|part| part.amount >= 0.0), "{row:?}");
        for line in &parts.coming {
            let average = line.chance * line.holds.amount;
            assert!((line.average.amount - average).abs() <= 1e-4 * line.holds.amount + 0.001);
        }
    }
}
