//! Arrivals: which jobs come.
//!
//! Visits on an open day are Poisson (more spread out where history is) with a log-linear rate:
//! the week's shape, the year's shape, slow drift. What a visit is (its job types, size, condition
//! and how many days ahead it is booked) is drawn from past visits, recent ones and ones of the
//! same season first. A visit that is booked *l* days ahead is not yet booked *h* days ahead of
//! its day while *l* ≤ *h*: thinning each drawn visit by its own lead gives the jobs not booked yet
//! (Poisson thinning; Kingman, *Poisson Processes*, §5.1).

use std::collections::{HashMap, HashSet};
use std::f64::consts::TAU;

use capful_domain::{Condition, Id, Job, JobStatus, Snapshot, VehicleSize};
use chrono::{Datelike, Days, NaiveDate};
use ndarray::Array2;
use rand_distr::{Distribution, Exp1, Gamma, Poisson, StandardNormal, StandardUniform};

use crate::learn::fitter::{Family, FitSettings, Prior, Sums, Term, fit};
use crate::learn::history::Gap;
use crate::learn::index::{Index, UnitOfWork, float};
use crate::learn::overbooked::MOST_VISITS_A_DAY;
use crate::learn::random::{Purpose, Stream, number_of, stream};

/// Visits a day before anything is seen: three a week of six days.
const PRIOR_RATE: f64 = 0.5;
const PRIOR_RATE_LOG_SD: f64 = 0.7;
const WEEKDAY_SD: f64 = 0.6;
const SEASON_SD: [f64; 2] = [0.25, 0.12];
const DRIFT_SD: f64 = 0.25;
const HALF_LIFE_DAYS: f64 = 365.0;
/// Days after which a past visit is drawn half as often.
const TEMPLATE_HALF_LIFE_DAYS: f64 = 200.0;
const MOST_TEMPLATES: usize = 600;
/// Sets of weights of past visits, so that what is not known of the mix of jobs is drawn too.
const WEIGHT_SETS: usize = 32;
/// What a job type with no visits is worth, in visits.
const UNSEEN_TYPE_WEIGHT: f64 = 0.5;
/// A booked job is cancelled this often before anything is seen, worth so many bookings.
const CANCEL_SHARE: f64 = 0.05;
const CANCEL_WORTH: f64 = 20.0;
/// How far a vehicle that comes back strays from its day.
const COME_BACK_SD_DAYS: f64 = 10.0;
/// Days around its day within which a vehicle that comes for what it was expected for came back.
const COME_BACK_WINDOW_DAYS: i64 = 45;
const MOST_REDRAWS: u32 = 50;
const EFFECTS: usize = 1 + 7 + 4 + 1;

/// What a visit may be.
#[derive(Debug, Clone)]
pub(crate) struct Template {
    pub units: Vec<UnitOfWork>,
    pub stall_cost: f64,
    /// Days ahead that it is booked.
    pub lead_days: i32,
}

/// A vehicle expected back.
#[derive(Debug, Clone)]
struct DueBack {
    job: Id,
    due: NaiveDate,
    share: f64,
    template: Template,
}

/// Which jobs come.
#[derive(Debug, Clone)]
pub(crate) struct Arrivals {
    b: Vec<f64>,
    factor: Array2<f64>,
    overdispersion: f64,
    templates: Vec<Template>,
    /// Running sums of the templates' weights: as they are, then drawn ones.
    weights: Vec<Vec<f64>>,
    due_back: Vec<DueBack>,
    /// What vehicles come back for, and how many do for each visit that is no return.
    returning: Vec<(Template, f64)>,
    /// Chance that a booked job is cancelled.
    pub cancel_share: f64,
    /// Open days that the rate was learned from.
    pub days_seen: u32,
    /// Visits that it was learned from.
    pub visits_seen: u32,
}

impl Arrivals {
    /// Learns from the calendar.
    pub fn learn(snapshot: &Snapshot, index: &Index, gaps: &[Gap], seed: u64) -> Self {
        let visits: Vec<&Job> = past_visits(snapshot);
        let back = Returns::of(snapshot, index, &visits);
        let counted = counts(snapshot, &visits, gaps);
        let fitted = fit_rate(snapshot.day, &counted, back.kept_share);
        let (templates, weights) = templates(snapshot, index, &visits, &back);
        let cancelled =
            snapshot.facts.jobs.iter().filter(|j| j.status == JobStatus::Cancelled).count() as f64;
        let kept = visits.len() as f64;
        Self {
            b: fitted.b,
            factor: fitted.factor,
            overdispersion: fitted.overdispersion,
            weights: weight_sets(&weights, seed),
            returning: returning(snapshot, index, &visits, &back),
            templates,
            due_back: back.due,
            cancel_share: (CANCEL_SHARE * CANCEL_WORTH + cancelled)
                / (CANCEL_WORTH + cancelled + kept),
            days_seen: u32::try_from(counted.len()).unwrap_or(u32::MAX),
            visits_seen: u32::try_from(visits.len()).unwrap_or(u32::MAX),
        }
    }

    /// Visits a week on average over the four weeks from `day` on, booked or not.
    pub fn visits_a_week(&self, snapshot: &Snapshot) -> f64 {
        let days = snapshot.day.iter_days().take(28);
        let open = days.filter(|day| snapshot.facts.shop.is_open(*day));
        open.map(|day| rate(&self.b, day, snapshot.day)).sum::<f64>() / 4.0
    }

    /// The visits of one future that are not booked yet: days ahead, number in the day, template.
    /// `today_left` is the share of today's bookings still to be made.
    pub fn draw(
        &self,
        snapshot: &Snapshot,
        seed: u64,
        future: usize,
        days: i32,
        today_left: f64,
    ) -> Vec<(i32, u64, &Template)> {
        let b = self.draw_effects(seed, future);
        let weights = &self.weights[1 + future % WEIGHT_SETS];
        let mut visits = Vec::new();
        for (ahead, day) in (0..days).zip(snapshot.day.iter_days()) {
            if !snapshot.facts.shop.is_open(day) {
                continue;
            }
            let date = day.num_days_from_ce().unsigned_abs().into();
            let mut random = stream(seed, Purpose::Visits, future, date);
            let count = self.draw_count(rate(&b, day, snapshot.day), &mut random);
            let count = count.min(MOST_VISITS_A_DAY);
            for number in 0..count {
                let template = &self.templates[pick(weights, &mut random)];
                let u: f64 = StandardUniform.sample(&mut random);
                let to_come =
                    template.lead_days < ahead || (template.lead_days == ahead && u < today_left);
                if to_come {
                    visits.push((ahead, number, template));
                }
            }
        }
        self.draw_due_back(snapshot, seed, future, days, &mut visits);
        visits.sort_by_key(|(ahead, number, _)| (*ahead, *number));
        visits
    }

    fn draw_effects(&self, seed: u64, future: usize) -> Vec<f64> {
        let mut random = stream(seed, Purpose::ArrivalEffects, future, 0);
        let z: Vec<f64> = (0..self.b.len()).map(|_| StandardNormal.sample(&mut random)).collect();
        let add = |p: usize| (0..=p).map(|q| self.factor[[p, q]] * z[q]).sum::<f64>();
        self.b.iter().enumerate().map(|(p, b)| b + add(p)).collect()
    }

    fn draw_count(&self, rate: f64, random: &mut Stream) -> u64 {
        let spread = self.overdispersion - 1.0;
        let rate = match Gamma::new(rate / spread.max(1e-9), spread) {
            Ok(gamma) if spread > 0.02 => gamma.sample(random),
            _ => rate,
        };
        let drawn = Poisson::new(rate.clamp(1e-9, 1e4)).map_or(0.0, |p| p.sample(random));
        drawn as u64
    }

    fn draw_due_back<'a>(
        &'a self,
        snapshot: &Snapshot,
        seed: u64,
        future: usize,
        days: i32,
        visits: &mut Vec<(i32, u64, &'a Template)>,
    ) {
        for back in &self.due_back {
            let thing = number_of(back.job.as_str());
            let mut random = stream(seed, Purpose::ComesBack, future, thing);
            let lead = back.template.lead_days;
            let due = (back.due - snapshot.day).num_days() as f64;
            // It is not booked yet, so a draw in which it would be is drawn again.
            for _ in 0..MOST_REDRAWS {
                let u: f64 = StandardUniform.sample(&mut random);
                let z: f64 = StandardNormal.sample(&mut random);
                let ahead = (due + COME_BACK_SD_DAYS * z).round() as i32;
                if u >= back.share {
                    break;
                }
                if ahead >= lead {
                    if ahead < days {
                        visits.push((ahead, thing, &back.template));
                    }
                    break;
                }
            }
        }
    }
}

/// Visits that were not cancelled, of days before the snapshot's, by day.
fn past_visits(snapshot: &Snapshot) -> Vec<&Job> {
    let jobs = snapshot.facts.jobs.iter();
    let mut visits: Vec<&Job> = jobs
        .filter(|job| job.status != JobStatus::Cancelled && job.planned_on < snapshot.day)
        .collect();
    visits.sort_by_key(|job| job.planned_on);
    visits
}

/// Each open day of the history with its number of visits.
fn counts(snapshot: &Snapshot, visits: &[&Job], gaps: &[Gap]) -> Vec<(NaiveDate, f64)> {
    let Some(first) = visits.first().map(|job| job.planned_on) else { return Vec::new() };
    let mut visits = visits.iter().map(|job| job.planned_on).peekable();
    let mut counts = Vec::new();
    for day in first.iter_days().take_while(|day| *day < snapshot.day) {
        let mut count = 0.0;
        while visits.next_if(|visit| *visit <= day).is_some() {
            count += 1.0;
        }
        let in_gap = gaps.iter().any(|gap| gap.from <= day && day < gap.to);
        if snapshot.facts.shop.is_open(day) && !in_gap {
            counts.push((day, count));
        }
    }
    counts
}

fn effects(day: NaiveDate, today: NaiveDate) -> [(usize, f64); 7] {
    let year = TAU * f64::from(day.ordinal0()) / 365.25;
    let years = (day - today).num_days() as f64 / 365.25;
    let weekday = 1 + day.weekday().num_days_from_monday() as usize;
    [
        (0, 1.0),
        (weekday, 1.0),
        (8, year.sin()),
        (9, year.cos()),
        (10, (2.0 * year).sin()),
        (11, (2.0 * year).cos()),
        (12, years),
    ]
}

fn rate(b: &[f64], day: NaiveDate, today: NaiveDate) -> f64 {
    effects(day, today).iter().map(|(p, x)| b[*p] * x).sum::<f64>().min(6.0).exp()
}

struct Rate {
    b: Vec<f64>,
    factor: Array2<f64>,
    overdispersion: f64,
}

/// Fits the rate of visits that are not vehicles coming back (`kept_share` of all).
fn fit_rate(today: NaiveDate, counts: &[(NaiveDate, f64)], kept_share: f64) -> Rate {
    let mut mean = vec![0.0; EFFECTS];
    mean[0] = PRIOR_RATE.ln();
    let mut sd = vec![PRIOR_RATE_LOG_SD];
    sd.extend([WEEKDAY_SD; 7]);
    sd.extend([SEASON_SD[0], SEASON_SD[0], SEASON_SD[1], SEASON_SD[1], DRIFT_SD]);
    let mut sums = Sums::default();
    for (day, count) in counts {
        let age = (today - *day).num_days() as f64;
        sums.term(Term::new(0.0), &effects(*day, today));
        sums.observe(count * kept_share, 0.0, 0.5_f64.powf(age / HALF_LIFE_DAYS));
    }
    let settings = FitSettings {
        family: Family::Poisson,
        dispersion: 1.0,
        dispersion_worth: 30.0,
        bound: f64::INFINITY,
    };
    let prior = Prior { mean, sd };
    match fit(&sums, &prior, &settings) {
        Ok(fit) => Rate {
            factor: crate::learn::usage::lower_factor(&fit.covariance),
            b: fit.b,
            overdispersion: fit.dispersion,
        },
        Err(_) => Rate {
            factor: Array2::from_diag(&ndarray::Array1::from(prior.sd)),
            b: prior.mean,
            overdispersion: 1.0,
        },
    }
}

fn templates(
    snapshot: &Snapshot,
    index: &Index,
    visits: &[&Job],
    back: &Returns,
) -> (Vec<Template>, Vec<f64>) {
    let history_days = visits.first().map_or(0, |job| (snapshot.day - job.planned_on).num_days());
    let mut weighed: Vec<(f64, &Job)> = visits
        .iter()
        .map(|job| {
            let age = (snapshot.day - job.planned_on).num_days();
            let recent = 0.5_f64.powf(age as f64 / TEMPLATE_HALF_LIFE_DAYS);
            let season = if history_days > 300 { 0.4 + 0.6 * same_season(age) } else { 1.0 };
            (recent * season * back.kept_share_of(index, job), *job)
        })
        .collect();
    weighed.sort_by(|a, b| b.0.total_cmp(&a.0));
    weighed.truncate(MOST_TEMPLATES);
    let mut templates: Vec<Template> =
        weighed.iter().map(|(_, job)| template_of(snapshot, index, job)).collect();
    let mut weights: Vec<f64> = weighed.iter().map(|(weight, _)| *weight).collect();
    let usual_lead = usual_lead_days(snapshot, &weighed);
    for place in 0..index.job_types.len() {
        templates.push(unseen(snapshot, index, place, usual_lead));
        weights.push(UNSEEN_TYPE_WEIGHT);
    }
    if templates.is_empty() {
        templates.push(Template { units: Vec::new(), stall_cost: 0.0, lead_days: 0 });
        weights.push(1.0);
    }
    (templates, weights)
}

/// What vehicles come back for, each with how many do for each visit that is no return: of the
/// visits that come for it, those that are returns.
fn returning(
    snapshot: &Snapshot,
    index: &Index,
    visits: &[&Job],
    back: &Returns,
) -> Vec<(Template, f64)> {
    let kept: f64 = visits.iter().map(|job| back.kept_share_of(index, job)).sum();
    let types = snapshot.facts.job_types.iter();
    let wanted =
        types.filter_map(|own| Some(own.comes_back.as_ref()?.job_type.as_ref().unwrap_or(&own.id)));
    let wanted: HashSet<&Id> = wanted.collect();
    let of_type = |(place, id): (usize, &Id)| {
        let own = visits.iter().filter(|job| job.job_types.contains(id));
        let returns: f64 = own.map(|job| 1.0 - back.kept_share_of(index, job)).sum();
        let template = unseen(snapshot, index, place, 7);
        (returns > 0.0).then(|| (template, returns / kept.max(1.0)))
    };
    let types = index.job_types.iter().enumerate();
    types.filter(|(_, id)| wanted.contains(id)).filter_map(of_type).collect()
}

/// 1 a whole number of years ago, nearly 0 half a year off.
fn same_season(age_days: i64) -> f64 {
    let off = (age_days as f64 / 365.25).fract();
    let off = off.min(1.0 - off) * 365.25;
    (-0.5 * (off / 45.0).powi(2)).exp()
}

fn template_of(snapshot: &Snapshot, index: &Index, job: &Job) -> Template {
    let booked_on = snapshot.facts.shop.day_of(job.booked_at);
    let lead = (job.planned_on - booked_on).num_days().max(0);
    Template {
        units: index.units_of(job),
        stall_cost: stall_cost(snapshot, &job.job_types),
        lead_days: i32::try_from(lead).unwrap_or(i32::MAX),
    }
}

/// What one stalled job of these types costs: the dearest of them.
pub(crate) fn stall_cost(snapshot: &Snapshot, job_types: &[Id]) -> f64 {
    let shop = &snapshot.facts.shop;
    let types = snapshot.facts.job_types.iter().filter(|t| job_types.contains(&t.id));
    let own = types.map(|t| t.stall_cost.unwrap_or(shop.stall_cost)).max();
    float(own.unwrap_or(shop.stall_cost).to_decimal(shop.currency))
}

fn usual_lead_days(snapshot: &Snapshot, weighed: &[(f64, &Job)]) -> i32 {
    let booked_on = |job: &Job| snapshot.facts.shop.day_of(job.booked_at);
    let mut leads: Vec<i64> = weighed
        .iter()
        .map(|(_, job)| (job.planned_on - booked_on(job)).num_days().max(0))
        .collect();
    leads.sort_unstable();
    let middle = leads.get(leads.len() / 2).copied().unwrap_or(3);
    i32::try_from(middle).unwrap_or(3)
}

fn unseen(snapshot: &Snapshot, index: &Index, job_type: usize, lead_days: i32) -> Template {
    let unit = |pair: &usize| UnitOfWork {
        pair: *pair,
        ln_size: index.ln_size[VehicleSize::Medium.index()],
        ln_condition: index.ln_condition[Condition::REFERENCE.index()],
    };
    let used = index.pairs_of_type[job_type].iter().filter(|p| index.pairs[**p].centre > 0.0);
    Template {
        units: used.map(unit).collect(),
        stall_cost: stall_cost(snapshot, std::slice::from_ref(&index.job_types[job_type])),
        lead_days,
    }
}

/// Running sums of weights: as they are, then with each multiplied by a standard exponential draw
/// (Rubin 1981, the Bayesian bootstrap).
fn weight_sets(weights: &[f64], seed: u64) -> Vec<Vec<f64>> {
    let one = |set: usize| {
        let mut random = stream(seed, Purpose::Templates, set, 0);
        let mut sum = 0.0;
        let running = weights.iter().map(|weight| {
            let draw: f64 = if set == 0 { 1.0 } else { Exp1.sample(&mut random) };
            sum += weight * draw;
            sum
        });
        running.collect()
    };
    (0..=WEIGHT_SETS).map(one).collect()
}

fn pick(running: &[f64], random: &mut Stream) -> usize {
    let all = running.last().copied().unwrap_or(0.0);
    let u: f64 = StandardUniform.sample(random);
    running.partition_point(|sum| *sum <= u * all).min(running.len() - 1)
}

/// Vehicles that come back, and how much of the past visits they explain.
struct Returns {
    due: Vec<DueBack>,
    /// Share of all past visits that are not vehicles coming back.
    kept_share: f64,
    /// The same by job type, for visits that name no vehicle.
    kept_by_type: Vec<f64>,
    /// Visits of vehicles that came back.
    returned: HashSet<Id>,
}

impl Returns {
    fn of(snapshot: &Snapshot, index: &Index, visits: &[&Job]) -> Self {
        let mut kept_by_type = vec![1.0; index.job_types.len()];
        let (mut due, mut explained) = (Vec::new(), vec![0.0; index.job_types.len()]);
        let first = visits.first().map_or(snapshot.day, |job| job.planned_on);
        for job in visits.iter().filter(|job| job.status == JobStatus::Done) {
            for own in snapshot.facts.job_types.iter().filter(|t| job.job_types.contains(&t.id)) {
                let Some(back) = &own.comes_back else { continue };
                let wanted = back.job_type.as_ref().unwrap_or(&own.id);
                let Some(place) = index.type_place(wanted) else { continue };
                let day = job.planned_on + Days::new(back.days.into());
                let share = float(back.share);
                if day < snapshot.day && day >= first {
                    explained[place] += share;
                }
                let late = (snapshot.day - day).num_days() as f64 > 2.0 * COME_BACK_SD_DAYS;
                if late || is_booked(snapshot, job, wanted) {
                    continue;
                }
                let mut template = unseen(snapshot, index, place, 7);
                for unit in &mut template.units {
                    unit.ln_size = index.ln_size[job.size.index()];
                }
                due.push(DueBack { job: job.id.clone(), due: day, share, template });
            }
        }
        for (place, id) in index.job_types.iter().enumerate() {
            let seen = visits.iter().filter(|job| job.job_types.contains(id)).count() as f64;
            let part = explained[place].min(0.9 * seen);
            kept_by_type[place] = if seen > 0.0 { 1.0 - part / seen } else { 1.0 };
        }
        let returned = returned(snapshot, visits);
        let mut returns = Self { due, kept_share: 1.0, kept_by_type, returned };
        let kept: f64 = visits.iter().map(|job| returns.kept_share_of(index, job)).sum();
        returns.kept_share = (kept / (visits.len() as f64).max(1.0)).clamp(0.1, 1.0);
        returns
    }

    /// The chance that a visit is not one of a vehicle coming back.
    fn kept_share_of(&self, index: &Index, job: &Job) -> f64 {
        if job.vehicle.is_some() {
            return if self.returned.contains(&job.id) { 0.0 } else { 1.0 };
        }
        let types = job.job_types.iter().filter_map(|id| index.type_place(id));
        types.map(|place| self.kept_by_type[place]).fold(1.0, f64::min)
    }
}

/// Visits of vehicles that came, about when they were expected, for what they were expected for.
fn returned(snapshot: &Snapshot, visits: &[&Job]) -> HashSet<Id> {
    let mut returned = HashSet::new();
    let mut expected: HashMap<(&str, &Id), NaiveDate> = HashMap::new();
    for job in visits {
        let Some(vehicle) = job.vehicle.as_deref() else { continue };
        let about_then =
            |due: &NaiveDate| (job.planned_on - *due).num_days().abs() <= COME_BACK_WINDOW_DAYS;
        if job.job_types.iter().any(|t| expected.get(&(vehicle, t)).is_some_and(about_then)) {
            returned.insert(job.id.clone());
        }
        for own in snapshot.facts.job_types.iter().filter(|t| job.job_types.contains(&t.id)) {
            if let Some(back) = &own.comes_back {
                let due = job.planned_on + Days::new(back.days.into());
                expected.insert((vehicle, back.job_type.as_ref().unwrap_or(&own.id)), due);
            }
        }
    }
    returned
}

/// Whether the same vehicle is booked again for that (or came since).
fn is_booked(snapshot: &Snapshot, job: &Job, wanted: &Id) -> bool {
    let Some(vehicle) = &job.vehicle else { return false };
    snapshot.facts.jobs.iter().any(|other| {
        other.vehicle.as_ref() == Some(vehicle)
            && other.planned_on > job.planned_on
            && other.status != JobStatus::Cancelled
            && other.job_types.contains(wanted)
    })
}

impl Arrivals {
    /// What jobs take of each product on an average day over the coming four weeks, base units.
    pub fn daily_use(
        &self,
        snapshot: &Snapshot,
        index: &Index,
        usage: &crate::learn::usage::UsageModel,
    ) -> Vec<f64> {
        let running = &self.weights[0];
        let all = running.last().copied().unwrap_or(1.0).max(1e-12);
        let mut a_visit = vec![0.0; index.products.len()];
        let mut before = 0.0;
        for (template, sum) in self.templates.iter().zip(running) {
            let share = (sum - before) / all;
            before = *sum;
            for unit in &template.units {
                a_visit[index.pairs[unit.pair].product] += share * usage.expected(index, unit);
            }
        }
        for (template, returns) in &self.returning {
            for unit in &template.units {
                a_visit[index.pairs[unit.pair].product] += returns * usage.expected(index, unit);
            }
        }
        let visits = self.visits_a_week(snapshot) / 7.0;
        a_visit.into_iter().map(|mean| mean * visits).collect()
    }
}
