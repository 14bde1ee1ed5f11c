//! Draws what a shop is set up with, and the truth behind it.

use capful_domain::catalog::{ComesBack, JobType, Offer, Product, SheetRow, Supplier};
use capful_domain::{
    Amount, Condition, Currency, Facts, Form, Money, Ratio, Shop, Unit, VehicleSize,
};
use chrono::Weekday;
use rust_decimal::Decimal;

use crate::chance::{For, Random, between, choose, gamma, happens, normal, pick, stream, uniform};
use crate::recipe::{Economy, Recipe};
use crate::truth::{Pair, Thirst, Truth};
use crate::{id, known};

const SUPPLIERS: usize = 4;
/// Jobs that what the sheet says of the share of jobs is worth.
const SHARE_WORTH: f64 = 5.0;

/// A shop that has written nothing down yet, and what is truly so.
#[derive(Debug, Clone)]
pub(crate) struct SetUp {
    pub facts: Facts,
    pub truth: Truth,
    /// How often each job type is asked for.
    pub type_chances: Vec<f64>,
    /// Products that are mixed ahead in a bottle, where the shop does that.
    pub mixed_ahead: Vec<bool>,
}

/// How a kind of product is sold and used.
struct Kind {
    /// What a job takes, base units.
    usual: (f64, f64),
    /// Jobs that a container serves.
    jobs: (f64, f64),
    price: (f64, f64),
    open_days: Option<(f64, f64)>,
    form: Form,
    unit: Unit,
}

fn kind_of(place: usize) -> Kind {
    let liquid = |usual, jobs, price, open_days| Kind {
        usual,
        jobs,
        price,
        open_days: Some(open_days),
        form: Form::ReadyToUse,
        unit: Unit::Ml,
    };
    match place % 7 {
        // Coatings: small and dear, and they die once opened.
        0 => liquid((15.0, 30.0), (2.0, 5.0), (40.0, 80.0), (90.0, 180.0)),
        // Concentrates: large, cut with water.
        1 | 4 => Kind {
            form: Form::Concentrate,
            ..liquid((10.0, 60.0), (12.0, 30.0), (20.0, 50.0), (540.0, 1095.0))
        },
        // Gloves, towels, pads: by the piece.
        6 => Kind {
            usual: (1.0, 4.0),
            jobs: (10.0, 30.0),
            price: (10.0, 30.0),
            open_days: None,
            form: Form::ReadyToUse,
            unit: Unit::Each,
        },
        // Sprays and polishes.
        _ => liquid((20.0, 100.0), (6.0, 20.0), (10.0, 30.0), (180.0, 540.0)),
    }
}

/// To the thousandth, as somebody would write it.
pub(crate) fn decimal(number: f64) -> Decimal {
    Decimal::new((number * 1000.0).round() as i64, 3).normalize()
}

fn cents(number: f64) -> Money {
    Money::from_minor((number * 100.0).round() as i64)
}

impl SetUp {
    pub fn draw(recipe: &Recipe, seed: u64) -> Self {
        let random = &mut stream(seed, For::SetUp, 0);
        let mut facts = Facts::new(shop(recipe));
        // What all products of a shop share of how size and condition tell, and what is each one's.
        let (by_size, by_condition) = (normal(random, 1.0, 0.2), normal(random, 1.0, 0.25));
        let mut usual = Vec::new();
        let mut thirsts = Vec::new();
        for place in 0..recipe.products {
            let (product, own) = product(recipe, place, random);
            thirsts.push(Thirst {
                size_exponent: normal(random, by_size, 0.22),
                condition_exponent: normal(random, by_condition, 0.25),
                cv: between(random, 0.25, 0.55),
                whole: product.unit == Unit::Each,
                changes: None,
            });
            usual.push(own);
            facts.products.push(product);
        }
        add_substitutes(&mut facts);
        add_suppliers(&mut facts, random);
        let type_chances = add_job_types(recipe, &mut facts, random);
        let pairs = pairs(recipe, &usual, random);
        facts.usage_sheet = pairs.iter().map(|pair| sheet_row(&facts, pair)).collect();
        let mut truth = Truth { pairs: pairs.into_iter().map(|said| said.pair).collect(), thirsts };
        if let Some(new_pad) = recipe.new_pad {
            truth.change(new_pad);
        }
        let concentrates = facts.products.iter().map(|p| p.form == Form::Concentrate);
        let mixed_ahead = concentrates.enumerate().map(|(place, own)| own && place % 2 == 0);
        let mixed_ahead = mixed_ahead.collect();
        Self { facts, truth, type_chances, mixed_ahead }
    }
}

fn shop(recipe: &Recipe) -> Shop {
    let currency = known(Currency::parse("CAD"));
    let mut shop = Shop::new("Made-up Detailing", chrono_tz::America::Halifax, currency);
    if recipe.economy == Economy::Hard {
        shop.holding_rate = Decimal::new(60, 2);
        shop.stall_cost = Money::from_minor(7500);
    }
    shop.budget = recipe.budget.map(|most| Money::from_minor(i64::from(most) * 100));
    shop
}

fn product(recipe: &Recipe, place: usize, random: &mut Random) -> (Product, f64) {
    let kind = kind_of(place);
    let life = if recipe.economy == Economy::Hard { 0.2 } else { 1.0 };
    let usual = between(random, kind.usual.0, kind.usual.1);
    let holds = usual * between(random, kind.jobs.0, kind.jobs.1);
    let step = match (kind.unit, holds) {
        (Unit::Each, _) => 10.0,
        (_, ..150.0) => 10.0,
        _ => 250.0,
    };
    let holds = (holds / step).round().max(1.0) * step;
    let name = format!("product-{place}");
    let size = Amount { number: decimal(holds), unit: kind.unit };
    let mut product = Product::new(id(&name), &name, size);
    product.form = kind.form;
    let open = kind.open_days.map(|(low, high)| between(random, low, high));
    product.open_days = open.map(|days| (days * life).round().max(2.0) as u32);
    if kind.unit == Unit::Ml {
        product.shelf_days = Some((730.0 * life) as u32);
        product.mix_days = (kind.form == Form::Concentrate).then_some(30);
        product.density_g_ml = Some(decimal(between(random, 0.95, 1.1)));
        product.tare_g = Some(decimal((holds / 12.0).round()));
    }
    (product, usual)
}

/// Some sprays serve in each other's place.
fn add_substitutes(facts: &mut Facts) {
    let count = facts.products.len();
    for place in (2..count.saturating_sub(1)).step_by(7) {
        let (one, other) = (facts.products[place].id.clone(), facts.products[place + 1].id.clone());
        facts.products[place].substitutes = vec![other];
        facts.products[place + 1].substitutes = vec![one];
    }
}

fn add_suppliers(facts: &mut Facts, random: &mut Random) {
    for place in 0..SUPPLIERS {
        let name = format!("supplier-{place}");
        let orders = if place == 3 { vec![Weekday::Mon, Weekday::Thu] } else { Vec::new() };
        facts.suppliers.push(Supplier {
            id: id(&name),
            name,
            lead_days: decimal(between(random, 2.0, 6.0).round()),
            lead_days_sd: Some(decimal(between(random, 0.5, 1.5))),
            order_weekdays: orders,
            freight: cents(between(random, 8.0, 20.0)),
            free_freight_over: (place != 1).then(|| cents(between(random, 150.0, 300.0).round())),
            minimum_order: if place == 2 { cents(60.0) } else { Money::ZERO },
        });
    }
    for place in 0..facts.products.len() {
        let kind = kind_of(place);
        let price = between(random, kind.price.0, kind.price.1);
        let first = place % SUPPLIERS;
        let second = (first + 1 + (uniform(random) * 3.0) as usize) % SUPPLIERS;
        let pack = if kind.unit == Unit::Each { pick(random, &[1, 2, 4]) } else { 1 };
        let dearer = between(random, 1.08, 1.25);
        let mut offer = |supplier: usize, pack: u32, price: f64, preferred: bool| {
            facts.offers.push(Offer {
                supplier: id(&format!("supplier-{supplier}")),
                product: facts.products[place].id.clone(),
                pack,
                price: cents(price * f64::from(pack)),
                code: None,
                minimum_packs: 1,
                preferred,
            });
        };
        offer(first, pack, price, true);
        if place % 3 == 0 && second != first {
            offer(second, 1, price * dearer, false);
        }
    }
}

fn add_job_types(recipe: &Recipe, facts: &mut Facts, random: &mut Random) -> Vec<f64> {
    let dear = if recipe.economy == Economy::Hard { 0.5 } else { 1.0 };
    for place in 0..recipe.job_types {
        let name = format!("type-{place}");
        let stall = happens(random, 0.5).then(|| cents(dear * between(random, 80.0, 220.0)));
        let comes_back = (place % 5 == 1).then(|| ComesBack {
            days: pick(random, &[28, 90, 180]),
            share: Decimal::new(30, 2),
            job_type: None,
        });
        facts.job_types.push(JobType {
            id: id(&name),
            name,
            price: None,
            stall_cost: stall,
            comes_back,
        });
    }
    (0..recipe.job_types).map(|_| 0.3 + gamma(random, 1.0, 0.8)).collect()
}

/// A pair, and how often the owner thinks it is used.
struct Said {
    pair: Pair,
    share: f64,
}

fn pairs(recipe: &Recipe, usual: &[f64], random: &mut Random) -> Vec<Said> {
    let [all_sd, product_sd, pair_sd] = recipe.guess_sd;
    let everywhere = normal(random, 0.0, all_sd);
    let mut pairs = Vec::new();
    for (product, usual) in usual.iter().enumerate() {
        let common = everywhere + normal(random, 0.0, product_sd);
        let kind = kind_of(product);
        let water = match kind.form {
            Form::Concentrate => pick(random, &[4, 5, 10, 15, 20]),
            Form::ReadyToUse => 0,
        };
        let served = 1 + choose(random, &[0.4, 0.35, 0.17, 0.08]);
        let mut types: Vec<usize> = (0..recipe.job_types).collect();
        for _ in 0..served.min(recipe.job_types) {
            let job_type = types.remove((uniform(random) * types.len() as f64) as usize);
            let always = happens(random, 0.7);
            let share = if always { 1.0 } else { decimal_of(between(random, 0.3, 0.9), 0.05) };
            let said = written(usual * between(random, 0.6, 1.6), &kind, water);
            pairs.push(Said {
                share,
                pair: Pair {
                    product,
                    job_type,
                    mean: said * (common + normal(random, 0.0, pair_sd)).exp(),
                    share: if always { 1.0 } else { true_share(random, share) },
                    said,
                    water,
                },
            });
        }
    }
    pairs
}

fn decimal_of(number: f64, step: f64) -> f64 {
    (number / step).round() * step
}

/// As somebody would write it: whole millilitres of the mix, halves of a piece.
fn written(amount: f64, kind: &Kind, water: u32) -> f64 {
    let parts = f64::from(water + 1);
    match kind.unit {
        Unit::Each => decimal_of(amount, 0.5).max(0.5),
        _ => decimal_of(amount * parts, 1.0).max(1.0) / parts,
    }
}

/// A share about what was said, known as well as from a few jobs (Beta).
fn true_share(random: &mut Random, said: f64) -> f64 {
    let part = |random: &mut Random, worth: f64| gamma(random, worth, worth.sqrt().recip());
    let (yes, no) = (part(random, SHARE_WORTH * said), part(random, SHARE_WORTH * (1.0 - said)));
    (yes / (yes + no)).clamp(0.02, 1.0)
}

fn sheet_row(facts: &Facts, said: &Said) -> SheetRow {
    let pair = &said.pair;
    let mix = pair.said * f64::from(pair.water + 1);
    SheetRow {
        job_type: facts.job_types[pair.job_type].id.clone(),
        product: facts.products[pair.product].id.clone(),
        amount: Amount { number: decimal(mix), unit: facts.products[pair.product].unit },
        ratio: ratio(pair.water),
        share_of_jobs: (said.share < 1.0).then(|| decimal(said.share)),
        log_sd: None,
    }
}

/// Parts of water to one of product; nothing where it is used neat.
pub(crate) fn ratio(water: u32) -> Option<Ratio> {
    (water > 0).then(|| known(Ratio::from_water(water.into()).ok()))
}

/// A vehicle's size and condition.
pub(crate) fn size_and_condition(random: &mut Random) -> (VehicleSize, Condition) {
    let size = VehicleSize::ALL[choose(random, &[0.2, 0.45, 0.25, 0.1])];
    let grade = 1 + choose(random, &[0.1, 0.25, 0.35, 0.2, 0.1]);
    (size, known(u8::try_from(grade).ok().and_then(Condition::new)))
}
