//! The shop in numbers: products, job types and pairs by place, quantities as floats of the base
//! unit (mL, g, mm, piece), money as floats of the currency.

use std::collections::HashMap;

use capful_domain::facts::Facts;
use capful_domain::{Id, Job, Quantity, Ratio, Unit};
use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

/// A decimal as a float.
pub(crate) fn float(number: Decimal) -> f64 {
    number.to_f64().unwrap_or(0.0)
}

/// A quantity as a float of its base unit.
#[allow(clippy::cast_precision_loss)] // 2^53 thousandths is past any shelf
pub(crate) fn base(quantity: Quantity) -> f64 {
    quantity.ledger_units() as f64 / 1000.0
}

/// A float of the base unit as an exact quantity.
#[allow(clippy::cast_possible_truncation)] // saturates past the ledger's range
pub(crate) fn exact(base: f64) -> Quantity {
    Quantity::from_ledger_units((base * 1000.0).round() as i64)
}

/// A product by its place.
#[derive(Debug, Clone)]
pub(crate) struct ProductAt {
    pub id: Id,
    pub name: String,
    pub unit: Unit,
    /// Base units in one `unit`.
    pub unit_base: f64,
    /// What a full container holds.
    pub size: f64,
    pub shelf_days: Option<i32>,
    pub open_days: Option<i32>,
    /// Places of the products that serve in its place, best first.
    pub substitutes: Vec<usize>,
}

/// One job type's use of one product.
#[derive(Debug, Clone)]
pub(crate) struct Pair {
    pub product: usize,
    pub job_type: usize,
    /// What a job that uses it takes at medium size and condition 3, by the sheet; where the pair
    /// is not on the sheet, the mean of what was measured.
    pub centre: f64,
    /// How often it is used at all, by the sheet.
    pub share: f64,
    /// How sure that is.
    pub log_sd: f64,
    pub ratio: Ratio,
    pub on_sheet: bool,
    /// Where only pours have shown it: when the first of them was.
    pub shown_at: Option<DateTime<Utc>>,
}

/// The shop in numbers.
#[derive(Debug, Clone)]
pub(crate) struct Index {
    pub products: Vec<ProductAt>,
    pub job_types: Vec<Id>,
    pub pairs: Vec<Pair>,
    /// Pairs of each job type.
    pub pairs_of_type: Vec<Vec<usize>>,
    /// Pairs of each product.
    pub pairs_of_product: Vec<Vec<usize>>,
    /// ln of the shop's factor of each size and grade.
    pub ln_size: [f64; 4],
    pub ln_condition: [f64; 5],
    product_places: HashMap<Id, usize>,
    type_places: HashMap<Id, usize>,
}

/// One unit of work on one product: a job type of a job, at its size and condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct UnitOfWork {
    pub pair: usize,
    pub ln_size: f64,
    pub ln_condition: f64,
}

const DEFAULT_LOG_SD: f64 = 0.5;
/// How sure a guess is that only a few measured pours stand behind.
const UNLISTED_LOG_SD: f64 = 0.8;

impl Index {
    pub fn of(facts: &Facts) -> Self {
        let places = |ids: Vec<&Id>| -> HashMap<Id, usize> {
            ids.into_iter().enumerate().map(|(place, id)| (id.clone(), place)).collect()
        };
        let product_places = places(facts.products.iter().map(|p| &p.id).collect());
        let type_places = places(facts.job_types.iter().map(|t| &t.id).collect());
        let products = facts.products.iter().map(|p| product_at(p, &product_places)).collect();
        let ln = |factor: Decimal| float(factor).max(1e-6).ln();
        let mut index = Self {
            products,
            job_types: facts.job_types.iter().map(|t| t.id.clone()).collect(),
            pairs: Vec::new(),
            pairs_of_type: vec![Vec::new(); facts.job_types.len()],
            pairs_of_product: vec![Vec::new(); facts.products.len()],
            ln_size: facts.shop.size_factors.map(ln),
            ln_condition: facts.shop.condition_factors.map(ln),
            product_places,
            type_places,
        };
        index.take_sheet(facts);
        index
    }

    pub fn product_place(&self, id: &Id) -> Option<usize> {
        self.product_places.get(id).copied()
    }

    pub fn type_place(&self, id: &Id) -> Option<usize> {
        self.type_places.get(id).copied()
    }

    pub fn pair_place(&self, product: usize, job_type: usize) -> Option<usize> {
        let own = self.pairs_of_type.get(job_type)?;
        own.iter().copied().find(|pair| self.pairs[*pair].product == product)
    }

    fn take_sheet(&mut self, facts: &Facts) {
        for row in &facts.usage_sheet {
            let (Some(product), Some(job_type)) =
                (self.product_place(&row.product), self.type_place(&row.job_type))
            else {
                continue;
            };
            let Ok(quantity) = row.quantity(&facts.products[product]) else { continue };
            let share = row.share_of_jobs.map_or(1.0, float).clamp(0.0, 1.0);
            let centre = base(quantity);
            match self.pair_place(product, job_type) {
                // The same pair at two ratios is one pair that takes both.
                Some(pair) => {
                    let pair = &mut self.pairs[pair];
                    let mean = pair.centre * pair.share + centre * share;
                    pair.share = pair.share.max(share);
                    pair.centre = mean / pair.share.max(1e-9);
                }
                None => self.add_pair(Pair {
                    product,
                    job_type,
                    centre,
                    share,
                    log_sd: row.log_sd.map_or(DEFAULT_LOG_SD, float).max(0.01),
                    ratio: row.ratio.unwrap_or(Ratio::NEAT),
                    on_sheet: true,
                    shown_at: None,
                }),
            }
        }
    }

    /// Adds a pair that the sheet does not list, or lists with nothing, but pours have shown.
    pub fn add_unlisted(
        &mut self,
        product: usize,
        job_type: usize,
        (mean, share): (f64, f64),
        shown_at: DateTime<Utc>,
    ) {
        let pair = Pair {
            product,
            job_type,
            centre: mean,
            share,
            log_sd: UNLISTED_LOG_SD,
            ratio: Ratio::NEAT,
            on_sheet: false,
            shown_at: Some(shown_at),
        };
        match self.pair_place(product, job_type) {
            Some(place) => self.pairs[place] = pair,
            None => self.add_pair(pair),
        }
    }

    fn add_pair(&mut self, pair: Pair) {
        let place = self.pairs.len();
        self.pairs_of_type[pair.job_type].push(place);
        self.pairs_of_product[pair.product].push(place);
        self.pairs.push(pair);
    }

    /// A job's units of work, each of its job types on each product of its sheet.
    pub fn units_of(&self, job: &Job) -> Vec<UnitOfWork> {
        let ln_size = self.ln_size[job.size.index()];
        let ln_condition = self.ln_condition[job.condition.index()];
        let types = job.job_types.iter().filter_map(|id| self.type_place(id));
        types
            .flat_map(|t| self.pairs_of_type[t].iter())
            .filter(|pair| self.pairs[**pair].centre > 0.0)
            .map(|pair| UnitOfWork { pair: *pair, ln_size, ln_condition })
            .collect()
    }
}

fn product_at(product: &capful_domain::Product, places: &HashMap<Id, usize>) -> ProductAt {
    let days = |days: Option<u32>| days.and_then(|d| i32::try_from(d).ok());
    ProductAt {
        id: product.id.clone(),
        name: product.name.clone(),
        unit: product.unit,
        unit_base: float(product.unit.ledger_units()) / 1000.0,
        size: base(product.size()).max(1e-6),
        shelf_days: days(product.shelf_days),
        open_days: days(product.open_days),
        substitutes: product.substitutes.iter().filter_map(|id| places.get(id).copied()).collect(),
    }
}
