//! Simulated calendars: visits that come at a known rate with a known week, year and drift, booked
//! a known time ahead and sometimes called off; a Poisson process thinned by its bookings
//! (Kingman, *Poisson Processes*, §5.1).
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs)]

mod simulation;

use std::sync::LazyLock;

use capful_domain::Snapshot;
use capful_forecast::plan::Demand;
use capful_forecast::{PlanSettings, plan};
use simulation::calendar_shop::{CalendarShop, PRODUCTS};
use simulation::returns_shop::{CARE_ML, OneVehicle, RETURN_SHARE, ReturnsShop};
use simulation::{mean, standard_error};

const SHOPS: u64 = 40;
const DAYS: i64 = 520;
/// Days of the plans: their fortnights do not meet.
const PLAN_DAYS: [i64; 5] = [390, 418, 447, 476, 505];
const FORTNIGHT: i64 = 14;

/// One product of one plan beside what was known and what came.
struct Case {
    demand: Demand,
    booked: f64,
    others: f64,
    came: f64,
}

impl Case {
    fn known(&self) -> f64 {
        self.booked + self.others
    }
}

/// By shop.
static CASES: LazyLock<Vec<Vec<Case>>> = LazyLock::new(|| (0..SHOPS).map(cases).collect());

fn cases(seed: u64) -> Vec<Case> {
    let shop = CalendarShop::simulate(7000 + seed, DAYS);
    let mut cases = Vec::new();
    for day in PLAN_DAYS {
        let snapshot = Snapshot::of(&shop.facts, shop.moment(day));
        let plan = plan(&snapshot, &PlanSettings { futures: 200 }, seed);
        for (product, outlook) in plan.products.iter().enumerate() {
            assert_eq!(outlook.product, PRODUCTS[product]);
            let (booked, others) = shop.expected(product, day, FORTNIGHT);
            let came = shop.taken(product, day, FORTNIGHT);
            cases.push(Case { demand: outlook.demand, booked, others, came });
        }
    }
    cases
}

/// By shop what `part` of all its cases is of what was known.
fn of_known(part: impl Fn(&Case) -> f64) -> Vec<f64> {
    let share = |cases: &Vec<Case>| {
        let known: f64 = cases.iter().map(Case::known).sum();
        cases.iter().map(&part).sum::<f64>() / known
    };
    CASES.iter().map(share).collect()
}

/// Jobs booked and jobs still to be booked make up what comes, each once: the simulation agrees
/// with itself, and the plan with it. A third is booked, so that counting it twice would be seen.
#[test]
fn demand_of_a_fortnight_is_what_the_calendar_brings() {
    let (planned, came) = (of_known(|case| case.demand.mean), of_known(|case| case.came));
    let booked = mean(&of_known(|case| case.booked));
    println!(
        "of what is known: planned {:.3} ± {:.3}, came {:.3} ± {:.3}, booked {booked:.3}",
        mean(&planned),
        standard_error(&planned),
        mean(&came),
        standard_error(&came),
    );
    assert!((0.25..0.5).contains(&booked), "{booked}");
    assert!((mean(&came) - 1.0).abs() < 3.0 * standard_error(&came));
    assert!((mean(&planned) - 1.0).abs() < 3.0 * standard_error(&planned));
    assert!(standard_error(&planned) < 0.02);
}

/// Over 200 fortnights of two products the bands hold about what they say: three standard errors of
/// 200 independent cases, and a little for what rounds the ends of the bands.
#[test]
fn bands_of_demand_hold_what_they_say() {
    let holds = |chance: f64, ends: &dyn Fn(&Demand) -> (f64, f64)| {
        let inside = CASES.iter().flatten().filter(|case| {
            let (low, high) = ends(&case.demand);
            (low..=high).contains(&case.came)
        });
        let all = CASES.iter().flatten().count();
        let share = inside.count() as f64 / all as f64;
        let error = (chance * (1.0 - chance) / (all as f64 / 2.0)).sqrt();
        println!("{chance}: {share:.3} ± {error:.3}");
        assert!((share - chance).abs() < 3.0 * error + 0.01, "{share} of {chance}");
    };
    holds(0.5, &|demand| (demand.bands.p25, demand.bands.p75));
    holds(0.8, &|demand| (demand.p10, demand.p90));
    holds(0.95, &|demand| (demand.bands.p2_5, demand.bands.p97_5));
}

/// Vehicles that come back beside others that come for the same: what is expected of both over four
/// weeks is what comes, or a little less. Counted twice, those that come back would make it 1.6.
#[test]
fn vehicles_that_come_back_are_expected_once() {
    let of_came = |seed: u64| {
        let shop = ReturnsShop::simulate(90 + seed, 420);
        let (mut planned, mut came) = (0.0, 0.0);
        for day in [260, 295, 330, 365] {
            let snapshot = Snapshot::of(&shop.facts, shop.moment(day));
            let plan = plan(&snapshot, &PlanSettings { futures: 100 }, seed);
            let care = plan.products.iter().find(|p| p.product == "care").unwrap();
            planned += care.demand_ahead[1].mean / CARE_ML;
            came += shop.cares(day, 28);
        }
        planned / came
    };
    let ratios: Vec<f64> = (0..20).map(of_came).collect();
    println!("come back: {:.3} ± {:.3}", mean(&ratios), standard_error(&ratios));
    assert!((0.8..1.1).contains(&mean(&ratios)), "{}", mean(&ratios));
}

/// One coated vehicle is due in a fortnight. Before it is booked it is expected with about its
/// share (the chance of the day falling within four weeks, and not within the coming week, is .68
/// to .79 of that); once it is booked it is the booking that is expected and nothing beside it.
#[test]
fn a_booking_takes_the_place_of_the_vehicle_expected_back() {
    let expected = |comes_back: bool, is_booked: bool| {
        let vehicle = OneVehicle { comes_back, is_booked };
        let (facts, moment) = vehicle.facts();
        let plan = plan(&Snapshot::of(&facts, moment), &PlanSettings { futures: 1000 }, 5);
        plan.products.iter().find(|p| p.product == "care").unwrap().demand_ahead[1].mean
    };
    let others = expected(false, false);
    let booking = expected(false, true) - others;
    assert!(booking > 0.8 * CARE_ML, "{booking}");
    let not_booked = (expected(true, false) - others) / booking;
    println!("{not_booked:.3} of a booking");
    assert!((0.6 * RETURN_SHARE..0.9 * RETURN_SHARE).contains(&not_booked), "{not_booked}");
    let beside = expected(true, true) - others - booking;
    assert!(beside.abs() < 0.01 * booking, "{beside}");
}
