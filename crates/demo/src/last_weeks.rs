//! The last weeks before `today`, lived as often as it takes until the morning of `today` has
//! something to show: each is as likely as any, none is arranged.

use capful_domain::Quantity;
use chrono::{Days, NaiveDate};
use rand::{RngExt, SeedableRng};

use crate::chance::Rng;
use crate::day::Simulation;
use crate::owner::{View, goods};

/// Days that are lived again.
pub const AGAIN: Days = Days::new(28);
const TRIES: u32 = 40;
/// Things that the demo wants to show.
pub const ALL: u32 = 4;
/// A coating whose use-by is nearer than this is going off.
const NEAR: Days = Days::new(8);

/// Lives from `day` to `today`, and keeps the first that shows everything, or else the best;
/// answers how much it shows, too.
pub fn live<'a>(
    start: &Simulation<'a>,
    day: NaiveDate,
    today: NaiveDate,
    rng: &mut Rng,
) -> (u32, Simulation<'a>) {
    let mut best = (0, start.clone());
    for attempt in 0..TRIES {
        let mut rng = Rng::seed_from_u64(rng.random());
        let mut simulation = start.clone();
        for day in day.iter_days().take_while(|day| *day < today) {
            simulation.live(day, &mut rng);
        }
        let shown = shows(&simulation, today, &mut rng);
        if attempt == 0 || shown > best.0 {
            best = (shown, simulation);
        }
        if best.0 == ALL {
            break;
        }
    }
    best
}

/// How much of what the demo wants to show is there.
fn shows(simulation: &Simulation, today: NaiveDate, rng: &mut Rng) -> u32 {
    let on_order = simulation.on_order();
    let view = simulation.view(&on_order, today);
    let things = [
        on_order.iter().any(|quantity| *quantity > Quantity::ZERO),
        something_runs_out(&view),
        a_coating_goes_off(&view),
        freight_is_nearly_free(&view, rng),
    ];
    things.into_iter().map(u32::from).sum()
}

/// The booked jobs of a fortnight take nearly all there is of a product, and none is coming.
fn something_runs_out(view: &View) -> bool {
    let need = view.booked_need(14);
    let products = 0..view.world.facts.products.len();
    products.into_iter().any(|product| {
        let have = view.have(product);
        let need = need[product];
        view.on_order[product].is_zero() && have > 0.0 && need > 0.85 * have && need < 1.6 * have
    })
}

/// An opened coating holds a job's worth and is near its use-by.
fn a_coating_goes_off(view: &View) -> bool {
    view.world.facts.products.iter().enumerate().any(|(place, product)| {
        let near =
            |use_by: NaiveDate| use_by > view.day + Days::new(1) && use_by <= view.day + NEAR;
        product.category.as_deref() == Some("coating")
            && view.shelf.of(place).iter().any(|container| {
                let enough = container.left > product.size().share(20, 100);
                container.open && enough && container.use_by.is_some_and(near)
            })
    })
}

/// What the owner would order today of some supplier is near the value that comes freight free.
fn freight_is_nearly_free(view: &View, rng: &mut Rng) -> bool {
    let suppliers = &view.world.facts.suppliers;
    let all = vec![true; suppliers.len()];
    view.wanted(&all, 0.0, rng).iter().any(|(place, lines)| {
        suppliers[*place].free_freight_over.is_some_and(|free| {
            let goods = goods(lines);
            goods >= free.share(6, 10) && goods < free
        })
    })
}
