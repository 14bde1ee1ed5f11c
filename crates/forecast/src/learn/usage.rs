//! Usage: what one job takes, learned from sums.
//!
//! For product *p* one unit of work (job type *j*, size *s*, condition *c*) takes nothing with
//! chance 1 − ρ(p,j), else a Gamma quantity with mean
//! `sheet(p,j) · size(s)^(1+θ) · condition(c)^(1+κ) · exp(β + b[j])` and coefficient of variation
//! √φ. β, θ and κ belong to the product and are pooled over products: a first fit of each product
//! alone gives their common means, a second one starts from those (empirical Bayes, two rounds).

use capful_domain::{ExpectedPour, Id, Job, JobStatus, Snapshot};
use chrono::{DateTime, Utc};
use ndarray::Array2;
use rayon::prelude::*;

use crate::learn::changed_together::ShopsChanges;
use crate::learn::fitter::{Censoring, Family, Fit, FitSettings, Prior, Sums, Term, fit, fit_from};
use crate::learn::history::JobUse;
use crate::learn::index::{Index, UnitOfWork, exact};
use crate::learn::lasting_change::Evidence;
use crate::learn::observations::{Observation, Part};

/// Effects that a product has beside its pairs: common bias, size exponent, condition exponent.
pub(crate) const SHARED: usize = 3;
/// Prior sd of a product's common bias (a prototype on independent shops found about this), where
/// the owner is not surer than that.
const COMMON_SD: f64 = 0.25;
/// How much of the owner's doubt about a pair is the product's common bias.
const COMMON_PART: f64 = 0.5;
/// Prior sd of a product's size and condition exponents about the pooled ones.
const EXPONENT_SD: f64 = 0.25;
/// Prior sd of the pooled means.
const POOLED_SD: [f64; SHARED] = [0.2, 0.3, 0.3];
/// Least prior sd of a pair, however sure the owner is.
const LEAST_PAIR_SD: f64 = 0.05;
/// Jobs that the sheet's `share_of_jobs` is worth.
const SHARE_WORTH: f64 = 5.0;
/// φ before anything is seen: a coefficient of variation of 0.35.
const DISPERSION: f64 = 0.1225;
const DISPERSION_WORTH: f64 = 8.0;
/// Standardised residual past which an observation's influence is bounded.
const BOUND: f64 = 3.0;
/// Days after which an observation counts half.
const HALF_LIFE_DAYS: f64 = 900.0;

const SETTINGS: FitSettings = FitSettings {
    family: Family::Gamma,
    dispersion: DISPERSION,
    dispersion_worth: DISPERSION_WORTH,
    bound: BOUND,
};

/// What is known of one product's usage.
#[derive(Debug, Clone)]
pub(crate) struct ProductUsage {
    pub b: Vec<f64>,
    pub covariance: Array2<f64>,
    /// Lower factor of the covariance, for draws.
    pub factor: Array2<f64>,
    pub dispersion: f64,
    /// For each of the product's pairs the share of jobs that use it at all, and where its
    /// logarithm's effect stands in `b`, if it is not known for certain.
    pub shares: Vec<Share>,
    /// Observations that do not fit: place in the list of observations, and by how many sds.
    pub odd: Vec<(usize, f64)>,
}

/// How often a pair is used at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Share {
    /// By the sheet and by measured pours of single units.
    said: f64,
    /// What is not known of its logarithm.
    log_sd: f64,
    /// Place of its effect in `b`.
    effect: Option<usize>,
}

impl Share {
    /// One that is certain.
    pub const fn known(said: f64) -> Self {
        Self { said, log_sd: 0.0, effect: None }
    }
}

/// What is known of usage, by product.
#[derive(Debug, Clone)]
pub(crate) struct UsageModel {
    pub products: Vec<ProductUsage>,
    /// Place of each pair among its product's pairs.
    pub local: Vec<usize>,
    /// Logarithm of what each pair's sheet says.
    pub ln_centre: Vec<f64>,
}

impl UsageModel {
    /// Learns from observations, as of `now`.
    pub fn learn(
        index: &Index,
        uses: &[Vec<JobUse>],
        observations: &[Vec<Observation>],
        now: DateTime<Utc>,
    ) -> Self {
        let local = places_in_product(index);
        let places: Vec<usize> = (0..index.products.len()).collect();
        let studies: Vec<Study> = places
            .par_iter()
            .map(|p| Study::new(index, &local, *p, &uses[*p], &observations[*p], now))
            .collect();
        let alone: Vec<Option<Fit>> = studies.par_iter().map(Study::alone).collect();
        let seen: Vec<Evidence> = studies
            .iter()
            .zip(&alone)
            .filter_map(|(study, fit)| Some(Evidence::of(fit.as_ref()?, &study.ages)))
            .collect();
        let changes = ShopsChanges::of(&seen);
        let pooled = pooled_means(&alone);
        let studies = studies.into_par_iter().zip(&alone);
        let learned = studies.map(|(study, alone)| study.learned(alone.as_ref(), pooled, &changes));
        let products = learned.collect();
        Self { products, local, ln_centre: ln_centres(index) }
    }

    /// Effects on the mean of a unit of work, jobs that take none included: places in `b` and
    /// their `x`.
    pub fn effects(&self, index: &Index, unit: &UnitOfWork) -> [(usize, f64); SHARED + 2] {
        let local = self.local[unit.pair];
        let product = &self.products[index.pairs[unit.pair].product];
        with_share(effects(unit, local), &product.shares[local])
    }

    /// How often the unit's pair is used at all, with the effects `b`.
    pub fn share_with(&self, index: &Index, unit: &UnitOfWork, b: &[f64]) -> f64 {
        let product = &self.products[index.pairs[unit.pair].product];
        let share = &product.shares[self.local[unit.pair]];
        let moved = share.effect.map_or(1.0, |place| b[place].exp());
        (share.said * moved).min(1.0)
    }

    /// How often the unit's pair is used at all.
    pub fn share(&self, index: &Index, unit: &UnitOfWork) -> f64 {
        self.share_with(index, unit, &self.products[index.pairs[unit.pair].product].b)
    }

    /// Mean of a unit that uses the product, with the effects `b`.
    pub fn used_mean(&self, unit: &UnitOfWork, b: &[f64]) -> f64 {
        let used = effects(unit, self.local[unit.pair]);
        let eta: f64 = used.iter().map(|(p, x)| b[*p] * x).sum();
        (self.ln_centre[unit.pair] + unit.ln_size + unit.ln_condition + eta).exp()
    }

    /// Mean of one unit of work, jobs that take none included, in base units.
    pub fn mean(&self, index: &Index, unit: &UnitOfWork) -> f64 {
        let product = &self.products[index.pairs[unit.pair].product];
        self.share(index, unit) * self.used_mean(unit, &product.b)
    }

    /// The same on average over what is not known of it: the mean of a log-normal quantity.
    pub fn expected(&self, index: &Index, unit: &UnitOfWork) -> f64 {
        self.mean(index, unit) * (0.5 * self.log_sd(index, unit).powi(2)).exp()
    }

    /// Standard deviation from job to job.
    pub fn sd(&self, index: &Index, unit: &UnitOfWork) -> f64 {
        let product = &self.products[index.pairs[unit.pair].product];
        let (share, used) = (self.share(index, unit), self.used_mean(unit, &product.b));
        used * (share * (product.dispersion + 1.0 - share)).max(0.0).sqrt()
    }

    /// Standard deviation of what is not known of the logarithm of the mean.
    pub fn log_sd(&self, index: &Index, unit: &UnitOfWork) -> f64 {
        let product = &self.products[index.pairs[unit.pair].product];
        let effects = self.effects(index, unit);
        let mut sum = 0.0;
        for (p, x) in effects {
            for (q, y) in effects {
                sum += x * y * product.covariance[[p, q]];
            }
        }
        sum.max(0.0).sqrt()
    }

    /// What done jobs are taken to have used where nothing was written down for them.
    pub fn expected_pours(&self, snapshot: &Snapshot, index: &Index) -> Vec<ExpectedPour> {
        let written = snapshot.poured_pairs();
        let deducted: std::collections::HashSet<&Id> = snapshot
            .facts
            .pours
            .iter()
            .filter(|p| p.method == Some(capful_domain::facts::Method::Expected))
            .filter_map(|p| p.job.as_ref())
            .collect();
        let done = snapshot.facts.jobs.par_iter().filter(|job| job.status == JobStatus::Done);
        let open = done.filter(|job| !deducted.contains(&job.id));
        let pours = open
            .flat_map_iter(|job| self.expected_for(index, job, job.ended_at(&snapshot.facts.shop)));
        pours.filter(|pour| !written.contains(&(&pour.job, &pour.product))).collect()
    }

    /// What one job is taken to use of each product of its sheet.
    pub fn expected_for<'u>(
        &'u self,
        index: &'u Index,
        job: &'u Job,
        at: DateTime<Utc>,
    ) -> impl Iterator<Item = ExpectedPour> + 'u {
        index.units_of(job).into_iter().filter_map(move |unit| {
            let pair = &index.pairs[unit.pair];
            let quantity = exact(self.mean(index, &unit));
            let product = || index.products[pair.product].id.clone();
            (!quantity.is_zero()).then(|| ExpectedPour {
                at,
                job: job.id.clone(),
                product: product(),
                quantity,
                ratio: pair.ratio,
            })
        })
    }
}

/// Place of each pair among its product's pairs.
pub(crate) fn places_in_product(index: &Index) -> Vec<usize> {
    let mut local = vec![0; index.pairs.len()];
    for pairs in &index.pairs_of_product {
        for (place, pair) in pairs.iter().enumerate() {
            local[*pair] = place;
        }
    }
    local
}

/// Logarithm of what each pair's sheet says.
pub(crate) fn ln_centres(index: &Index) -> Vec<f64> {
    index.pairs.iter().map(|pair| pair.centre.ln()).collect()
}

fn offset(index: &Index, unit: &UnitOfWork) -> f64 {
    index.pairs[unit.pair].centre.ln() + unit.ln_size + unit.ln_condition
}

const fn effects(unit: &UnitOfWork, local: usize) -> [(usize, f64); SHARED + 1] {
    [(0, 1.0), (1, unit.ln_size), (2, unit.ln_condition), (SHARED + local, 1.0)]
}

/// The same with the effect of the share; one with `x` = 0 where the share is known.
fn with_share(own: [(usize, f64); SHARED + 1], share: &Share) -> [(usize, f64); SHARED + 2] {
    let [common, size, condition, pair] = own;
    [common, size, condition, pair, share.effect.map_or((0, 0.0), |place| (place, 1.0))]
}

/// One product's sums, ready to be fitted.
struct Study {
    sums: Sums,
    common_sd: f64,
    pair_sd: Vec<f64>,
    shares: Vec<Share>,
    /// For each fitted row its place in the list of observations, and its age in days.
    places: Vec<usize>,
    ages: Vec<f64>,
}

impl Study {
    fn new(
        index: &Index,
        local: &[usize],
        product: usize,
        uses: &[JobUse],
        observations: &[Observation],
        now: DateTime<Utc>,
    ) -> Self {
        let pairs = &index.pairs_of_product[product];
        let shares = shares(index, local, pairs, uses, now);
        let mut sums = Sums::default();
        let (mut places, mut ages) = (Vec::new(), Vec::new());
        for (place, seen) in observations.iter().enumerate() {
            // A single unit that took none speaks of the share, not of how much it takes.
            let single = seen.measured && seen.parts.len() == 1;
            if single && seen.seen <= 0.0 {
                continue;
            }
            for part in &seen.parts {
                let own = local[part.unit.pair];
                let used = effects(&part.unit, own);
                if single {
                    sums.term(term(index, part, 1.0), &used);
                } else {
                    let share = &shares[own];
                    let term = term(index, part, share.said.max(1e-6));
                    sums.term(term, &with_share(used, share));
                }
            }
            let weight = recency(seen.to, now);
            ages.push(age_days(seen.from + (seen.to - seen.from) / 2, now));
            let (amount, noise) = (seen.seen, seen.noise_variance);
            match seen.censoring {
                Censoring::None => {
                    sums.observe_linked(amount, noise, weight, -seen.shared_variance)
                }
                limit => sums.observe_limit(amount, noise, weight, limit),
            }
            places.push(place);
        }
        let doubts = pairs.iter().map(|pair| index.pairs[*pair].log_sd);
        let least = doubts.clone().fold(f64::INFINITY, f64::min);
        let common_sd = (COMMON_PART * least).min(COMMON_SD);
        let own = |doubt: f64| (doubt.powi(2) - common_sd.powi(2)).sqrt().max(LEAST_PAIR_SD);
        let pair_sd = doubts.map(own).collect();
        Self { sums, common_sd, pair_sd, shares, places, ages }
    }

    fn prior(&self, pooled: [f64; SHARED]) -> Prior {
        let mut mean = pooled.to_vec();
        let mut sd = vec![self.common_sd, EXPONENT_SD, EXPONENT_SD];
        sd.extend(&self.pair_sd);
        sd.extend(self.shares.iter().filter(|s| s.effect.is_some()).map(|s| s.log_sd));
        mean.resize(sd.len(), 0.0);
        Prior { mean, sd }
    }

    /// Fits as if the product were used alike all along, and shared nothing with others.
    fn alone(&self) -> Option<Fit> {
        if self.sums.is_empty() {
            None
        } else {
            fit(&self.sums, &self.prior([0.0; SHARED]), &SETTINGS).ok()
        }
    }

    /// Fits; where the product may be used otherwise since some day, what is known of it is what it
    /// takes now.
    fn fit(&self, alone: &Fit, pooled: [f64; SHARED], changes: &ShopsChanges) -> Option<Fit> {
        let prior = self.prior(pooled);
        let steady = fit_from(&self.sums, &prior, &SETTINGS, &alone.b).ok()?;
        let seen = Evidence::of(&steady, &self.ages);
        let Some(likely) = changes.likeliest(&seen) else { return Some(steady) };
        let mut prior = prior;
        let change = prior.mean.len();
        prior.mean.push(likely.prior.0);
        prior.sd.push(likely.prior.1);
        let sums = self.sums.with_effect(change, |row| self.ages[row] <= likely.age_days);
        let start = [&steady.b[..], &[likely.prior.0]].concat();
        let Ok(changed) = fit_from(&sums, &prior, &SETTINGS, &start) else { return Some(steady) };
        Some(mixed(steady, &into_common(changed, change), likely.chance))
    }

    fn learned(
        self,
        alone: Option<&Fit>,
        pooled: [f64; SHARED],
        changes: &ShopsChanges,
    ) -> ProductUsage {
        let Some(fit) = alone.and_then(|alone| self.fit(alone, pooled, changes)) else {
            return untaught(self.prior(pooled), self.shares);
        };
        let odd = fit.residuals.iter().zip(&self.places);
        let odd = odd.filter(|(r, _)| r.abs() > BOUND).map(|(r, place)| (*place, *r)).collect();
        ProductUsage {
            factor: lower_factor(&fit.covariance),
            b: fit.b,
            covariance: fit.covariance,
            dispersion: fit.dispersion,
            shares: self.shares,
            odd,
        }
    }
}

/// The mean and covariance of a mixture of two fits, the second with this chance.
fn mixed(first: Fit, second: &Fit, chance: f64) -> Fit {
    let moved: Vec<f64> = second.b.iter().zip(&first.b).map(|(s, f)| s - f).collect();
    let b = first.b.iter().zip(&moved).map(|(b, moved)| b + chance * moved).collect();
    let covariance = Array2::from_shape_fn(first.covariance.dim(), |(p, q)| {
        let within = (1.0 - chance) * first.covariance[[p, q]] + chance * second.covariance[[p, q]];
        within + chance * (1.0 - chance) * moved[p] * moved[q]
    });
    let dispersion = (1.0 - chance) * first.dispersion + chance * second.dispersion;
    let residuals = if chance > 0.5 { second.residuals.clone() } else { first.residuals.clone() };
    Fit { b, covariance, dispersion, residuals, ..first }
}

/// Takes the last effect, which is in all that comes, into the common bias.
fn into_common(fit: Fit, last: usize) -> Fit {
    let Fit { mut b, covariance, .. } = fit;
    b[0] += b[last];
    b.truncate(last);
    let own = |p: usize, q: usize| covariance[[p, q]];
    let summed = Array2::from_shape_fn((last, last), |(p, q)| {
        let mut sum = own(p, q);
        if p == 0 {
            sum += own(last, q);
        }
        if q == 0 {
            sum += own(p, last);
        }
        if p == 0 && q == 0 {
            sum += own(last, last);
        }
        sum
    });
    Fit { b, covariance: summed, ..fit }
}

fn term(index: &Index, part: &Part, share: f64) -> Term {
    // Half of a job, give or take: the share that falls on this side is uniform, variance 1/12.
    let (ln_half, split) = if part.half { (0.5_f64.ln(), 1.0 / (3.0 * share)) } else { (0.0, 0.0) };
    Term {
        offset: offset(index, &part.unit) + share.ln() + ln_half,
        per_phi: 1.0 / share,
        extra: (1.0 - share) / share + split,
    }
}

/// What is believed of a product of which nothing was seen.
fn untaught(prior: Prior, shares: Vec<Share>) -> ProductUsage {
    let sds = ndarray::Array1::from(prior.sd);
    ProductUsage {
        b: prior.mean,
        covariance: Array2::from_diag(&sds.mapv(|sd| sd * sd)),
        factor: Array2::from_diag(&sds),
        dispersion: DISPERSION,
        shares,
        odd: Vec::new(),
    }
}

pub(crate) fn lower_factor(covariance: &Array2<f64>) -> Array2<f64> {
    use linfa_linalg::cholesky::Cholesky;
    let diagonal = || Array2::from_diag(&covariance.diag().mapv(|v| v.max(0.0).sqrt()));
    covariance.cholesky().unwrap_or_else(|_| diagonal())
}

fn recency(at: DateTime<Utc>, now: DateTime<Utc>) -> f64 {
    0.5_f64.powf(age_days(at, now) / HALF_LIFE_DAYS)
}

fn age_days(at: DateTime<Utc>, now: DateTime<Utc>) -> f64 {
    ((now - at).num_days() as f64).max(0.0)
}

/// How often each pair is used at all: the sheet's share (worth a few jobs), moved by what measured
/// pours of single units show. A sheet that says "always" (or "never") is believed until a job is
/// seen that says otherwise.
///
/// A pair that is on no sheet starts from the share that it had up to its first pour, worth as many
/// jobs. After that a job for which other things were measured, and not this, took none of it; the
/// first pour itself is in the start and is not counted twice (Haldane 1945, inverse sampling).
fn shares(
    index: &Index,
    local: &[usize],
    pairs: &[usize],
    uses: &[JobUse],
    now: DateTime<Utc>,
) -> Vec<Share> {
    let mut seen = vec![(0.0, 0.0); pairs.len()];
    for one in uses.iter().filter(|one| one.units.len() == 1) {
        let pair = one.units[0].pair;
        let shown_at = index.pairs[pair].shown_at;
        let without = || (shown_at.is_some() && one.recorded).then_some(0.0);
        let Some(quantity) = one.measured.or_else(without) else { continue };
        if shown_at.is_some_and(|first| one.at <= first) {
            continue;
        }
        let (used, unused) = &mut seen[local[pair]];
        let weight = recency(one.at, now);
        if quantity > 0.0 { *used += weight } else { *unused += weight }
    }
    let mut next_effect = SHARED + pairs.len();
    let share = |(pair, (used, unused)): (&usize, &(f64, f64))| {
        let said = index.pairs[*pair].share;
        if said >= 1.0 && *unused == 0.0 || said <= 0.0 && *used == 0.0 {
            return Share::known(said);
        }
        let worth = SHARE_WORTH + used + unused;
        let unlisted = index.pairs[*pair].shown_at.is_some();
        let least = if unlisted { 1e-4 } else { 0.01 };
        let mean = (said.clamp(least, 0.99) * SHARE_WORTH + used) / worth;
        // Of a Beta distribution, by the delta method. Behind a start of one in many there are the
        // many jobs too.
        let events = if unlisted { 1.5 + used } else { mean * (worth + 1.0) };
        next_effect += 1;
        Share {
            said: mean,
            log_sd: ((1.0 - mean) / events).sqrt().max(1e-3),
            effect: Some(next_effect - 1),
        }
    };
    pairs.iter().zip(&seen).map(share).collect()
}

/// Means over products of what belongs to each product, shrunk towards nothing.
fn pooled_means(alone: &[Option<Fit>]) -> [f64; SHARED] {
    let prior_sd = [COMMON_SD, EXPONENT_SD, EXPONENT_SD];
    let mut pooled = [0.0; SHARED];
    for effect in 0..SHARED {
        let (mut sum, mut precision) = (0.0, POOLED_SD[effect].powi(-2));
        for fit in alone.iter().flatten() {
            let (own, prior) = (fit.covariance[[effect, effect]], prior_sd[effect].powi(2));
            // What the data alone say: the posterior with the prior taken out again.
            let told = (1.0 / own - 1.0 / prior).max(0.0);
            if told <= 1e-9 {
                continue;
            }
            let estimate = fit.b[effect] / (own * told);
            let spread = 1.0 / (1.0 / told + prior);
            sum += estimate * spread;
            precision += spread;
        }
        pooled[effect] = sum / precision;
    }
    pooled
}
