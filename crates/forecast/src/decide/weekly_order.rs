//! The weekly order: what to buy this week, by supplier, with reasons.

use capful_domain::{Money, Snapshot};
use chrono::{Days, NaiveDate};
use rayon::prelude::*;
use rust_decimal::Decimal;

use crate::decide::choose::{Candidate, Choice, Chosen, Limits, Why, choose, fit_budget};
use crate::decide::line_parts::line_parts;
use crate::decide::product_result::ProductResult;
use crate::learn::index::float;
use crate::plan::text::{Shown, counted, is_many, long_day, short_day};
use crate::plan::{
    Arrives, LineParts, OrderLine, PacksTried, SupplierOrder, WaitingSupplier, WeeklyOrder,
};
use crate::simulate::order_cost::Case;
use crate::simulate::scenarios::ModelInputs;
use crate::simulate::shelf::{money, unit_price};
use crate::simulate::stock::Stock;

impl Limits {
    /// What the shop wants of its orders.
    pub fn of(snapshot: &Snapshot) -> Self {
        let shop = &snapshot.facts.shop;
        Self {
            service: float(shop.service),
            budget: shop.budget.map_or(f64::INFINITY, |budget| money(snapshot, budget)),
            holding_rate: float(shop.holding_rate),
        }
    }
}

/// Chooses what to buy and says why. `walked` is what was worked out of each product.
pub(crate) fn weekly_order(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    results: &[ProductResult],
) -> WeeklyOrder {
    let shop = &inputs.snapshot.facts.shop;
    let limits = Limits::of(inputs.snapshot);
    let chosen = results.iter().enumerate();
    let chosen = chosen.filter_map(|(product, own)| Some((product, own.chosen.as_ref()?)));
    let again = |(product, chosen): (usize, &Chosen)| {
        let candidate = candidate(inputs, stock, &limits, (product, chosen.offer));
        candidate.with(chosen.clone())
    };
    let mut candidates: Vec<Candidate<'_>> = chosen.map(again).collect();
    let suppliers = 0..inputs.snapshot.facts.suppliers.len();
    let mut choices: Vec<Choice> = suppliers
        .map(|supplier| choose(&mut candidates, &stock.supplies[supplier], supplier, &limits))
        .collect();
    fit_budget(&candidates, &stock.supplies, &mut choices, &limits);
    let writer = Writer { inputs, stock, candidates: &candidates };
    let (ordered, waiting): (Vec<&Choice>, Vec<&Choice>) =
        choices.iter().partition(|choice| !choice.lines.is_empty());
    let orders: Vec<SupplierOrder> = ordered.iter().map(|c| writer.order(c)).collect();
    let mut total: Decimal = orders.iter().map(|order| order.total).sum();
    // Of no orders too it has the currency's decimals.
    total.rescale(shop.currency.decimals());
    WeeklyOrder {
        total,
        waiting: waiting.iter().filter_map(|c| writer.waiting(c)).collect(),
        orders,
    }
}

/// The offer that a product is bought by: the preferred one, else the cheapest, unless that serves
/// badly.
pub(crate) fn chosen(
    inputs: &ModelInputs<'_>,
    stock: &Stock,
    limits: &Limits,
    product: usize,
) -> Option<Chosen> {
    let offers = offers_of(inputs.snapshot, inputs, product);
    let first = studied(inputs, stock, limits, (product, *offers.first()?));
    let others = offers[1..].iter().map(|offer| studied(inputs, stock, limits, (product, *offer)));
    Some(best_of(first, others).chosen)
}

/// `first`, or another offer where the first comes too late or is more than is used before it goes
/// off, if that is worth the other's price and a delivery more.
fn best_of<'a>(first: Candidate<'a>, others: impl Iterator<Item = Candidate<'a>>) -> Candidate<'a> {
    let best = first.cost_of(first.chosen.best);
    let bad = best.stalls + (best.waste - first.cost_of(0).waste).max(0.0);
    if bad < 1.0 || !first.chosen.wanted {
        return first;
    }
    let price = price_of_unit(&first);
    let cost = |c: &Candidate<'_>| {
        let goods = c.price(c.chosen.best);
        let own = price_of_unit(c);
        // What is left over is worth no more than was paid for it.
        let overvalued = (price - own).max(0.0) * goods / own.max(1e-9);
        let same = c.supplier == first.supplier;
        let freight = if same { 0.0 } else { c.case.supply.freight_of(goods) };
        c.total_of(c.chosen.best) + overvalued + freight
    };
    let enough = first.total_of(first.chosen.best) - 0.02 * bad;
    let better = others.filter(|c| c.chosen.best > 0 && cost(c) < enough);
    let better = better.min_by(|a, b| cost(a).total_cmp(&cost(b)));
    better.unwrap_or(first)
}

/// What a base unit costs of a candidate's offer.
fn price_of_unit(candidate: &Candidate<'_>) -> f64 {
    let case = &candidate.case;
    case.pack_price / (f64::from(case.containers_in_pack) * case.container_size)
}

/// Places of a product's offers: the preferred first, then by the price of a unit.
fn offers_of(snapshot: &Snapshot, inputs: &ModelInputs<'_>, product: usize) -> Vec<usize> {
    let id = &inputs.index.products[product].id;
    let offers = snapshot.facts.offers.iter().enumerate();
    let mut own: Vec<(bool, f64, usize)> = offers
        .filter(|(_, offer)| offer.product == *id)
        .filter(|(_, offer)| snapshot.facts.suppliers.iter().any(|s| s.id == offer.supplier))
        .map(|(place, offer)| (!offer.preferred, unit_price(snapshot, inputs.index, offer), place))
        .collect();
    own.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)).then(a.2.cmp(&b.2)));
    own.into_iter().map(|(_, _, place)| place).collect()
}

/// A product from one supplier, nothing tried yet.
fn candidate<'a>(
    inputs: &ModelInputs<'_>,
    stock: &'a Stock,
    limits: &Limits,
    (product, offer): (usize, usize),
) -> Candidate<'a> {
    let sold = &inputs.snapshot.facts.offers[offer];
    let suppliers = &inputs.snapshot.facts.suppliers;
    let supplier = suppliers.iter().position(|s| s.id == sold.supplier).unwrap_or(0);
    let own = &inputs.index.products[product];
    let case = Case {
        shelf: &stock.shelves[product],
        futures: &stock.futures.products[product],
        supply: &stock.supplies[supplier],
        coming: &stock.coming[product],
        spare: &stock.spare[product],
        rules: stock.rules(inputs.index, product, 0),
        books_off: &stock.books_off[product],
        containers_in_pack: sold.pack.max(1),
        container_size: own.size,
        pack_price: money(inputs.snapshot, sold.price),
        holding_rate: limits.holding_rate,
        daily_use: stock.daily_use[product],
    };
    let chosen = Chosen { offer, wanted: false, curve: Vec::new(), best: 0 };
    Candidate { product, supplier, case, minimum_packs: sold.minimum_packs, chosen }
}

fn studied<'a>(
    inputs: &ModelInputs<'_>,
    stock: &'a Stock,
    limits: &Limits,
    place: (usize, usize),
) -> Candidate<'a> {
    let mut candidate = candidate(inputs, stock, limits, place);
    let (futures, supply) = (candidate.case.futures, candidate.case.supply);
    let takes = |future: &usize| {
        let end = supply.next_arrives(*future);
        futures.of(*future).first().is_some_and(|draw| draw.day < end)
    };
    let taken = (0..stock.futures.count).filter(takes).count() as f64;
    candidate.chosen.wanted = taken > (1.0 - limits.service) * stock.futures.count as f64;
    let totals = futures.totals(|future| supply.cycle_arrives(future));
    candidate.study(limits, crate::statistics::quantile_of(&totals, limits.service))
}

struct Writer<'a, 'k> {
    inputs: &'a ModelInputs<'k>,
    stock: &'a Stock,
    candidates: &'a [Candidate<'k>],
}

impl Writer<'_, '_> {
    fn order(&self, choice: &Choice) -> SupplierOrder {
        let snapshot = self.inputs.snapshot;
        let supplier = &snapshot.facts.suppliers[choice.supplier];
        let supply = &self.stock.supplies[choice.supplier];
        let currency = snapshot.facts.shop.currency;
        let place_day = if choice.urgent { supply.soonest_day } else { supply.place_day };
        let place_by = self.day(place_day);
        let lead = &self.stock.leads[choice.supplier];
        let shop = &snapshot.facts.shop;
        // Nobody is there to take it in on a day that the shop is closed.
        let open_from = |day: NaiveDate| {
            let mut days = (0..60).map(|later| day + Days::new(later));
            days.find(|day| shop.is_open(*day)).unwrap_or(day)
        };
        let arrives =
            |chance| open_from(self.day(place_day + lead.quantile(chance).round() as i32));
        let mut lines: Vec<(f64, OrderLine)> = choice
            .lines
            .par_iter()
            .map(|(candidate, packs)| self.line(choice, &self.candidates[*candidate], *packs))
            .collect();
        lines.sort_by(|a, b| b.0.total_cmp(&a.0).then_with(|| a.1.product.cmp(&b.1.product)));
        let lines: Vec<OrderLine> = lines.into_iter().map(|(_, line)| line).collect();
        let goods: Decimal = lines.iter().map(|line| line.cost).sum();
        let value = Money::from_decimal(goods, currency).unwrap_or_default();
        let free = supplier.free_freight_over.is_some_and(|over| value >= over);
        let freight = supplier.freight_of(value).to_decimal(currency);
        SupplierOrder {
            supplier: supplier.id.to_string(),
            place_by,
            arrives: Arrives { p50: arrives(0.5), p90: arrives(0.9) },
            goods,
            freight,
            total: goods + freight,
            why: self.why_now(choice, &lines, free, freight),
            lines,
        }
    }

    fn day(&self, ahead: i32) -> NaiveDate {
        self.inputs.snapshot.day + Days::new(u64::from(ahead.max(0).unsigned_abs()))
    }

    fn why_now(
        &self,
        choice: &Choice,
        lines: &[OrderLine],
        free: bool,
        freight: Decimal,
    ) -> String {
        let currency = self.inputs.snapshot.facts.shop.currency;
        let mut why = match choice.why {
            Why::Worth { stalls_avoided } => format!(
                "Waiting a week would risk stalls worth {} {currency}; ordering now costs less.",
                self.cash(stalls_avoided)
            ),
            _ => {
                let name = self.pressing(lines);
                format!("{name} would not last until an order placed a week later is there.")
            }
        };
        if free {
            why.push_str(" The delivery is free.");
        } else if freight > Decimal::ZERO {
            why.push_str(&format!(" The delivery costs {freight} {currency}."));
        }
        if choice.urgent {
            why.push_str(" Do not wait for the weekly order day.");
        }
        why
    }

    /// The name of the product of the most pressing line.
    fn pressing(&self, lines: &[OrderLine]) -> &str {
        let first = lines.first().map(|line| line.product.as_str());
        let own = self.inputs.index.products.iter().find(|p| first == Some(p.id.as_str()));
        own.map_or("", |product| &product.name)
    }

    fn line(&self, choice: &Choice, candidate: &Candidate<'_>, packs: u32) -> (f64, OrderLine) {
        let snapshot = self.inputs.snapshot;
        let offer = &snapshot.facts.offers[candidate.chosen.offer];
        let (without, with) = (candidate.cost_of(0), candidate.cost_of(packs));
        let cost = offer.price.times(packs.into()).to_decimal(snapshot.facts.shop.currency);
        let parts = line_parts(self.inputs, self.stock, candidate, packs);
        let line = OrderLine {
            product: self.inputs.index.products[candidate.product].id.to_string(),
            packs,
            containers: packs * offer.pack,
            cost,
            stall_chance_without: crate::statistics::rounded(without.stall_chance, 4),
            stall_chance_with: crate::statistics::rounded(with.stall_chance, 4),
            expected_waste: self.cash((with.waste - without.waste).max(0.0)),
            why: self.why_line(choice, candidate, packs, &parts),
            code: offer.code.clone(),
            parts,
            tried: self.tried(candidate),
        };
        (without.stalls - with.stalls, line)
    }

    /// What every number of packs that was tried comes to.
    fn tried(&self, candidate: &Candidate<'_>) -> Vec<PacksTried> {
        let none = candidate.cost_of(0);
        let mut tried: Vec<PacksTried> = candidate
            .chosen
            .curve
            .iter()
            .map(|cost| PacksTried {
                packs: cost.packs,
                stall_chance: crate::statistics::rounded(cost.stall_chance, 4),
                expected_waste: self.cash((cost.waste - none.waste).max(0.0)),
            })
            .collect();
        tried.sort_by_key(|tried| tried.packs);
        tried
    }

    fn cash(&self, amount: f64) -> Decimal {
        let places = self.inputs.snapshot.facts.shop.currency.decimals();
        let mut cash = Decimal::try_from(amount).unwrap_or_default().round_dp(places);
        cash.rescale(places);
        cash
    }

    /// The reason in sentences; the numbers are rounded so that they add up as they stand.
    fn why_line(
        &self,
        choice: &Choice,
        candidate: &Candidate<'_>,
        packs: u32,
        parts: &LineParts,
    ) -> String {
        let stock = self.stock;
        let own = &self.inputs.index.products[candidate.product];
        let base = |amount: &crate::plan::AmountIn| amount.amount * own.unit_base;
        let (booked, others) = (base(&parts.booked), base(&parts.not_booked));
        let shelf = &stock.shelves[candidate.product];
        let units = self.inputs.snapshot.facts.shop.units;
        let largest = (booked + others).max(shelf.on_hand).max(shelf.on_order);
        let shown = Shown::for_quantity(own.unit.dimension(), units, largest);
        let (booked, others) = (shown.round(booked), shown.round(others));
        let jobs = counted(parts.booked_jobs as usize, "booked job takes", "booked jobs take");
        let end = short_day(parts.to, self.inputs.snapshot.day);
        let mut why = match (parts.booked_jobs > 0 && booked > 0.0, others > 0.0) {
            (true, true) => format!(
                "Until {end} {jobs} about {} and jobs not booked yet about {}: {} in all.",
                shown.number(booked),
                shown.number(others),
                shown.number(booked + others)
            ),
            (true, false) => format!("Until {end} {jobs} about {}.", shown.number(booked)),
            (false, true) => {
                format!("Until {end} jobs not booked yet take about {}.", shown.number(others))
            }
            (false, false) => format!("Nothing is booked for it until {end}."),
        };
        let left = shown.text(shelf.on_hand);
        why.push_str(&format!(" {left} {} left", if is_many(&left) { "are" } else { "is" }));
        if shelf.on_order > 0.0 {
            why.push_str(&format!(" and {} on order", shown.text(shelf.on_order)));
        }
        why.push_str(&self.what_for(choice, candidate, packs, (parts, shown)));
        why
    }

    /// What a line is bought for, as the end of its reason.
    fn what_for(
        &self,
        choice: &Choice,
        candidate: &Candidate<'_>,
        packs: u32,
        (parts, shown): (&LineParts, Shown),
    ) -> String {
        let chances = [candidate.cost_of(0), candidate.cost_of(packs)].map(|c| c.stall_chance);
        let said = chances.map(percent);
        let there = parts.on_hand.amount + parts.on_order.amount;
        let unit = self.inputs.index.products[candidate.product].unit_base;
        if chances[0] > 0.005 && said[0] != said[1] {
            let [without, with] = said;
            format!(
                ": the chance that a job stalls for it is {without} without this and {with} with \
                 it."
            )
        } else if there < parts.reorder_point.amount {
            format!(
                ": enough on average, and less than the {} of the reorder point.",
                shown.text(parts.reorder_point.amount * unit)
            )
        } else if packs > candidate.chosen.best {
            match self.fills_minimum(choice) {
                true => ": enough until then, but it brings the order to its minimum.".to_owned(),
                false => {
                    ": enough until then, but bought with the rest it saves freight.".to_owned()
                }
            }
        } else if candidate.case.supply.cycle_weeks > 1 {
            format!(
                ": enough until then. This order is to last until {}, and jobs may take {} by \
                 then.",
                short_day(parts.up_to_day, self.inputs.snapshot.day),
                shown.text(parts.order_up_to.amount * unit)
            )
        } else {
            ": it will be needed soon, and this delivery can bring it.".to_owned()
        }
    }

    /// Whether what is needed alone would not have reached the supplier's minimum order.
    fn fills_minimum(&self, choice: &Choice) -> bool {
        let needed = choice.lines.iter().map(|(place, packs)| {
            let candidate = &self.candidates[*place];
            candidate.price((*packs).min(candidate.chosen.best))
        });
        needed.sum::<f64>() < self.stock.supplies[choice.supplier].minimum
    }

    fn waiting(&self, choice: &Choice) -> Option<WaitingSupplier> {
        let snapshot = self.inputs.snapshot;
        let supplier = &snapshot.facts.suppliers[choice.supplier];
        let currency = snapshot.facts.shop.currency;
        let supply = &self.stock.supplies[choice.supplier];
        let cash = |amount| self.cash(amount);
        let next = long_day(self.day(supply.place_day + crate::simulate::supply::REVIEW_DAYS));
        let why = match choice.why {
            Why::Wait { stalls_avoided, delivery } if stalls_avoided >= 0.005 => format!(
                "Can wait until {next}: that risks stalls worth {} {currency}, and ordering now \
                 costs {} {currency} (a week's share of the delivery, and money tied up).",
                cash(stalls_avoided),
                cash(delivery)
            ),
            Why::BelowMinimum { goods } => format!(
                "What is needed costs {} {currency}, below its minimum order of {} {currency}; \
                 filling up is not worth it before {next}.",
                cash(goods),
                cash(supply.minimum)
            ),
            Why::Budget => "Left out: the budget goes to what saves more.".to_owned(),
            _ => format!("Nothing of it is needed before the weekly order of {next}."),
        };
        Some(WaitingSupplier { supplier: supplier.id.to_string(), why })
    }
}

/// A chance in whole percents, small ones as such.
fn percent(chance: f64) -> String {
    let percent = (chance * 100.0).round();
    if percent < 1.0 { "under 1 %".to_owned() } else { format!("{percent:.0} %") }
}
