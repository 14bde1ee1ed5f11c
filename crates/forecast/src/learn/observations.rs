//! What the records say of usage: each observation is a sum of units of work.
//!
//! A measured pour speaks of one job. Two levels of the shelf (a count; a container opened when
//! the last was empty) and what came in and was thrown away between them speak of every job
//! between, less what was measured.

use std::collections::HashMap;

use capful_domain::facts::{Count, DiscardReason};
use capful_domain::{Ledger, MovementKind, Snapshot, Source};
use chrono::{DateTime, Utc};
use rayon::prelude::*;

use crate::learn::fitter::Censoring;
use crate::learn::history::{Gap, JobUse, end_of_day, mix_ratios, poured_quantity};
use crate::learn::index::{Index, UnitOfWork, base, float};

/// A unit of work in an observation.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Part {
    /// Place of its job in the snapshot.
    pub job: usize,
    pub unit: UnitOfWork,
    /// Whether the observation's end falls into the job, so that only a part of it counts.
    pub half: bool,
}

/// One sum that was seen.
#[derive(Debug, Clone)]
pub(crate) struct Observation {
    pub from: DateTime<Utc>,
    pub to: DateTime<Utc>,
    /// What went, in base units of product as bought.
    pub seen: f64,
    /// Variance of how it was seen.
    pub noise_variance: f64,
    pub parts: Vec<Part>,
    /// Whether it is one job's measured pour.
    pub measured: bool,
    /// Variance of the level that it starts from, where the observation before ends there.
    pub shared_variance: f64,
    /// `seen` is the most that it can be where it is what an open container held that is not empty
    /// yet, or was thrown away; the least where the product then ran out.
    pub censoring: Censoring,
}

/// What cannot be read off a container, as a share of its size.
const READING_SD: f64 = 0.005;
/// What is left in a container that is called empty, as a share of its size.
const DREGS_SD: f64 = 0.02;
/// Sealed containers of a product that usually stand there.
const USUALLY_SEALED: f64 = 3.0;
/// Share by which a count may miss a sealed container.
const NEARLY_FULL: f64 = 0.06;
/// A product's openings are told where at least this share of them is written.
const LEAST_TOLD: f64 = 0.65;
/// Openings of a product that the shop's habit with other products is worth.
const OTHERS_WORTH: f64 = 2.0;
/// What is not known of an opened container that was thrown away, as a share of its size.
const THROWN_SD: f64 = 0.3;

/// An event on one product's shelf.
#[derive(Debug, Clone, Copy)]
enum Event {
    /// Came in: how much, how many containers.
    In { quantity: f64, containers: f64 },
    /// Went, and is not a job's unmeasured usage; `sealed`: how many sealed containers.
    Out { quantity: f64, variance: f64, sealed: f64, last_open: bool },
    /// A container was opened; `last_empty`: nothing else is open.
    Opened { last_empty: bool },
    /// All of it was counted; `sealed` of it unopened, `open` in the others.
    Counted { quantity: f64, sd: f64, sealed: Option<f64> },
}

/// The level of the shelf at a moment, where it is known.
#[derive(Debug, Clone, Copy)]
struct Level {
    at: DateTime<Utc>,
    quantity: f64,
    variance: f64,
    /// Whether it is a true level, and not merely one that differences can be taken of.
    absolute: bool,
    opening: bool,
    /// Whether nothing was open before, so that no job is cut by it.
    fresh: bool,
}

/// What the records say of each product.
pub(crate) struct Records {
    /// Its observations: measured pours, then spans, each in the order of time.
    pub observations: Vec<Vec<Observation>>,
    /// Whether the shop writes down when a container of it is opened.
    pub tells_openings: Vec<bool>,
}

/// What the records say, with the observations of the products that are wanted.
pub(crate) fn records(
    snapshot: &Snapshot,
    index: &Index,
    uses: &[Vec<JobUse>],
    gaps: &[Gap],
    ledger: &Ledger,
    is_wanted: impl Fn(usize) -> bool + Sync,
) -> Records {
    let events = events(snapshot, index, ledger);
    let day_of = |at: DateTime<Utc>| snapshot.facts.shop.day_of(at);
    let spans_gap = |o: &Observation| {
        gaps.iter().any(|gap| day_of(o.from) < gap.to && day_of(o.to) >= gap.from)
    };
    let tells_openings = tells_openings(index, &events);
    let of_product = |(product, (uses, events)): (usize, (&Vec<JobUse>, Events))| {
        if !is_wanted(product) {
            return Vec::new();
        }
        let mut own = measured(uses);
        let shelf = Shelf::new(index.products[product].size, tells_openings[product]);
        let spans = shelf.spans(&events, end_of_day(snapshot));
        let mut level_before = None;
        for span in spans {
            let seen = of_span(&span, uses).filter(|o| !spans_gap(o));
            let Some(mut seen) = seen else { continue };
            if level_before == Some(span.from.at) && seen.censoring == Censoring::None {
                seen.shared_variance = span.from.variance;
            }
            level_before = Some(span.to.at).filter(|_| seen.censoring == Censoring::None);
            own.extend(before_the_last_job(&seen));
            own.push(seen);
        }
        own
    };
    let observations = uses.par_iter().zip(events).enumerate().map(of_product).collect();
    Records { observations, tells_openings }
}

fn measured(uses: &[JobUse]) -> Vec<Observation> {
    let whole = |job: usize, unit: &UnitOfWork| Part { job, unit: *unit, half: false };
    let seen = uses.iter().filter_map(|one| one.measured.map(|seen| (one, seen)));
    seen.map(|(one, seen)| Observation {
        from: one.began,
        to: one.at,
        seen,
        noise_variance: 0.0,
        parts: one.units.iter().map(|unit| whole(one.job, unit)).collect(),
        measured: true,
        shared_variance: 0.0,
        censoring: Censoring::None,
    })
    .collect()
}

/// What went between two levels.
#[derive(Debug)]
struct Span {
    from: Level,
    to: Level,
    went: f64,
    variance: f64,
    censoring: Censoring,
}

fn of_span(span: &Span, uses: &[JobUse]) -> Option<Observation> {
    let start = uses.partition_point(|one| one.until < span.from.at);
    let mut parts = Vec::new();
    for one in uses[start..].iter().filter(|one| one.measured.is_none()) {
        let cut_by = |level: &Level| {
            level.opening && !level.fresh && one.began <= level.at && level.at <= one.until
        };
        let half = cut_by(&span.from) || cut_by(&span.to);
        let inside = span.from.at < one.at && one.at <= span.to.at;
        if half || inside {
            parts.extend(one.units.iter().map(|unit| Part { job: one.job, unit: *unit, half }));
        }
        if one.began > span.to.at {
            break;
        }
    }
    let sd = span.variance.sqrt();
    if parts.is_empty() || span.went < -3.0 * sd {
        return None;
    }
    Some(Observation {
        from: span.from.at,
        to: span.to.at,
        seen: span.went.max(0.0),
        noise_variance: span.variance,
        parts,
        measured: false,
        shared_variance: 0.0,
        censoring: span.censoring,
    })
}

/// Where a product ran out in a job, the jobs before it took no more than there was.
fn before_the_last_job(ran_out: &Observation) -> Option<Observation> {
    let last = ran_out.parts.last().filter(|_| ran_out.censoring == Censoring::AtLeast)?;
    let before: Vec<Part> =
        ran_out.parts.iter().filter(|part| part.job != last.job).copied().collect();
    let censoring = Censoring::AtMost;
    (!before.is_empty()).then(|| Observation { parts: before, censoring, ..ran_out.clone() })
}

/// Of each product whether the shop writes down when a container is opened, so that none was opened
/// where nothing is written: the openings that are written beside the containers that came and are
/// no longer there sealed. A product with few leans on the shop's habit with the others.
fn tells_openings(index: &Index, events: &[Events]) -> Vec<bool> {
    let seen: Vec<(f64, f64)> = events
        .iter()
        .zip(&index.products)
        .map(|(events, product)| written_and_due(product.size, events))
        .collect();
    let (written, due) = seen.iter().fold((0.0, 0.0), |sum, one| (sum.0 + one.0, sum.1 + one.1));
    let usual = (written / f64::max(due, 1.0)).min(1.0);
    let tells = |(written, due): &(f64, f64)| {
        *written > 0.0 && (written + OTHERS_WORTH * usual) / (due + OTHERS_WORTH) >= LEAST_TOLD
    };
    seen.iter().map(tells).collect()
}

/// Openings that are written, and how many there must have been.
fn written_and_due(size: f64, events: &[(DateTime<Utc>, Event)]) -> (f64, f64) {
    let (mut came, mut opened, mut last_seen) = (0.0, 0.0, None);
    for (_, event) in events {
        match event {
            Event::In { containers, .. } => came += containers,
            Event::Opened { .. } => opened += 1.0,
            Event::Counted { quantity, .. } => last_seen = Some(quantity / size),
            Event::Out { sealed, .. } => came -= sealed,
        }
    }
    let there: f64 = last_seen.unwrap_or(USUALLY_SEALED);
    (opened, (came - there.max(USUALLY_SEALED)).max(0.0))
}

/// What is known of one product's shelf as its events go by.
struct Shelf {
    size: f64,
    tells_openings: bool,
    /// Sealed containers; only differences mean something until `absolute`.
    sealed: f64,
    absolute: bool,
    /// Whether it is known that nothing is open.
    none_open: bool,
    level: Option<Level>,
    came: f64,
    went: f64,
    variance: f64,
}

impl Shelf {
    const fn new(size: f64, tells_openings: bool) -> Self {
        Self {
            size,
            tells_openings,
            sealed: 0.0,
            absolute: false,
            none_open: false,
            level: None,
            came: 0.0,
            went: 0.0,
            variance: 0.0,
        }
    }

    fn spans(mut self, events: &[(DateTime<Utc>, Event)], now: DateTime<Utc>) -> Vec<Span> {
        let mut spans = Vec::new();
        for (at, event) in events {
            match *event {
                Event::In { quantity, containers } => {
                    self.came += quantity;
                    self.sealed += containers;
                }
                Event::Out { quantity, variance, sealed, last_open } => {
                    self.went += quantity;
                    self.variance += variance;
                    self.sealed -= sealed;
                    if last_open && self.tells_openings {
                        self.went -= quantity;
                        self.not_empty_yet(*at, &mut spans);
                        self.start_over(*at);
                    }
                }
                Event::Opened { last_empty } => self.opened(*at, last_empty, &mut spans),
                Event::Counted { quantity, sd, sealed } => {
                    self.counted(*at, quantity, sd, sealed, &mut spans);
                }
            }
        }
        if self.tells_openings {
            self.not_empty_yet(now, &mut spans);
        }
        spans
    }

    /// The open container is not empty: no more than what it held has gone since it was opened.
    fn not_empty_yet(&self, at: DateTime<Utc>, spans: &mut Vec<Span>) {
        let Some(from) = self.level.filter(|from| from.opening) else { return };
        let quantity = self.sealed * self.size;
        let to = Level {
            at,
            quantity,
            variance: 0.0,
            absolute: from.absolute,
            opening: false,
            fresh: false,
        };
        let went = from.quantity + self.came - self.went - quantity;
        let variance = from.variance + self.variance;
        spans.push(Span { from, to, went, variance, censoring: Censoring::AtMost });
    }

    /// What went with the last open container is not known: only what is sealed is there now.
    fn start_over(&mut self, at: DateTime<Utc>) {
        let quantity = self.sealed * self.size;
        let (absolute, opening) = (self.absolute, false);
        self.stand_at(Level { at, quantity, variance: 0.0, absolute, opening, fresh: false });
        self.none_open = true;
    }

    fn opened(&mut self, at: DateTime<Utc>, last_empty: bool, spans: &mut Vec<Span>) {
        if self.absolute && self.sealed < 1.0 {
            // One more was there than the records say.
            self.came += self.size * (1.0 - self.sealed);
            self.sealed = 1.0;
        }
        if last_empty && self.tells_openings {
            // Where nothing was open its first job begins with it; else a job began with the last.
            let fresh = self.none_open;
            let level = Level {
                at,
                quantity: self.sealed * self.size,
                variance: if fresh { 0.0 } else { (DREGS_SD * self.size).powi(2) },
                absolute: self.absolute,
                opening: true,
                fresh,
            };
            if fresh {
                self.stand_at(level);
            } else {
                self.reach(level, Censoring::None, spans);
            }
        }
        self.none_open = false;
        self.sealed -= 1.0;
    }

    fn counted(
        &mut self,
        at: DateTime<Utc>,
        quantity: f64,
        sd: f64,
        sealed: Option<f64>,
        spans: &mut Vec<Span>,
    ) {
        let level = Level {
            at,
            quantity: sealed.unwrap_or(0.0) * self.size + quantity,
            variance: sd * sd + (READING_SD * self.size).powi(2),
            absolute: true,
            opening: false,
            fresh: false,
        };
        // Where nothing is left a job may have gone without: it would have taken more.
        let censoring = if level.quantity <= 0.0 { Censoring::AtLeast } else { Censoring::None };
        self.reach(level, censoring, spans);
        let in_open = quantity - self.sealed * self.size;
        let fits = (-0.1 * self.size..=1.1 * self.size).contains(&in_open);
        self.sealed = match sealed {
            Some(sealed) => sealed,
            None if fits && self.tells_openings => self.sealed,
            None => (quantity / self.size + NEARLY_FULL).floor(),
        };
        let in_open = if sealed.is_some() { quantity } else { quantity - self.sealed * self.size };
        self.none_open = in_open <= NEARLY_FULL * self.size;
        self.absolute = true;
    }

    fn reach(&mut self, level: Level, censoring: Censoring, spans: &mut Vec<Span>) {
        if let Some(from) = self.level.filter(|from| from.absolute == level.absolute) {
            let went = from.quantity + self.came - self.went - level.quantity;
            let variance = from.variance + self.variance + level.variance;
            spans.push(Span { from, to: level, went, variance, censoring });
        }
        self.stand_at(level);
    }

    const fn stand_at(&mut self, level: Level) {
        self.level = Some(level);
        (self.came, self.went, self.variance) = (0.0, 0.0, 0.0);
    }
}

type Events = Vec<(DateTime<Utc>, Event)>;

fn events(snapshot: &Snapshot, index: &Index, ledger: &Ledger) -> Vec<Events> {
    let facts = &snapshot.facts;
    let mut events: Vec<Events> = vec![Vec::new(); index.products.len()];
    let sized = |product: usize, number| capful_domain::Amount {
        number,
        unit: facts.products[product].unit,
    };
    for receipt in &facts.receipts {
        let Some(product) = index.product_place(&receipt.product) else { continue };
        let own = receipt.container_size.map(|number| sized(product, number));
        let own = own.and_then(|amount| facts.products[product].booked_quantity(amount).ok());
        let size = own.map_or(index.products[product].size, base);
        let containers = f64::from(receipt.containers);
        events[product].push((receipt.at, Event::In { quantity: size * containers, containers }));
    }
    for opening in &facts.openings {
        let Some(product) = index.product_place(&opening.product) else { continue };
        let last_empty = opening.container.is_none();
        events[product].push((opening.at, Event::Opened { last_empty }));
    }
    let mixes = mix_ratios(snapshot);
    for pour in &facts.pours {
        let Some(product) = index.product_place(&pour.product) else { continue };
        if pour.method == Some(capful_domain::facts::Method::Expected) {
            continue;
        }
        let quantity = base(poured_quantity(snapshot, &mixes, pour, product));
        let out = Event::Out { quantity, variance: 0.0, sealed: 0.0, last_open: false };
        events[product].push((pour.at, out));
    }
    discards(snapshot, index, ledger, &mut events);
    for count in facts.counts.iter().filter(|count| count.container.is_none()) {
        let Some(product) = index.product_place(&count.product) else { continue };
        if let Some(event) = counted(snapshot, ledger, count, product) {
            events[product].push((count.at, event));
        }
    }
    for list in &mut events {
        list.sort_by_key(|(at, event)| (*at, rank(event)));
    }
    events
}

/// Of events at one moment, in the order the ledger takes them.
const fn rank(event: &Event) -> u8 {
    match event {
        Event::In { .. } => 0,
        Event::Out { .. } => 1,
        Event::Opened { .. } => 2,
        Event::Counted { .. } => 3,
    }
}

fn counted(snapshot: &Snapshot, ledger: &Ledger, count: &Count, product: usize) -> Option<Event> {
    let rule = &snapshot.facts.products[product];
    let quantity = match (count.amount, count.gross_g) {
        (Some(amount), _) => rule.booked_quantity(amount).ok()?,
        (None, Some(gross)) => {
            let on_scale = if count.sealed.is_some() { 1 } else { laid_over(ledger, count) };
            rule.quantity_of_gross(gross, on_scale).ok()?
        }
        (None, None) => return None,
    };
    let quantity = base(quantity);
    let sealed = count.sealed.map(f64::from);
    Some(Event::Counted { quantity, sd: float(count.sd_share()) * quantity, sealed })
}

/// Containers that a count of the whole product was laid over.
fn laid_over(ledger: &Ledger, count: &Count) -> u32 {
    let source = Source::Count(count.id.clone());
    let touched = ledger.movements().iter().filter(|m| m.source == source).count();
    u32::try_from(touched).unwrap_or(1).max(1)
}

/// What was thrown away: what is not written down of it is as the books have it.
fn discards(snapshot: &Snapshot, index: &Index, ledger: &Ledger, events: &mut [Events]) {
    let mut gone: HashMap<&capful_domain::Id, Vec<&capful_domain::Movement>> = HashMap::new();
    for movement in ledger.movements() {
        let kind = matches!(movement.kind, MovementKind::Discarded | MovementKind::Returned);
        if let (Source::Discard(id), true) = (&movement.source, kind) {
            gone.entry(id).or_default().push(movement);
        }
    }
    for discard in &snapshot.facts.discards {
        let Some(product) = index.product_place(&discard.product) else { continue };
        let size = index.products[product].size;
        for movement in gone.get(&discard.id).into_iter().flatten() {
            let quantity = base(-movement.change);
            let container = ledger.container(&movement.container);
            let sealed = container.is_some_and(|c| c.opened.is_none() && c.mix.is_none());
            let sealed = sealed || discard.reason == Some(DiscardReason::Returned);
            let mixed = container.is_some_and(|c| c.mix.is_some());
            let whole = discard.amount.is_none();
            let event = Event::Out {
                quantity,
                variance: if whole && !sealed { (THROWN_SD * size).powi(2) } else { 0.0 },
                sealed: if whole && sealed { 1.0 } else { 0.0 },
                last_open: whole && !sealed && !mixed,
            };
            events[product].push((discard.at, event));
        }
    }
}
