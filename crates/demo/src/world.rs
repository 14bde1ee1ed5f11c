//! What the shop is set up with, and the hidden truth that it does not know.

use capful_domain::{
    Condition, Currency, Facts, Product, Quantity, Ratio, SheetRow, Shop, Unit, VehicleSize,
};
use chrono::{Datelike, NaiveDate};
use chrono_tz::America::Halifax;
use rand::RngExt;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::chance::{Rng, gamma, normal};
use crate::{known, products, services, suppliers};

/// Spread of the owner's guess around the truth, on the log scale: what all jobs of a product
/// share, and what is each pair's own.
const PRODUCT_SD: f64 = 0.25;
const PAIR_SD: f64 = 0.40;
/// Spread of one job around its mean (coefficient of variation).
const JOB_CV: f64 = 0.3;

/// One row of the usage sheet with what it truly is.
#[derive(Debug, Clone)]
pub struct Line {
    /// Place of the job type.
    pub service: usize,
    /// Place of the product.
    pub product: usize,
    /// What it is cut with.
    pub ratio: Ratio,
    /// What the owner expects of a job, zeros included, as product in ledger units.
    pub expected: f64,
    /// True mean when used, as written on the sheet (of the mix), in ledger units.
    mean: f64,
    /// True share of jobs that take any.
    share: f64,
}

/// The set-up, and what is true behind it.
#[derive(Debug, Clone)]
pub struct World {
    /// The shop as it starts: nothing has happened yet.
    pub facts: Facts,
    /// The usage sheet with the truth.
    pub lines: Vec<Line>,
    /// Minutes of work of each job type.
    pub minutes: Vec<u32>,
    size_power: Vec<f64>,
    condition_power: Vec<f64>,
}

impl World {
    /// Draws the truth behind the set-up, for a history that touches these years.
    pub fn new(years: std::ops::RangeInclusive<i32>, rng: &mut Rng) -> Self {
        let mut facts = Facts::new(shop(years));
        facts.products = products::products();
        facts.ratios = products::ratios();
        facts.suppliers = suppliers::suppliers();
        facts.offers = suppliers::offers();
        facts.job_types = services::job_types();
        facts.usage_sheet = services::usage_sheet(&facts.products);
        let bias: Vec<f64> = facts.products.iter().map(|_| off(rng, PRODUCT_SD)).collect();
        let size_power = facts.products.iter().map(|_| normal(rng, 1.0, 0.3)).collect();
        let condition_power = facts.products.iter().map(|_| normal(rng, 1.0, 0.35)).collect();
        let lines = facts.usage_sheet.iter().filter_map(|row| line(&facts, row, &bias, rng));
        let lines = lines.collect();
        Self { lines, facts, minutes: services::minutes(), size_power, condition_power }
    }

    /// The shop's settings.
    pub fn shop(&self) -> &Shop {
        &self.facts.shop
    }

    /// A product by its place.
    pub fn product(&self, place: usize) -> &Product {
        &self.facts.products[place]
    }

    /// The place of a job type.
    pub fn service(&self, id: &str) -> Option<usize> {
        self.facts.job_types.iter().position(|job_type| job_type.id.as_str() == id)
    }

    /// The place of a product.
    pub fn product_place(&self, id: &str) -> Option<usize> {
        self.facts.products.iter().position(|product| product.id.as_str() == id)
    }

    /// What one vehicle truly takes of one sheet row, as written there, in ledger units.
    pub fn draw_usage(
        &self,
        line: &Line,
        size: VehicleSize,
        condition: Condition,
        rng: &mut Rng,
    ) -> i64 {
        if !rng.random_bool(line.share) {
            return 0;
        }
        let factor = |number: Decimal| number.to_f64().unwrap_or(1.0);
        let size = factor(self.shop().size_factor(size));
        let condition = factor(self.shop().condition_factor(condition));
        let product = line.product;
        let mean = line.mean
            * size.powf(self.size_power[product])
            * condition.powf(self.condition_power[product]);
        let amount = gamma(rng, mean, JOB_CV);
        let step = step(self.product(product), line.ratio) as f64;
        // Pieces are whole: the part that is left over is a whole piece now and then.
        let jitter = if self.product(product).unit == Unit::Each { rng.random() } else { 0.5 };
        ((amount / step + jitter).floor() * step) as i64
    }
}

/// To what step people read a quantity of this off the bottle, in ledger units.
pub fn step(product: &Product, ratio: Ratio) -> i64 {
    let small = matches!(product.category.as_deref(), Some("coating" | "polish"));
    match product.unit {
        Unit::Each => 1000,
        Unit::M => 500_000,
        _ if !ratio.is_neat() => 10_000,
        _ if small && product.id.as_str() != "panel-wipe" => 100,
        _ if product.size() >= Quantity::from_ledger_units(2_000_000) => 5000,
        _ => 1000,
    }
}

/// Whether the shop mixes this product ahead in a spray bottle at this ratio.
pub fn mixed_ahead(product: &Product, ratio: Ratio) -> bool {
    let water = ratio.water();
    let at = |parts: i64| water == Decimal::from(parts);
    match product.id.as_str() {
        "apc" => at(10),
        "degreaser" => at(4),
        "clay-lube" => at(15),
        _ => false,
    }
}

/// How far the owner is off, on the log scale; nobody is off by more than 1.6 spreads for long.
fn off(rng: &mut Rng, sd: f64) -> f64 {
    normal(rng, 0.0, sd).clamp(-1.6 * sd, 1.6 * sd)
}

fn line(facts: &Facts, row: &SheetRow, bias: &[f64], rng: &mut Rng) -> Option<Line> {
    let service = facts.job_types.iter().position(|j| j.id == row.job_type)?;
    let place = facts.products.iter().position(|p| p.id == row.product)?;
    let product = &facts.products[place];
    let written = product.quantity(row.amount).ok()?.ledger_units() as f64;
    let as_bought = row.quantity(product).ok()?.ledger_units() as f64;
    let said = row.share_of_jobs.map_or(1.0, |share| share.to_f64().unwrap_or(1.0));
    let share = if said < 1.0 { (said + normal(rng, 0.0, 0.08)).clamp(0.03, 1.0) } else { 1.0 };
    Some(Line {
        service,
        product: place,
        ratio: row.ratio.unwrap_or(Ratio::NEAT),
        expected: as_bought * said,
        mean: written * (bias[place] + off(rng, PAIR_SD)).exp(),
        share,
    })
}

fn shop(years: std::ops::RangeInclusive<i32>) -> Shop {
    let cad = known(Currency::parse("CAD"));
    let mut shop = Shop::new("Two Gulls Detailing", Halifax, cad);
    for year in years {
        let days = [(1, 1), (7, 1), (12, 25), (12, 26)];
        let days = days.into_iter().filter_map(|(m, d)| NaiveDate::from_ymd_opt(year, m, d));
        shop.closed_days.extend(days);
    }
    shop
}

/// How a day of the year stands to the mean: spring and summer are busy.
pub fn season(day: NaiveDate) -> f64 {
    let turn = f64::from(day.ordinal0()) / 365.25 - 160.0 / 365.25;
    1.0 + 0.25 * (turn * std::f64::consts::TAU).cos()
}
