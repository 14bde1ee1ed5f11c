//! Pictures of hand-written plans: what stands where, and that each can be read.

#![allow(clippy::unwrap_used)]

use capful_domain::{Amount, Currency, Facts, Id, Product, Shop, Unit, UnitSystem};
use capful_forecast::plan::{
    AmountIn, Bands, CoverDays, Demand, LeadDays, ProductOutlook, UsageRow,
};
use capful_pictures::{Names, WIDTH, demand, usage};
use chrono::{Days, NaiveDate};

fn names(units: UnitSystem) -> Names {
    let currency = Currency::parse("CAD").unwrap();
    let mut facts = Facts::new(Shop::new("Two Gulls", chrono_tz::America::Halifax, currency));
    facts.shop.units = units;
    let size = Amount { number: 5.into(), unit: Unit::L };
    let mut product = Product::new(Id::parse("iron-remover").unwrap(), "Iron remover & co", size);
    product.unit = Unit::Ml;
    facts.products.push(product);
    Names::of(&facts)
}

fn ml(amount: f64) -> AmountIn {
    AmountIn { amount, unit: "mL" }
}

fn over(days: u64, middle: f64) -> Demand {
    let from: NaiveDate = "2026-03-02".parse().unwrap();
    let part = |share: f64| middle * share;
    Demand {
        from,
        to: from + Days::new(days),
        mean: middle,
        sd: part(0.3),
        p10: part(0.6),
        p50: middle,
        p90: part(1.4),
        p95: part(1.5),
        bands: Bands { p2_5: part(0.4), p25: part(0.8), p75: part(1.2), p97_5: part(1.6) },
    }
}

/// 4000 mL in four weeks, at most 6400 mL: the picture is that high.
fn outlook(on_hand: f64) -> ProductOutlook {
    ProductOutlook {
        product: "iron-remover".to_owned(),
        on_hand: ml(on_hand),
        on_order: ml(0.0),
        reorder_point: ml(2600.0),
        order_up_to: ml(6100.0),
        lead_days: LeadDays { mean: 4.2, p90: 7.0 },
        demand: over(14, 2000.0),
        cover_days: CoverDays { p10: 6, p50: 9, p90: 13 },
        cover_is_at_least: false,
        horizon_days: 42,
        past_use_by: ml(0.0),
        demand_ahead: vec![over(7, 1000.0), over(28, 4000.0)],
    }
}

fn row(sheet: f64) -> UsageRow {
    UsageRow {
        job_type: "one-step".to_owned(),
        product: "iron-remover".to_owned(),
        size: "medium",
        condition: 3,
        mean: 61.0,
        sd: 19.0,
        mean_p10: 55.0,
        mean_p90: 67.0,
        share_of_jobs: 1.0,
        sheet,
        jobs_seen: 34,
    }
}

/// Every size of text in a drawing.
fn text_sizes(svg: &str) -> Vec<f64> {
    let sizes = svg.split("font-size=\"").skip(1).filter_map(|rest| rest.split('"').next());
    sizes.map(|size| size.parse().unwrap()).collect()
}

#[test]
fn a_fan_says_what_it_shows() {
    let svg = demand(&outlook(1200.0), &names(UnitSystem::Metric));
    for there in [
        "<title id=\"title\">Iron remover &amp; co: what jobs will take</title>",
        "Until Sunday 29 March jobs take 4 L in the middle",
        "half of all futures lie between 3.2 L and 4.8 L",
        "reorder at 2.6 L",
        "on hand 1.2 L",
        "Mon 2 Mar",
        "16 Mar",
        "30 Mar",
        "4 L\n",
    ] {
        assert!(svg.contains(there), "{there}: {svg}");
    }
}

/// The drawing stands from 60 (6400 mL) to 258 (nothing): 1600 mL, a quarter, is at 208.5.
#[test]
fn a_stock_stands_at_its_height() {
    let svg = demand(&outlook(1600.0), &names(UnitSystem::Metric));
    let line = svg.lines().find(|line| line.contains("stroke-width=\"3\"")).unwrap();
    assert!(line.contains("62,209 376,209"), "{line}");
}

#[test]
fn a_stock_far_above_the_fan_leaves_it_readable() {
    let svg = demand(&outlook(90_000.0), &names(UnitSystem::Metric));
    assert!(svg.contains("on hand 90 L, far above"), "{svg}");
    assert!(!svg.contains("80 L\n"));
}

#[test]
fn us_shops_read_us_units() {
    // A US gallon is 3785.411784 mL (NIST Handbook 44).
    let svg = demand(&outlook(3_785.411_784), &names(UnitSystem::Us));
    assert!(svg.contains("on hand 1 gal") && !svg.contains(" mL"), "{svg}");
}

/// The scale goes from a third of the sheet (158) to three times as much (314): 61 of 61 is in the
/// middle, three times less than 183 at the left end.
#[test]
fn usage_stands_beside_its_sheet() {
    let dot = |sheet: f64| {
        let svg = usage(&[row(sheet)], "one-step", &names(UnitSystem::Metric));
        let line = svg.lines().find(|line| line.starts_with("<circle")).unwrap().to_owned();
        assert!(svg.contains("61 mL on average, known to between 55 mL and 67 mL"), "{svg}");
        line
    };
    assert!(dot(61.0).contains("cx=\"236\""), "{}", dot(61.0));
    assert!(dot(183.0).contains("cx=\"158\""), "{}", dot(183.0));
    let none = usage(&[row(0.0)], "one-step", &names(UnitSystem::Metric));
    assert!(none.contains("Its usage sheet lists nothing."));
}

#[test]
fn text_is_large_enough_on_a_phone_and_the_file_is_small() {
    let rows: Vec<UsageRow> = (0..30).map(|_| row(75.0)).collect();
    let names = names(UnitSystem::Metric);
    for svg in [demand(&outlook(1200.0), &names), usage(&rows, "one-step", &names)] {
        let sizes = text_sizes(&svg);
        assert!(sizes.len() > 8 && sizes.iter().all(|size| *size >= 12.0), "{sizes:?}");
        assert!(svg.contains(&format!("width=\"{WIDTH}\"")));
        assert!(svg.len() < 40_000, "{}", svg.len());
    }
}
