//! How good the numbers are, on simulated shops: prints a table for each thing that is measured.
//! With words, only what is named.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

#[path = "../../tests/quality/measure/mod.rs"]
mod measure;

use capful_simulation::{Habit, Life, OwnersRule, Recipe, Tally};
use measure::order::Policy;
use measure::{WEEKS, demand, each_shop, lived, mean, name_of, readiness, usage};

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|w| !w.starts_with('-')).collect();
    let parts: [(&str, fn()); 7] = [
        ("usage", usage_errors),
        ("change", changes),
        ("spill", spills),
        ("demand", demands),
        ("readiness", readinesses),
        ("going-off", going_off),
        ("order", orders),
    ];
    for (word, print) in parts {
        if words.is_empty() || words.iter().any(|own| own == word) {
            print();
        }
    }
}

/// What a whole container that runs out unsaid does to what is learned.
fn spills() {
    let all = each_shop(shops(20), measure::spill::of_shop);
    println!(
        "\nA spill of a whole container, weekly counts: share by which what the product's jobs"
    );
    println!("take together moved, and that of the kind of job that moved most, shop by shop");
    let print = |of: fn(&measure::spill::Spill) -> f64| {
        println!("{}", all.iter().map(|spill| format!(" {:.3}", of(spill))).collect::<String>());
    };
    print(|spill| spill.moved);
    print(|spill| spill.most_moved);
}

/// So many shops, unless the environment asks for another number.
fn shops(usual: u64) -> u64 {
    std::env::var("CAPFUL_QUALITY_SHOPS").ok().and_then(|n| n.parse().ok()).unwrap_or(usual)
}

fn usage_errors() {
    let shops = shops(30);
    println!("\nMean error of what jobs take, as a share of it, {shops} shops, after weeks");
    println!("{:28}{}", "", WEEKS.map(|weeks| format!("{weeks:8}")).concat());
    usage_row("the sheet alone", shops, Habit::Nothing, false);
    let recipe = Recipe { habit: Habit::Nothing, ..Recipe::default() };
    let ratio = each_shop(shops, |seed| usage::error_of_one_ratio(&Life::new(&recipe, seed)));
    println!("{:28}{:8.3}", "the sheet x the right ratio", mean(ratio));
    for habit in Habit::ALL {
        usage_row(name_of(habit), shops, habit, false);
    }
    usage_row("counts 2-6 weeks, and today", shops, Habit::CountsNowAndThen, true);
}

fn usage_row(name: &str, shops: u64, habit: Habit, count_today: bool) {
    let recipe = Recipe { habit, ..Recipe::default() };
    let errors = each_shop(shops, |seed| {
        if !count_today {
            let life = lived(&recipe, seed);
            return WEEKS.map(|weeks| usage::error(&life, weeks));
        }
        WEEKS.map(|weeks| {
            let mut life = Life::new(&recipe, seed);
            life.live_until(life.day_after_weeks(weeks), &mut OwnersRule::default());
            life.count_everything();
            usage::error(&life, weeks)
        })
    });
    let mean_at = |place: usize| mean(errors.iter().map(|own| own[place]));
    let row: String = (0..WEEKS.len()).map(|place| format!("{:8.3}", mean_at(place))).collect();
    println!("{name:28}{row}");
}

fn changes() {
    let shops = shops(20);
    println!(
        "\nA new pad after a year, {shops} shops: share of it learned after 4, 8, 13, 26 weeks"
    );
    for (habit, factor) in [
        (Habit::AllMeasured, 1.5),
        (Habit::AllMeasured, 0.7),
        (Habit::CountsWeekly, 1.5),
        (Habit::CountsNowAndThen, 1.5),
        (Habit::OpeningsOnly, 1.5),
    ] {
        let shares = [4, 8, 13, 26].map(|weeks| {
            let learned = |seed| usage::share_of_change_learned(habit, factor, seed, weeks);
            format!("{:7.2}", mean(each_shop(shops, learned)))
        });
        println!("{:28}{factor:5}{}", name_of(habit), shares.concat());
    }
}

fn demands() {
    let shops = shops(20);
    println!("\nDemand, {shops} shops, every 13 weeks from week 26 on: what the 50, 80 and 95 %");
    println!("bands held over 7, 14 and 28 days; pinball loss as a share of that of");
    println!("{}", demand::BASELINES.join(", "));
    for habit in Habit::ALL {
        let recipe = Recipe { habit, ..Recipe::default() };
        let scores = each_shop(shops, |seed| {
            let life = lived(&recipe, seed);
            let mut sum = demand::Score::default();
            (26..=104).step_by(13).for_each(|weeks| sum.add(&demand::score(&life, weeks)));
            sum
        });
        let mut sum = demand::Score::default();
        scores.iter().for_each(|score| sum.add(score));
        let held = |span| sum.coverage(span).map(|share| format!("{:5.1}", 100.0 * share)).concat();
        let ratios = sum.baselines.map(|loss| format!("{:6.2}", sum.loss / loss)).concat();
        println!("{:26}{} |{} |{} |{ratios}", name_of(habit), held(0), held(1), held(2));
    }
}

fn readinesses() {
    let shops = shops(20);
    println!(
        "\nReadiness, {shops} shops whose owner orders late: jobs; those given .85 to .95 and"
    );
    println!("how many of them could be done; Brier score, and that of enough for the mean; then");
    println!("by tenths what was said and what could be done");
    for habit in Habit::ALL {
        let all: Vec<readiness::Said> =
            each_shop(shops, |seed| readiness::of_shop(habit, seed)).concat();
        let ready = |s: &readiness::Said| f64::from(u8::from(s.ready));
        let near: Vec<_> = all.iter().filter(|s| (0.85..0.95).contains(&s.chance)).collect();
        let held = mean(near.iter().map(|s| ready(s)));
        let brier = readiness::brier(&all, |s| s.chance);
        let plain = readiness::brier(&all, |s| f64::from(u8::from(s.enough)));
        let name = name_of(habit);
        println!("{name:26}{:6}{:6}{held:6.2}{brier:8.4}{plain:8.4}", all.len(), near.len());
        let tenths = (0..10).map(|tenth| {
            let own: Vec<_> =
                all.iter().filter(|s| ((s.chance * 10.0) as usize).min(9) == tenth).collect();
            let said = mean(own.iter().map(|s| s.chance));
            format!(" {said:.2}/{:.2}", mean(own.iter().map(|s| ready(s))))
        });
        println!("  {}", tenths.collect::<String>());
    }
}

fn going_off() {
    let shops = shops(20);
    println!(
        "\nWhat is said to go off over a year, every four weeks, and what then does, in money"
    );
    for hard in [false, true] {
        for habit in [Habit::AllMeasured, Habit::CountsNowAndThen, Habit::OpeningsOnly] {
            let recipe = Recipe { weeks: 150, ..measure::order::recipe(habit, hard) };
            let waste = each_shop(shops, |seed| {
                let before = measure::order::after_a_year(&recipe, seed);
                measure::going_off::of_shop(&before, &mut OwnersRule::default(), 104, 4)
            });
            let said: f64 = waste.iter().map(|own| own.said).sum();
            let thrown: f64 = waste.iter().map(|own| own.thrown).sum();
            let (name, ratio) = (name_of(habit), said / thrown);
            println!("{:5}{name:28}{said:9.0}{thrown:9.0}{ratio:7.2}", setting(hard));
        }
    }
}

const fn setting(hard: bool) -> &'static str {
    if hard { "hard" } else { "easy" }
}

fn orders() {
    let shops = shops(20);
    let habit = Habit::CountsNowAndThen;
    for hard in [false, true] {
        println!("\nA week's avoidable cost, {}, {}, {shops} shops", setting(hard), name_of(habit));
        let heads = ["cost", "freight", "holding", "expired", "stalls", "stall %", "orders"];
        println!("{:26}{}", "", heads.map(|head| format!("{head:>8}")).concat());
        let recipe = measure::order::recipe(habit, hard);
        for policy in Policy::ALL {
            let tallies = each_shop(shops, |seed| {
                let before = measure::order::after_a_year(&recipe, seed);
                measure::order::year(&before, &mut *policy.buyer())
            });
            print_tally(policy, &measure::order::sum(&tallies), shops);
        }
    }
}

fn print_tally(policy: Policy, sum: &Tally, shops: u64) {
    let weeks = shops as f64 * f64::from(measure::order::YEAR_WEEKS);
    let columns = [
        sum.avoidable() / weeks,
        sum.freight / weeks,
        sum.holding / weeks,
        sum.expired / weeks,
        sum.stalls / weeks,
        100.0 * sum.stalled_jobs / sum.jobs,
        sum.orders / weeks,
    ];
    println!("{:26}{}", policy.name(), columns.map(|column| format!("{column:8.2}")).concat());
}
