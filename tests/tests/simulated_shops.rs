//! The simulated shops themselves: what they write down is a clean shop folder, their truth does
//! not depend on what they write down or who orders, and nothing gets lost on their shelves.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

use capful_domain::Snapshot;
use capful_simulation::{Buyer, Buys, Economy, Habit, Life, NewPad, OwnersRule, Recipe, Seen};

const WEEKS: u32 = 30;

fn recipe(habit: Habit) -> Recipe {
    Recipe { habit, weeks: WEEKS + 4, ..Recipe::default() }
}

fn lived(recipe: &Recipe, seed: u64, buyer: &mut dyn Buyer) -> Life {
    let mut life = Life::new(recipe, seed);
    life.live_until(life.day_after_weeks(WEEKS), buyer);
    life
}

fn by_itself(recipe: &Recipe, seed: u64) -> Life {
    lived(recipe, seed, &mut OwnersRule::default())
}

/// Orders nothing, ever.
struct Nobody;

impl Buyer for Nobody {
    fn buys(&mut self, _: &Seen<'_>) -> Vec<Buys> {
        Vec::new()
    }
}

#[test]
fn what_is_written_down_is_a_clean_shop_folder() {
    for habit in Habit::ALL {
        let life = by_itself(&recipe(habit), 3);
        // As a folder of that morning would stand: without what comes later.
        let facts = Snapshot::of(life.facts(), life.morning()).facts;
        let reading = capful_folder::read_files(&capful_folder::to_files(&facts)).unwrap();
        assert!(reading.warnings.is_empty(), "{habit:?}: {:?}", reading.warnings);
        assert_eq!(reading.facts, facts, "{habit:?}");
    }
}

#[test]
fn every_file_of_the_shop_folder_is_written() {
    let life = by_itself(&recipe(Habit::SomeOfEverything), 5);
    let facts = life.facts();
    let counts = [
        facts.jobs.len(),
        facts.pours.len(),
        facts.receipts.len(),
        facts.openings.len(),
        facts.discards.len(),
        facts.mixes.len(),
        facts.counts.len(),
        facts.orders.len(),
        facts.order_lines.len(),
    ];
    assert!(counts.iter().all(|count| *count > 0), "{counts:?}");
    assert!(facts.counts.iter().any(|count| count.gross_g.is_some()));
    assert!(facts.counts.iter().any(|count| count.sealed.is_some()));
    assert!(facts.openings.iter().any(|opening| opening.container.is_some()));
    assert!(facts.jobs.iter().any(|job| job.cancelled_at.is_some()));
}

#[test]
fn jobs_take_the_same_whatever_is_written_and_whoever_orders() {
    let usual = by_itself(&recipe(Habit::AllMeasured), 7);
    let taken = |life: &Life| -> Vec<(usize, usize, f64)> {
        life.took().iter().map(|took| (took.visit, took.product, took.amount)).collect()
    };
    for habit in Habit::ALL {
        assert_eq!(taken(&by_itself(&recipe(habit), 7)), taken(&usual), "{habit:?}");
    }
    let bare = lived(&recipe(Habit::AllMeasured), 7, &mut Nobody);
    assert_eq!(taken(&bare), taken(&usual));
    assert!(bare.tally().stalled_jobs > usual.tally().stalled_jobs);
    assert_eq!(bare.tally().freight, 0.0);
}

#[test]
fn the_same_seed_is_the_same_shop_and_another_is_another() {
    let one = by_itself(&recipe(Habit::CountsWeekly), 11);
    assert_eq!(one.facts(), by_itself(&recipe(Habit::CountsWeekly), 11).facts());
    assert_ne!(one.facts(), by_itself(&recipe(Habit::CountsWeekly), 12).facts());
}

/// What came in is what jobs took, what was thrown away or lost, and what still stands there.
#[test]
fn nothing_gets_lost_on_the_shelf() {
    let recipe = Recipe { mishaps: false, ..recipe(Habit::AllMeasured) };
    for seed in 1..=5 {
        let life = by_itself(&recipe, seed);
        for (place, product) in life.facts().products.iter().enumerate() {
            if !product.substitutes.is_empty() {
                continue;
            }
            let size = product.size().ledger_units() as f64 / 1000.0;
            let own = life.facts().receipts.iter().filter(|r| r.product == product.id);
            let came: f64 = own.map(|r| f64::from(r.containers) * size).sum();
            let own = life.took().iter().filter(|took| took.product == place);
            let took: f64 = own.map(|took| took.amount - took.missing).sum();
            let thrown: f64 =
                life.thrown().iter().filter(|t| t.product == place).map(|t| t.quantity).sum();
            let left = life.on_hand()[place];
            assert!((came - took - thrown - left).abs() < 1e-3, "{}: seed {seed}", product.id);
        }
    }
}

/// Over many jobs what they take is what the truth says (within four standard errors).
#[test]
fn jobs_take_what_the_truth_says_on_average() {
    let mut life = Life::new(&Recipe { weeks: 104, ..recipe(Habit::Nothing) }, 2);
    life.live_until(life.day_after_weeks(104), &mut OwnersRule::default());
    let truth = life.truth();
    let (mut off, mut variance) = (0.0, 0.0);
    for took in life.took() {
        let visit = &life.visits()[took.visit];
        let cv = truth.thirsts[took.product].cv;
        let pairs = truth.pairs.iter().filter(|pair| {
            pair.product == took.product && visit.job_types.contains(&pair.job_type)
        });
        let (mut mean, mut own) = (0.0, 0.0);
        for pair in pairs {
            let used = truth.used_mean(pair, visit.size, visit.condition, 0);
            mean += pair.share * used;
            own += used * used * (pair.share * (1.0 + cv * cv) - pair.share * pair.share);
        }
        off += took.amount / mean - 1.0;
        // Of what is used by the piece, rounding adds a quarter of a piece squared at most.
        let rounding = if truth.thirsts[took.product].whole { 0.25 } else { 0.0 };
        variance += (own + rounding) / (mean * mean);
    }
    assert!(off.abs() < 4.0 * variance.sqrt(), "off by {off}, sd {}", variance.sqrt());
    assert!(4.0 * variance.sqrt() < 0.1 * life.took().len() as f64, "a tenth would be seen");
}

#[test]
fn a_new_pad_changes_what_it_says_from_its_week_on() {
    let new_pad = NewPad { week: 10, every: 3, factor: 1.5 };
    let life = Life::new(&Recipe { new_pad: Some(new_pad), ..recipe(Habit::Nothing) }, 4);
    let truth = life.truth();
    for pair in &truth.pairs {
        let mean = |week| {
            truth.mean(
                pair,
                capful_domain::VehicleSize::Large,
                capful_domain::Condition::REFERENCE,
                week,
            )
        };
        let expected = if pair.product % 3 == 0 { 1.5 } else { 1.0 };
        assert!((mean(10) / mean(9) - expected).abs() < 1e-12);
    }
}

#[test]
fn a_spill_leaves_a_container_less_and_no_word_of_it() {
    let calm = Recipe { mishaps: false, ..recipe(Habit::CountsWeekly) };
    let spilled = by_itself(&Recipe { spill_week: Some(WEEKS - 1), ..calm }, 6);
    let dry = by_itself(&calm, 6);
    assert_eq!(spilled.facts().discards, dry.facts().discards);
    let gone: Vec<f64> = dry.on_hand().iter().zip(spilled.on_hand()).map(|(d, s)| d - s).collect();
    let places: Vec<usize> = (0..gone.len()).filter(|p| gone[*p] > 1e-6).collect();
    let [place] = places[..] else { panic!("{gone:?}") };
    let size = dry.facts().products[place].size().ledger_units() as f64 / 1000.0;
    assert!((gone[place] - size).abs() < 1e-6);
}

#[test]
fn in_hard_times_things_live_a_fifth_as_long_and_stalls_are_half_as_dear() {
    let easy = Life::new(&recipe(Habit::Nothing), 8);
    let hard = Life::new(&Recipe { economy: Economy::Hard, ..recipe(Habit::Nothing) }, 8);
    let shop = |life: &Life| life.facts().shop.clone();
    assert_eq!(shop(&hard).stall_cost.times(2), shop(&easy).stall_cost);
    assert_eq!(shop(&hard).holding_rate.to_string(), "0.60");
    for (easy, hard) in easy.facts().products.iter().zip(&hard.facts().products) {
        if let (Some(easy), Some(hard)) = (easy.open_days, hard.open_days) {
            let fifth = f64::from(easy) / 5.0;
            assert!((f64::from(hard) - fifth).abs() <= 1.0, "{easy} {hard}");
        }
    }
}
