//! Everything that the plan's parts share: shelves, what comes, suppliers, futures, levels.

use capful_domain::Ratio;
use rayon::prelude::*;

use crate::inventory::{ProtectionDemand, Service};
use crate::learn::index::{Index, float};
use crate::learn::lead_time::LeadTime;
use crate::plan::AmountIn;
use crate::simulate::order_cost::ratios;
use crate::simulate::scenarios::{ModelInputs, Scenarios, draw_effects, today_left};
use crate::simulate::shelf::{ProductShelf, unit_price};
use crate::simulate::stock_uncertainty::StockUncertainty;
use crate::simulate::supply::Supply;
use crate::simulate::walk::{Arrival, Rules};
use crate::statistics::{mean_sd, rounded};

const FEWEST_DAYS: i32 = 42;
const MOST_DAYS: i32 = 150;

/// A product's order levels and what they are made of, in base units.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Levels {
    pub reorder_point: f64,
    pub order_up_to: f64,
    /// Days ahead that the order after this one is usually there.
    pub end: i32,
    /// Days beyond it that the order-up-to level looks at.
    pub more: i32,
    /// What booked jobs, and those not booked yet, take on average before `end`.
    pub booked: f64,
    pub not_booked: f64,
    /// How much above that to be ready for, if it comes on `end`. What is left to the reorder
    /// point is what it changes that it may come earlier or later.
    pub safety: f64,
}

/// What the plan's parts share.
#[derive(Debug)]
pub(crate) struct Stock {
    pub leads: Vec<LeadTime>,
    pub supplies: Vec<Supply>,
    pub shelves: Vec<ProductShelf>,
    pub futures: Scenarios,
    /// What comes of each product, by future.
    pub coming: Vec<Vec<Vec<Arrival>>>,
    /// What a product's substitutes can spare, by future.
    pub spare: Vec<Vec<f64>>,
    pub ratios: Vec<Ratio>,
    /// What the books of each product are off by, by future.
    pub books_off: Vec<Vec<f64>>,
    /// Usual use of each product, base units a day.
    pub daily_use: Vec<f64>,
    pub levels: Vec<Levels>,
    /// For each product the supplier that it is usually bought from.
    pub supplier_of: Vec<Option<usize>>,
}

impl Stock {
    /// Draws the futures and works out what the parts share.
    pub fn of(
        inputs: &ModelInputs<'_>,
        leads: Vec<LeadTime>,
        uncertainties: &[StockUncertainty],
        count: usize,
    ) -> Self {
        let (snapshot, index) = (inputs.snapshot, inputs.index);
        let products: Vec<usize> = (0..index.products.len()).collect();
        let shelves: Vec<ProductShelf> =
            products.par_iter().map(|p| ProductShelf::of(inputs, &leads, *p)).collect();
        let daily_use = inputs.arrivals.daily_use(snapshot, index, inputs.usage);
        let supplier_of: Vec<Option<usize>> =
            products.iter().map(|p| usual_supplier(inputs, *p)).collect();
        let supplies: Vec<Supply> = snapshot
            .facts
            .suppliers
            .iter()
            .enumerate()
            .map(|(place, supplier)| {
                let own = products.iter().filter(|p| supplier_of[**p] == Some(place));
                let value = own.map(|p| 7.0 * daily_use[*p] * shelves[*p].unit_value).sum();
                Supply::of(snapshot, supplier, &leads[place], value, inputs.seed, count)
            })
            .collect();
        let days = supplies.iter().map(Supply::last_day).max().unwrap_or(0) + 1;
        let days = days.clamp(FEWEST_DAYS, MOST_DAYS);
        let effects = draw_effects(inputs, count);
        let books_off = products
            .par_iter()
            .map(|p| uncertainties[*p].draw(inputs, *p, &effects[*p], shelves[*p].on_hand))
            .collect();
        let futures = Scenarios::draw(inputs, &effects, count, days);
        let today_left = today_left(snapshot);
        let coming: Vec<Vec<Vec<Arrival>>> = shelves
            .par_iter()
            .map(|shelf| {
                (0..count).map(|f| shelf.arrivals(&leads, inputs.seed, f, today_left)).collect()
            })
            .collect();
        let spare = spare(index, &shelves, &futures, &coming);
        let mut stock = Self {
            leads,
            supplies,
            shelves,
            futures,
            coming,
            spare,
            ratios: ratios(index),
            books_off,
            daily_use,
            levels: Vec::new(),
            supplier_of,
        };
        let service = float(snapshot.facts.shop.service);
        stock.levels = products.par_iter().map(|p| stock.levels_of(*p, service)).collect();
        stock
    }

    fn levels_of(&self, product: usize, service: f64) -> Levels {
        match self.supplier_of[product].map(|s| &self.supplies[s]) {
            Some(supply) => self.levels_from(product, service, supply),
            None => self.levels_over(product, service, |_| 14, 14),
        }
    }

    /// (R, S) levels over a supplier's lead time and the review period, from the futures' demand:
    /// Silver, Pyke & Thomas, §6.10 (periodic review, order-up-to-level).
    pub fn levels_from(&self, product: usize, service: f64, supply: &Supply) -> Levels {
        let next = |future: usize| supply.next_arrives(future);
        let more = crate::simulate::supply::REVIEW_DAYS * supply.cycle_weeks;
        self.levels_over(product, service, next, more)
    }

    fn levels_over(
        &self,
        product: usize,
        service: f64,
        end: impl Fn(usize) -> i32,
        more: i32,
    ) -> Levels {
        let futures = &self.futures.products[product];
        let level = |totals: &[f64]| {
            let (mean, sd) = mean_sd(totals);
            let demand = ProtectionDemand::new(mean, sd).ok();
            let service = Service::new(service.clamp(0.5, 0.999_9)).ok();
            demand.zip(service).map_or(mean, |(demand, service)| demand.order_up_to(service))
        };
        let reorder_point = level(&futures.totals(&end));
        let order_up_to = level(&futures.totals(|future| end(future) + more));
        let mut ends: Vec<i32> = (0..self.futures.count).map(&end).collect();
        ends.sort_unstable();
        let usual = ends.get(ends.len() / 2).copied().unwrap_or(0);
        let (booked, not_booked) = futures.mean_parts(|_| usual);
        let at_usual = futures.totals(|_| usual);
        Levels {
            reorder_point,
            order_up_to: order_up_to.max(reorder_point),
            end: usual,
            more,
            booked,
            not_booked,
            safety: (level(&at_usual) - mean_sd(&at_usual).0).max(0.0),
        }
    }

    /// What a walk of a product through a future goes by.
    pub fn rules(&self, index: &Index, product: usize, future: usize) -> Rules<'_> {
        Rules {
            open_days: index.products[product].open_days,
            days: self.futures.days,
            ratios: &self.ratios,
            container_size: index.products[product].size,
            books_off: self.books_off[product][future],
        }
    }

    /// A quantity of base units in the product's unit.
    pub fn amount(&self, index: &Index, product: usize, base: f64) -> AmountIn {
        let own = &index.products[product];
        AmountIn { amount: rounded(base / own.unit_base, 3), unit: own.unit.symbol() }
    }
}

/// The supplier of the preferred offer, else of the one with the cheapest unit.
fn usual_supplier(inputs: &ModelInputs<'_>, product: usize) -> Option<usize> {
    let facts = &inputs.snapshot.facts;
    let id = &inputs.index.products[product].id;
    let offers = facts.offers.iter().filter(|offer| offer.product == *id);
    let best = offers.min_by(|a, b| {
        let price = |offer| unit_price(inputs.snapshot, inputs.index, offer);
        b.preferred.cmp(&a.preferred).then(price(a).total_cmp(&price(b)))
    })?;
    facts.suppliers.iter().position(|supplier| supplier.id == best.supplier)
}

/// For each product and future what its substitutes have beyond their own use over three weeks.
fn spare(
    index: &Index,
    shelves: &[ProductShelf],
    futures: &Scenarios,
    coming: &[Vec<Vec<Arrival>>],
) -> Vec<Vec<f64>> {
    const DAYS: i32 = 21;
    let beyond = |product: usize| -> Vec<f64> {
        let totals = futures.products[product].totals(|_| DAYS);
        let comes = |future: usize| -> f64 {
            let soon = coming[product][future].iter().filter(|a| a.day < DAYS / 3);
            soon.map(|a| f64::from(a.count) * a.size).sum()
        };
        let left = totals.iter().enumerate();
        left.map(|(f, total)| (shelves[product].on_hand + comes(f) - total).max(0.0)).collect()
    };
    index
        .products
        .iter()
        .map(|own| {
            let mut best = vec![0.0_f64; futures.count];
            for substitute in &own.substitutes {
                let own_sized =
                    own.unit.dimension() == index.products[*substitute].unit.dimension();
                for (best, spare) in best.iter_mut().zip(beyond(*substitute)) {
                    *best = best.max(if own_sized { spare } else { 0.0 });
                }
            }
            best
        })
        .collect()
}
