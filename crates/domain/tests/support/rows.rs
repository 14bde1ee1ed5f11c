//! Random histories: any row that a shop can write down, about a few products.

use capful_domain::facts::{DiscardReason, Method, Receipt};
use capful_domain::{ContainerId, Ledger, Money, Ratio, Source};
use chrono::{DateTime, Duration, Utc};
use proptest::prelude::*;
use rust_decimal::Decimal;

use super::{TestShop, amount, day, id};

/// What can be written down; numbers are folded onto what there is.
#[derive(Debug, Clone)]
pub enum Act {
    Receive { product: usize, containers: u32, best_before: Option<u32>, size: Option<i64> },
    Pour { product: usize, tenths: i64, water: usize, place: Option<usize>, expected: bool },
    Expect { product: usize, tenths: i64, water: usize },
    Open { product: usize, place: Option<usize> },
    Mix { product: usize, tenths: i64, water: usize, place: Option<usize> },
    Discard { product: usize, tenths: Option<i64>, place: Option<usize>, reason: usize },
    CountWhole { product: usize, tenths: i64 },
    CountSealed { product: usize, sealed: u32, tenths: Option<i64> },
    CountOne { product: usize, tenths: i64, place: usize },
    Weigh { product: usize, grams: i64, place: Option<usize> },
    Reverse { row: usize },
}

/// Any act; `reversals` says whether rows are reversed too.
pub fn act(reversals: bool) -> impl Strategy<Value = Act> {
    let product = 0..3_usize;
    let place = || proptest::option::weighted(0.4, 0..12_usize);
    let tenths = || prop_oneof![1 => Just(0_i64), 6 => 1..6_000_i64, 2 => 1..25_000_i64];
    let water = 0..3_usize;
    let receive = (
        product.clone(),
        1..4_u32,
        proptest::option::of(0..60_u32),
        proptest::option::weighted(0.2, 1..2_000_i64),
    );
    let discard = (product.clone(), proptest::option::of(tenths()), place(), 0..5_usize);
    let row = prop_oneof![
        4 => receive.prop_map(|(product, containers, best_before, size)| Act::Receive {
            product, containers, best_before, size
        }),
        6 => (product.clone(), tenths(), water.clone(), place(), any::<bool>()).prop_map(
            |(product, tenths, water, place, expected)| Act::Pour {
                product, tenths, water, place, expected
            }
        ),
        4 => (product.clone(), tenths(), water.clone()).prop_map(
            |(product, tenths, water)| Act::Expect { product, tenths, water }
        ),
        3 => (product.clone(), place()).prop_map(|(product, place)| Act::Open { product, place }),
        2 => (product.clone(), tenths(), water, place()).prop_map(
            |(product, tenths, water, place)| Act::Mix { product, tenths, water, place }
        ),
        2 => discard.prop_map(|(product, tenths, place, reason)| Act::Discard {
            product, tenths, place, reason
        }),
        2 => (product.clone(), tenths()).prop_map(
            |(product, tenths)| Act::CountWhole { product, tenths }
        ),
        2 => (product.clone(), 0..5_u32, proptest::option::of(tenths())).prop_map(
            |(product, sealed, tenths)| Act::CountSealed { product, sealed, tenths }
        ),
        2 => (product.clone(), tenths(), 0..12_usize).prop_map(
            |(product, tenths, place)| Act::CountOne { product, tenths, place }
        ),
        1 => (product, 0..3_000_i64, place()).prop_map(
            |(product, grams, place)| Act::Weigh { product, grams, place }
        ),
    ];
    let reverse = (0..60_usize).prop_map(|row| Act::Reverse { row });
    let share = if reversals { 0.1 } else { 0.0 };
    (row, reverse, prop::bool::weighted(share))
        .prop_map(|(row, reverse, r)| if r { reverse } else { row })
}

const PRODUCTS: [&str; 3] = ["soap", "polish", "towel"];
const UNITS: [&str; 3] = ["mL", "g", "each"];
const WATERS: [&str; 3] = ["0:1", "5:1", "10:1"];

/// A shop with a liquid that goes off in every way, a paste and towels.
pub fn shop() -> TestShop {
    let mut shop = TestShop::new();
    let soap = shop.product("soap", "1000 mL");
    (soap.shelf_days, soap.open_days, soap.mix_days) = (Some(40), Some(9), Some(4));
    (soap.density_g_ml, soap.tare_g) = (Some(Decimal::new(125, 2)), Some(Decimal::new(80, 0)));
    shop.product("polish", "250 g").open_days = Some(20);
    shop.product("towel", "12 each");
    shop
}

/// Posts acts one by one, a quarter of a day apart.
pub struct Player {
    shop: TestShop,
    pub ledger: Ledger,
    pub sources: Vec<Source>,
    step: i64,
}

impl Player {
    pub fn new() -> Self {
        let shop = shop();
        let ledger = Ledger::new(&shop.facts.shop, &shop.facts.products);
        Self { shop, ledger, sources: Vec::new(), step: 0 }
    }

    pub fn now(&self) -> DateTime<Utc> {
        self.shop.at("2026-02-20") + Duration::hours(6 * self.step)
    }

    /// Posts an act. `false`: it was a reversal that was refused.
    pub fn play(&mut self, act: &Act) -> bool {
        self.step += 1;
        let source = match *act {
            Act::Receive { product, containers, best_before, size } => {
                self.receive(product, containers, best_before, size)
            }
            Act::Pour { product, tenths, water, place, expected } => {
                self.pour(product, tenths, water, place, expected)
            }
            Act::Expect { product, tenths, water } => self.expect(product, tenths, water),
            Act::Open { product, place } => self.open(product, place),
            Act::Mix { product, tenths, water, place } => self.mix(product, tenths, water, place),
            Act::Discard { product, tenths, place, reason } => {
                self.discard(product, tenths, place, reason)
            }
            Act::Reverse { row } => {
                let Some(source) = self.sources.get(row % self.sources.len().max(1)).cloned()
                else {
                    return true;
                };
                let now = self.now();
                return self.ledger.reverse(&source, now).is_ok();
            }
            _ => self.count(act),
        };
        self.sources.push(source);
        true
    }

    fn when(&self) -> String {
        let local = self.now().with_timezone(&self.shop.facts.shop.timezone);
        local.format("%Y-%m-%dT%H:%M").to_string()
    }

    fn named(&self, product: usize, place: Option<usize>) -> Option<ContainerId> {
        let own = self.ledger.containers().iter().filter(|c| c.product == id(PRODUCTS[product]));
        let names: Vec<_> = own.map(|c| c.id.clone()).collect();
        names.get(place? % names.len().max(1)).cloned()
    }

    fn amount(product: usize, tenths: i64) -> String {
        let number = if product == 2 { tenths / 400 } else { tenths / (1 + 3 * product as i64) };
        format!("{} {}", Decimal::new(number, 1), UNITS[product])
    }

    fn receive(
        &mut self,
        product: usize,
        containers: u32,
        best_before: Option<u32>,
        size: Option<i64>,
    ) -> Source {
        let when = self.when();
        let row: &mut Receipt = self.shop.receives(&when, PRODUCTS[product], containers);
        let last_day = |days: u32| day("2026-02-20") + Duration::days(days.into());
        row.best_before = best_before.map(last_day);
        row.container_size = size.map(Decimal::from);
        row.unit_cost = Money::from_minor(1999);
        self.ledger.receive(row);
        Source::Receipt(row.id.clone())
    }

    fn pour(
        &mut self,
        product: usize,
        tenths: i64,
        water: usize,
        place: Option<usize>,
        expected: bool,
    ) -> Source {
        let (when, container) = (self.when(), self.named(product, place));
        let row = self.shop.pours(&when, PRODUCTS[product], &Self::amount(product, tenths));
        row.container = container;
        row.ratio = (product == 0).then(|| super::ratio(WATERS[water]));
        row.method = expected.then_some(Method::Expected);
        self.ledger.pour(row);
        Source::Pour(row.id.clone())
    }

    fn expect(&mut self, product: usize, tenths: i64, water: usize) -> Source {
        let when = self.when();
        let row = self.shop.expects(&when, PRODUCTS[product], &Self::amount(product, tenths));
        row.ratio = if product == 0 { super::ratio(WATERS[water]) } else { Ratio::NEAT };
        self.ledger.pour_expected(row);
        Source::Expected(row.job.clone())
    }

    fn open(&mut self, product: usize, place: Option<usize>) -> Source {
        let (when, container) = (self.when(), self.named(product, place));
        let row = self.shop.opens(&when, PRODUCTS[product]);
        row.container = container;
        self.ledger.open(row);
        Source::Opening(row.id.clone())
    }

    fn mix(&mut self, product: usize, tenths: i64, water: usize, place: Option<usize>) -> Source {
        let (when, container) = (self.when(), self.named(product, place));
        let how_much = Self::amount(product, tenths);
        let row = self.shop.mixes(&when, PRODUCTS[product], &how_much, WATERS[water]);
        row.container = container;
        self.ledger.mix(row);
        Source::Mix(row.id.clone())
    }

    fn discard(
        &mut self,
        product: usize,
        tenths: Option<i64>,
        place: Option<usize>,
        reason: usize,
    ) -> Source {
        let (when, container) = (self.when(), self.named(product, place));
        let row = self.shop.discards(&when, PRODUCTS[product]);
        row.container = container;
        row.amount = tenths.map(|tenths| amount(&Self::amount(product, tenths)));
        row.reason = [
            None,
            Some(DiscardReason::Expired),
            Some(DiscardReason::Spilled),
            Some(DiscardReason::Damaged),
            Some(DiscardReason::Returned),
        ][reason];
        self.ledger.discard(row);
        Source::Discard(row.id.clone())
    }

    fn count(&mut self, act: &Act) -> Source {
        let when = self.when();
        let seen = |product, tenths| Some(amount(&Self::amount(product, tenths)));
        let (product, place) = match *act {
            Act::CountOne { product, place, .. } => (product, Some(place)),
            Act::Weigh { product, place, .. } => (product, place),
            Act::CountWhole { product, .. } | Act::CountSealed { product, .. } => (product, None),
            _ => unreachable!("not a count"),
        };
        let container = self.named(product, place);
        let row = self.shop.counts(&when, PRODUCTS[product]);
        row.container = container;
        match *act {
            Act::CountSealed { sealed, tenths, .. } => {
                row.sealed = Some(sealed);
                row.amount = tenths.and_then(|tenths| seen(product, tenths));
            }
            Act::CountWhole { tenths, .. } | Act::CountOne { tenths, .. } => {
                row.amount = seen(product, tenths);
            }
            Act::Weigh { grams, .. } => row.gross_g = Some(Decimal::from(grams)),
            _ => {}
        }
        self.ledger.count(row);
        Source::Count(row.id.clone())
    }
}
