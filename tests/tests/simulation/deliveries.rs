//! A shop with one supplier whose true lead times are known.

use capful_domain::catalog::{Offer, Supplier};
use capful_domain::facts::{Order, OrderLine};
use capful_domain::{Facts, Money};
use capful_forecast::plan::LeadDays;
use capful_forecast::{PlanSettings, plan};
use chrono::{Duration, NaiveDate};

use super::{at, decimal, empty_shop, id, later, product, receipt};

pub const SUPPLIER: &str = "north-dock";
pub const PRODUCT: &str = "soap";

pub fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 3, 2).unwrap()
}

/// A shop that has ordered nothing yet from a supplier that says "so many days, give or take".
pub fn shop(says_days: f64, sd: f64) -> Facts {
    let mut facts = empty_shop();
    facts.products.push(product(PRODUCT, 1000.0));
    facts.suppliers.push(Supplier {
        id: id(SUPPLIER),
        name: SUPPLIER.to_owned(),
        lead_days: decimal(says_days),
        lead_days_sd: Some(decimal(sd)),
        order_weekdays: Vec::new(),
        freight: Money::ZERO,
        free_freight_over: None,
        minimum_order: Money::ZERO,
    });
    facts.offers.push(Offer {
        supplier: id(SUPPLIER),
        product: id(PRODUCT),
        pack: 1,
        price: Money::from_minor(4600),
        code: None,
        minimum_packs: 1,
        preferred: true,
    });
    facts
}

/// An order placed in the morning so many days ago. It comes after `lead_days`; if that is later
/// than today, it is still out.
pub fn ordered(facts: &mut Facts, days_ago: i64, lead_days: f64) {
    let name = id(&format!("order-{}", facts.orders.len()));
    let placed_at = at(facts, later(today(), -days_ago), 10.0);
    facts.orders.push(Order { id: name.clone(), placed_at, supplier: id(SUPPLIER), status: None });
    facts.order_lines.push(OrderLine {
        order: name.clone(),
        product: id(PRODUCT),
        packs: 1,
        supplier_code: None,
    });
    let comes = placed_at + Duration::minutes((lead_days * 24.0 * 60.0).round() as i64);
    receipt(facts, comes, &id(PRODUCT), 1);
    facts.receipts.last_mut().unwrap().order = Some(name);
}

/// What the plan of today says of the lead time.
pub fn learned(facts: &Facts) -> LeadDays {
    let snapshot = capful_domain::Snapshot::of(facts, at(facts, today(), 12.0));
    let plan = plan(&snapshot, &PlanSettings { futures: 50 }, 1);
    plan.products[0].lead_days
}
