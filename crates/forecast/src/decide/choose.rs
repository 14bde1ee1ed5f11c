//! Which packs to buy: each product's best number, then each supplier's order or wait, then the
//! minimum order, free freight and the budget.
//!
//! Ordering from a supplier now is worth what stalls it avoids before the order after it could be
//! there. It costs one delivery, spread over the weeks that an order lasts, and a week's holding:
//! wait while waiting is cheaper (marginal cost against average cost, as in Silver & Meal 1973).

use rayon::prelude::*;

use crate::simulate::order_cost::{Case, LineCost};
use crate::simulate::supply::{REVIEW_DAYS, Supply};

/// What an order before its time is worth in deliveries: the delivery, and the hurry.
const EARLY_WORTH: f64 = 2.0;

/// One product bought from one supplier.
pub(crate) struct Candidate<'a> {
    pub product: usize,
    pub supplier: usize,
    pub case: Case<'a>,
    pub minimum_packs: u32,
    pub chosen: Chosen,
}

/// The offer that a product is bought by, and what each number of packs tried would cost.
#[derive(Debug, Clone)]
pub(crate) struct Chosen {
    /// Place of the offer in the snapshot.
    pub offer: usize,
    /// Whether jobs that are booked or likely take it before the next order, with more than the
    /// chance that the shop would let it run out.
    pub wanted: bool,
    /// Costs by number of packs, none first, in rising order.
    pub curve: Vec<LineCost>,
    /// The best number if the supplier is ordered from.
    pub best: u32,
}

/// What the order has to heed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Limits {
    /// Least chance of lasting.
    pub service: f64,
    /// Most to spend; infinite: no limit.
    pub budget: f64,
    pub holding_rate: f64,
}

/// What one supplier's order came to.
#[derive(Debug, Clone)]
pub(crate) struct Choice {
    pub supplier: usize,
    /// Candidate places and packs, none left out that has packs.
    pub lines: Vec<(usize, u32)>,
    pub why: Why,
    /// Whether it should be placed before the weekly order day.
    pub urgent: bool,
}

/// Why a supplier is ordered from or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Why {
    /// A product would not last with the chance wanted.
    Service,
    /// The stalls avoided are worth more than the delivery.
    Worth { stalls_avoided: f64 },
    /// They are not.
    Wait { stalls_avoided: f64, delivery: f64 },
    /// Nothing of it is needed.
    Nothing,
    /// What is needed does not reach the minimum order, and is not worth filling up for.
    BelowMinimum { goods: f64 },
    /// The budget went to what saves more.
    Budget,
}

impl Candidate<'_> {
    /// The same with what was tried before.
    pub fn with(self, chosen: Chosen) -> Self {
        Self { chosen, ..self }
    }

    /// Tries numbers of packs until more cannot serve.
    pub fn study(mut self, limits: &Limits, up_to: f64) -> Self {
        let place_day = self.case.supply.place_day;
        self.chosen.curve.push(self.case.cost(0, place_day));
        let on_hand = self.case.shelf.on_hand + self.case.shelf.on_order;
        let pack = f64::from(self.case.containers_in_pack) * self.case.container_size;
        let short = up_to - on_hand;
        let none = self.chosen.curve[0];
        let lasts = none.stall_chance < 0.02 * (1.0 - limits.service) && none.stalls < 0.01;
        if short <= 0.0 && lasts {
            return self;
        }
        let target = (short / pack).ceil().clamp(1.0, 10_000.0) as u32;
        let step = (target / 6).max(1);
        let mut packs = self.minimum_packs.max(1);
        let mut worse = 0;
        while worse < 2 && self.chosen.curve.len() < 24 {
            let cost = self.case.cost(packs, place_day);
            let before = self.chosen.curve.last().copied().unwrap_or_default();
            let serves = cost.chance_after <= 1.0 - limits.service;
            worse = if Self::total(&cost) > Self::total(&before) && serves { worse + 1 } else { 0 };
            self.chosen.curve.push(cost);
            if packs > target.saturating_mul(2).saturating_add(2) {
                break;
            }
            packs += step;
        }
        self.refine(step, place_day);
        self.chosen.best = self.best_packs(limits);
        self
    }

    /// Tries the numbers about the cheapest so far, where not every number was tried.
    fn refine(&mut self, step: u32, place_day: i32) {
        if step == 1 {
            return;
        }
        let cheapest =
            self.chosen.curve.iter().min_by(|a, b| Self::total(a).total_cmp(&Self::total(b)));
        let middle = cheapest.map_or(0, |cost| cost.packs);
        let from = middle.saturating_sub(step - 1).max(self.minimum_packs.max(1));
        for packs in from..middle + step {
            if self.chosen.curve.iter().all(|cost| cost.packs != packs) {
                let cost = self.case.cost(packs, place_day);
                self.chosen.curve.push(cost);
            }
        }
        self.chosen.curve.sort_by_key(|cost| cost.packs);
    }

    /// The cheapest number of packs that lasts with the chance wanted; where none does, the
    /// cheapest of those that come nearest.
    fn best_packs(&self, limits: &Limits) -> u32 {
        let least = self.chosen.curve.iter().map(|c| c.chance_after).fold(1.0, f64::min);
        let bar = if self.chosen.wanted { (1.0 - limits.service).max(least + 0.005) } else { 1.0 };
        let serving = || self.chosen.curve.iter().filter(|cost| cost.chance_after <= bar);
        let by_total = |a: &&LineCost, b: &&LineCost| {
            Self::total(a).total_cmp(&Self::total(b)).then(a.packs.cmp(&b.packs))
        };
        let none = self.cost_of(0);
        let paying = serving().filter(|cost| !wastes_more_than_it_saves(&none, cost));
        let best = paying.min_by(by_total).or_else(|| serving().min_by(by_total));
        best.map_or(0, |cost| cost.packs)
    }

    /// Everything that a number of packs costs.
    pub fn total(cost: &LineCost) -> f64 {
        cost.besides + EARLY_WORTH * cost.early
    }

    /// The same of a number of packs that was tried (or of the nearest below).
    pub fn total_of(&self, packs: u32) -> f64 {
        Self::total(&self.cost_of(packs))
    }

    /// The cost of a number of packs that was tried (or of the nearest below).
    pub fn cost_of(&self, packs: u32) -> LineCost {
        let below = self.chosen.curve.iter().rev().find(|cost| cost.packs <= packs);
        below.copied().unwrap_or_default()
    }

    /// The next larger number that was tried.
    fn next_up(&self, packs: u32) -> Option<u32> {
        self.chosen.curve.iter().map(|cost| cost.packs).find(|n| *n > packs)
    }

    fn next_down(&self, packs: u32) -> u32 {
        self.chosen.curve.iter().rev().map(|cost| cost.packs).find(|n| *n < packs).unwrap_or(0)
    }

    pub fn price(&self, packs: u32) -> f64 {
        f64::from(packs) * self.case.pack_price
    }

    /// Stalls that ordering now avoids, in money.
    fn avoided(&self) -> f64 {
        self.cost_of(0).stalls - self.cost_of(self.chosen.best).stalls
    }

    /// Whether it would not last with the chance wanted, and ordering helps.
    fn needs_service(&self, limits: &Limits) -> bool {
        let (without, with) = (self.cost_of(0), self.cost_of(self.chosen.best));
        self.chosen.best > 0
            && self.chosen.wanted
            && without.stall_chance > 1.0 - limits.service
            && with.stall_chance < without.stall_chance - 0.25 * (1.0 - limits.service)
    }
}

/// Whether `more` packs let more go off than they save in stalls and in deliveries before their
/// time (a delivery counts once here: the hurry is no money).
fn wastes_more_than_it_saves(fewer: &LineCost, more: &LineCost) -> bool {
    let saves = fewer.stalls - more.stalls + fewer.early - more.early;
    more.waste - fewer.waste > saves.max(0.0) + 0.01
}

/// Chooses one supplier's order from the candidates that it is the supplier of.
pub(crate) fn choose(
    candidates: &mut [Candidate<'_>],
    supply: &Supply,
    supplier: usize,
    limits: &Limits,
) -> Choice {
    let own: Vec<usize> =
        (0..candidates.len()).filter(|c| candidates[*c].supplier == supplier).collect();
    let needed: Vec<usize> =
        own.iter().copied().filter(|c| candidates[*c].chosen.best > 0).collect();
    let waits = |why| Choice { supplier, lines: Vec::new(), why, urgent: false };
    if needed.is_empty() {
        return waits(Why::Nothing);
    }
    let avoided: f64 = needed.iter().map(|c| candidates[*c].avoided().max(0.0)).sum();
    let goods: f64 = needed.iter().map(|c| candidates[*c].price(candidates[*c].chosen.best)).sum();
    let week = limits.holding_rate * goods * f64::from(REVIEW_DAYS) / 365.0;
    let delivery = supply.freight_of(goods) / f64::from(supply.cycle_weeks) + week;
    let service = needed.iter().any(|c| candidates[*c].needs_service(limits));
    if !service && avoided <= delivery {
        return waits(Why::Wait { stalls_avoided: avoided, delivery });
    }
    let mut lines: Vec<(usize, u32)> =
        needed.iter().map(|c| (*c, candidates[*c].chosen.best)).collect();
    if goods < supply.minimum {
        let filled = fill(candidates, &own, &lines, (supply.minimum, true));
        let worth = avoided + if service { f64::INFINITY } else { -delivery };
        match filled {
            Some((fuller, cost)) if cost <= worth => lines = fuller,
            _ => return waits(Why::BelowMinimum { goods }),
        }
    }
    let goods = goods_of(candidates, &lines);
    if let Some(over) = supply.free_over.filter(|over| goods < *over && supply.freight > 0.0)
        && let Some((fuller, cost)) = fill(candidates, &own, &lines, (over, false))
        && cost < supply.freight
    {
        lines = fuller;
    }
    let urgent = is_urgent(candidates, &lines, supply);
    let why = if service { Why::Service } else { Why::Worth { stalls_avoided: avoided } };
    Choice { supplier, lines, why, urgent }
}

pub(crate) fn goods_of(candidates: &[Candidate<'_>], lines: &[(usize, u32)]) -> f64 {
    lines.iter().map(|(c, packs)| candidates[*c].price(*packs)).sum()
}

/// Adds what will be needed soonest until the goods reach `goal`: each time the pack that costs
/// least beyond its price, per money spent. Gives the lines and what they cost beyond need, or
/// nothing where the goal is out of reach. Where it may not `waste`, nothing is added of which more
/// goes off than it saves.
fn fill(
    candidates: &mut [Candidate<'_>],
    own: &[usize],
    lines: &[(usize, u32)],
    (goal, waste): (f64, bool),
) -> Option<(Vec<(usize, u32)>, f64)> {
    let mut packs: Vec<(usize, u32)> = own
        .iter()
        .map(|c| (*c, lines.iter().find(|(line, _)| line == c).map_or(0, |(_, packs)| *packs)))
        .collect();
    let mut extra_cost = 0.0;
    for _ in 0..200 {
        let missing = goal - goods_of(candidates, &packs);
        if missing <= 0.0 {
            packs.retain(|(_, packs)| *packs > 0);
            return Some((packs, extra_cost));
        }
        let mut best: Option<(f64, usize, u32, f64)> = None;
        for (place, (c, now)) in packs.iter().enumerate() {
            let candidate = &mut candidates[*c];
            let Some(next) = one_more(candidate, *now) else { continue };
            if !waste
                && wastes_more_than_it_saves(&candidate.cost_of(*now), &candidate.cost_of(next))
            {
                continue;
            }
            let extra = candidate.total_of(next) - candidate.total_of(*now);
            let counted = (candidate.price(next) - candidate.price(*now)).min(missing).max(1e-9);
            let rate = extra / counted;
            if best.is_none_or(|(least, ..)| rate < least) {
                best = Some((rate, place, next, extra));
            }
        }
        let (_, place, next, extra) = best?;
        packs[place].1 = next;
        extra_cost += extra;
    }
    None
}

/// The next number of packs up, tried if it was not yet. None where the product has no use.
fn one_more(candidate: &mut Candidate<'_>, packs: u32) -> Option<u32> {
    if let Some(next) = candidate.next_up(packs) {
        return Some(next);
    }
    if candidate.case.daily_use <= 0.0 || candidate.chosen.curve.len() > 40 {
        return None;
    }
    let next = (packs + 1).max(candidate.minimum_packs);
    let cost = candidate.case.cost(next, candidate.case.supply.place_day);
    candidate.chosen.curve.push(cost);
    Some(next)
}

/// Whether placing the order at once instead of on the weekly order day avoids stalls worth a
/// fiftieth of one.
fn is_urgent(candidates: &[Candidate<'_>], lines: &[(usize, u32)], supply: &Supply) -> bool {
    if supply.soonest_day >= supply.place_day {
        return false;
    }
    let saved = |(c, packs): &(usize, u32)| {
        let case = &candidates[*c].case;
        case.cost(*packs, supply.place_day).stalls - case.cost(*packs, supply.soonest_day).stalls
    };
    let saved: f64 = lines.par_iter().map(saved).collect::<Vec<f64>>().iter().sum();
    saved > 3.0
}

/// Takes packs out, those first that save least per money set free, until what is bought fits the
/// budget. Where an order would fall below its supplier's minimum, the whole of it goes.
pub(crate) fn fit_budget(
    candidates: &[Candidate<'_>],
    supplies: &[Supply],
    choices: &mut [Choice],
    limits: &Limits,
) {
    let spent = |choice: &Choice| {
        let goods = goods_of(candidates, &choice.lines);
        let freight = supplies[choice.supplier].freight_of(goods);
        if choice.lines.is_empty() { 0.0 } else { goods + freight }
    };
    let costs = |choice: &Choice| -> f64 {
        choice
            .lines
            .iter()
            .map(|(c, packs)| candidates[*c].total_of(*packs) - candidates[*c].total_of(0))
            .sum()
    };
    while choices.iter().map(spent).sum::<f64>() > limits.budget {
        let mut least: Option<(f64, usize, Choice)> = None;
        for (place, choice) in choices.iter().enumerate() {
            for line in 0..choice.lines.len() {
                let fewer = with_fewer(candidates, supplies, choice, line);
                let lost = (costs(&fewer) - costs(choice)).max(0.0);
                let freed = spent(choice) - spent(&fewer);
                let rate = if freed > 0.0 { lost / freed } else { f64::INFINITY };
                if least.as_ref().is_none_or(|(smallest, ..)| rate < *smallest) {
                    least = Some((rate, place, fewer));
                }
            }
        }
        let Some((_, place, fewer)) = least else { return };
        choices[place] = fewer;
    }
}

/// The order with the next smaller number of packs in one line.
fn with_fewer(
    candidates: &[Candidate<'_>],
    supplies: &[Supply],
    choice: &Choice,
    line: usize,
) -> Choice {
    let mut fewer = choice.clone();
    let (c, packs) = fewer.lines[line];
    fewer.lines[line].1 = candidates[c].next_down(packs);
    fewer.lines.retain(|(_, packs)| *packs > 0);
    if goods_of(candidates, &fewer.lines) < supplies[choice.supplier].minimum {
        fewer.lines.clear();
    }
    if fewer.lines.is_empty() {
        fewer.why = Why::Budget;
    }
    fewer
}
