//! A shop of 300 products and 5,000 jobs: its pages are as light as those of a small one, and ask
//! the database as often as there.

#![allow(clippy::unwrap_used)]

mod common;

use std::time::Duration;

use capful_domain::facts::{Count, Order, OrderLine, OrderStatus, Receipt};
use capful_domain::{Amount, Facts, Id, Job, JobStatus, JobType, Offer, Product, SheetRow, Unit};
use capful_store::Role;
use chrono::{Days, NaiveDate, TimeDelta};
use common::people::Visitor;
use common::{TestShop, monday, two_gulls};

/// Most that goes over the wire for a page, in bytes: packed, as every browser asks for it.
const MOST_ON_THE_WIRE: usize = 100_000;
/// Most that a phone has to lay out of a page, in bytes.
const MOST_UNPACKED: usize = 300_000;

/// Jobs that are still to be done, however many were.
const BOOKED: usize = 40;

fn id(kind: &str, number: usize) -> Id {
    Id::parse(&format!("{kind}-{number}")).unwrap()
}

fn ml(number: i64) -> Amount {
    Amount { number: number.into(), unit: Unit::Ml }
}

/// A shop of so many products, of which each job type takes two, and jobs, with a year's orders.
fn shop_of(products: usize, jobs: usize) -> Facts {
    let own = two_gulls();
    let mut facts = Facts::new(own.shop.clone());
    facts.suppliers = own.suppliers.clone();
    let types = products / 2;
    for number in 0..products {
        set_up(&mut facts, &own, number);
    }
    for number in 0..types {
        let named = JobType { id: id("type", number), ..own.job_types[0].clone() };
        facts.job_types.push(JobType { name: format!("Service number {number}"), ..named });
    }
    for number in 0..jobs {
        facts.jobs.push(job(&own.jobs[0], number, types, jobs));
    }
    for number in 0..products / 10 {
        order(&mut facts, &own, number);
    }
    facts
}

fn set_up(facts: &mut Facts, own: &Facts, number: usize) {
    let product = id("product", number);
    let name = format!("A product with quite a long name, {number}");
    let new = Product::new(product.clone(), &name, ml(1000));
    let hazards = vec!["GHS07".to_owned(), "H315".to_owned(), "H319".to_owned()];
    facts.products.push(Product { hazards, open_days: Some(180), ..new });
    let code = Some(format!("ND-{number}"));
    facts.offers.push(Offer { product: product.clone(), code, ..own.offers[0].clone() });
    facts.usage_sheet.push(SheetRow {
        job_type: id("type", number / 2),
        product: product.clone(),
        amount: ml(50),
        ratio: None,
        ..own.usage_sheet[0].clone()
    });
    // Some 33 jobs take 50 mL each; every third product goes off soon.
    let soon = NaiveDate::from_ymd_opt(2026, 4, 1).filter(|_| number.is_multiple_of(3));
    facts.receipts.push(Receipt {
        id: id("receipt", number),
        at: monday() - TimeDelta::days(720),
        product: product.clone(),
        containers: 5,
        lot: Some(format!("LOT{number}")),
        best_before: soon,
        order: None,
        ..own.receipts[0].clone()
    });
    facts.counts.push(Count {
        id: id("count", number),
        at: monday() - TimeDelta::days(2),
        product,
        amount: Some(ml(400)),
        gross_g: None,
        container: None,
        sealed: Some(2),
        sd_share: None,
    });
}

fn job(like: &Job, number: usize, types: usize, all: usize) -> Job {
    let job_types = vec![id("type", number % types)];
    let vehicle = Some(format!("Tern {number:04}"));
    let like = Job { id: id("job", number), job_types, vehicle, ..like.clone() };
    let Some(ahead) = (number + BOOKED).checked_sub(all) else {
        // Spread over two years before.
        let back = TimeDelta::days(1 + (700 * number / all) as i64);
        let (finished, planned_on) = (monday() - back, (monday() - back).date_naive());
        let (started_at, finished_at) = (Some(finished - TimeDelta::hours(2)), Some(finished));
        let booked_at = finished - TimeDelta::days(9);
        return Job { booked_at, planned_on, started_at, finished_at, ..like };
    };
    let planned_on = monday().date_naive() + Days::new(ahead as u64 / 4);
    let (started_at, finished_at) = (None, None);
    Job { planned_on, started_at, finished_at, status: JobStatus::Booked, ..like }
}

fn order(facts: &mut Facts, own: &Facts, number: usize) {
    let order = id("order", number);
    let placed_at = monday() - TimeDelta::days(30 + number as i64);
    let status = Some(OrderStatus::Received);
    facts.orders.push(Order { id: order.clone(), placed_at, status, ..own.orders[0].clone() });
    for line in 0..10 {
        let product = id("product", number * 10 + line);
        let (order, supplier_code) = (order.clone(), None);
        facts.order_lines.push(OrderLine { order, product, packs: 1, supplier_code });
    }
}

const PAGES: [&str; 31] = [
    "/",
    "/jobs",
    "/jobs?all=1",
    "/jobs?all=1&vehicle=tern",
    "/jobs/new",
    "/jobs/job-7",
    "/jobs/job-7/record",
    "/usage",
    "/costs",
    "/trace/lots/LOT7",
    "/shelf",
    "/shelf?q=long+name",
    "/shelf/product-7",
    "/containers/receipt-7/5",
    "/count",
    "/labels",
    "/order",
    "/orders",
    "/orders/order-1",
    "/orders/order-1/print",
    "/going-off",
    "/more",
    "/setup",
    "/setup/products",
    "/setup/products/product-7",
    "/setup/suppliers/north-dock",
    "/setup/job-types",
    "/setup/job-types/type-1",
    "/setup/start",
    "/people",
    "/deeds",
];

/// A page's path, the statements that it asked, and its bytes packed and unpacked.
type Seen = (String, u64, usize, usize);

async fn looked_through(products: usize, jobs: usize) -> Vec<Seen> {
    let facts = shop_of(products, jobs);
    // It is not timed: what a busy machine takes long for is waited for.
    let time_limit = Duration::from_secs(600);
    let settings = capful_api::Settings { time_limit, ..capful_api::Settings::default() };
    let shop = TestShop::open_with(facts, settings).await;
    let owner = shop.signed_in(Role::Owner).await;
    let booked = format!("/jobs/job-{}", jobs - 1);
    let finish = format!("{booked}/finish");
    let mut seen = Vec::new();
    for path in PAGES.into_iter().chain([booked.as_str(), finish.as_str()]) {
        seen.push(look(&shop, &owner, path).await);
    }
    // A list that is long is gone through from stretch to stretch.
    let list = owner.sees("/going-off").await;
    assert!(list.contains("/going-off?from=50") || products <= 50);
    seen
}

/// Looks at a page once what is kept between requests is there.
async fn look(shop: &TestShop, owner: &Visitor, path: &str) -> Seen {
    let html = owner.sees(path).await;
    let before = shop.store.statements();
    let packed = owner.weighs(path).await;
    let asked = shop.store.statements() - before;
    (path.replace(char::is_numeric, "#"), asked, packed, html.len())
}

#[tokio::test]
async fn pages_of_300_products_and_5000_jobs_stay_light_and_ask_no_more() {
    let small = looked_through(30, 500).await;
    let large = looked_through(300, 5_000).await;
    let mut wrong = Vec::new();
    for (small, large) in small.iter().zip(&large) {
        let (path, asked, packed, unpacked) = large;
        println!("{path}: {} then {asked} statements, {packed} of {unpacked} bytes", small.1);
        assert!(*asked > 0, "{path} asks nothing");
        if *asked > small.1 {
            wrong.push(format!("{path}: {} statements, and {asked}", small.1));
        }
        if *packed > MOST_ON_THE_WIRE || *unpacked > MOST_UNPACKED {
            wrong.push(format!("{path}: {packed} bytes, {unpacked} unpacked"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
