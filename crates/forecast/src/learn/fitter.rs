//! The fitter: log-linear means of sums, by penalised quasi-likelihood.
//!
//! An observation is a sum of terms. Term *i* has mean `mᵢ = exp(offsetᵢ + xᵢ·b)`, the observation
//! has mean `M = Σ mᵢ` and a variance `V` that [`Family`] gives. `b` has a Gaussian prior and is
//! found by Fisher scoring: each step solves `(Σ w DDᵀ/V + P) δ = Σ w D (y − M)/V − P (b − b₀)`
//! with `D = Σ mᵢ xᵢ`. Where every observation is one term this is the Gamma (or Poisson) GLM with
//! log link and an L2 penalty: McCullagh & Nelder, *Generalized Linear Models*, 2nd ed., §2.5
//! (scoring), §9.2 (quasi-likelihood).
//!
//! The penalty of scikit-learn's `TweedieRegressor`, `(1/2n)·deviance + (α/2)·|b|²`, is this prior
//! with variance `φ / (n·α)`.

use linfa_linalg::cholesky::{Cholesky, InverseC};
use linfa_linalg::triangular::{SolveTriangularInplace, UPLO};
use ndarray::{Array1, Array2};

/// How the variance of an observation follows from its mean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Family {
    /// Each term has variance `m²·(φ·per_phi + extra)`.
    Gamma,
    /// The sum has variance `φ·M`.
    Poisson,
}

/// One term of an observation.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Term {
    /// Logarithm of what its mean is beside the effects.
    pub offset: f64,
    /// What `φ·m²` is multiplied by in its variance (1 for a whole Gamma term).
    pub per_phi: f64,
    /// What is added beside it, in units of `m²`.
    pub extra: f64,
}

impl Term {
    /// A whole term with this offset.
    #[must_use]
    pub const fn new(offset: f64) -> Self {
        Self { offset, per_phi: 1.0, extra: 0.0 }
    }
}

/// Observations to fit: sums of terms, each term with a few effects.
#[derive(Debug, Clone, Default)]
pub struct Sums {
    terms: Vec<(Term, u32)>,
    effects: Vec<(u32, f64)>,
    rows: Vec<Row>,
}

#[derive(Debug, Clone, Copy)]
struct Row {
    last_term: u32,
    seen: f64,
    noise_variance: f64,
    weight: f64,
    /// Covariance of its noise with that of the row before.
    link: f64,
    censoring: Censoring,
}

/// Whether only a limit of an observation is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Censoring {
    /// It is as seen.
    None,
    /// It is no more than what was seen.
    AtMost,
    /// It is no less.
    AtLeast,
}

impl Sums {
    /// Adds a term to the observation being built; `effects` are places in `b` with their `x`.
    pub fn term(&mut self, term: Term, effects: &[(usize, f64)]) {
        let place = |p: usize| u32::try_from(p).unwrap_or(u32::MAX);
        self.effects.extend(effects.iter().map(|(p, x)| (place(*p), *x)));
        self.terms.push((term, place(self.effects.len())));
    }

    /// Closes the observation: what was seen, the variance of how it was seen, and its weight.
    pub fn observe(&mut self, seen: f64, noise_variance: f64, weight: f64) {
        self.observe_linked(seen, noise_variance, weight, 0.0);
    }

    /// The same, where the noise has a covariance `link` with that of the observation before: of
    /// two spans that share a count, what the count was off by is in both, with opposite signs.
    pub fn observe_linked(&mut self, seen: f64, noise_variance: f64, weight: f64, link: f64) {
        let last_term = u32::try_from(self.terms.len()).unwrap_or(u32::MAX);
        let censoring = Censoring::None;
        self.rows.push(Row { last_term, seen, noise_variance, weight, link, censoring });
    }

    /// Closes an observation of which only a limit is known: a censored one, in the likelihood as
    /// the chance that a normal quantity stays on its side of it (Tobin 1958).
    pub fn observe_limit(
        &mut self,
        limit: f64,
        noise_variance: f64,
        weight: f64,
        censoring: Censoring,
    ) {
        self.observe_linked(limit, noise_variance, weight, 0.0);
        if let Some(row) = self.rows.last_mut() {
            row.censoring = censoring;
        }
    }

    /// The same observations, where the terms of some (by their place) have one effect more.
    #[must_use]
    pub fn with_effect(&self, effect: usize, rows: impl Fn(usize) -> bool) -> Self {
        let mut sums = Self::default();
        let (mut term, mut first) = (0, 0);
        for (place, row) in self.rows.iter().enumerate() {
            let more = rows(place).then_some((effect, 1.0));
            while term < row.last_term as usize {
                let (own, last) = self.terms[term];
                let effects = self.effects[first..last as usize].iter();
                let effects = effects.map(|(p, x)| (*p as usize, *x)).chain(more);
                sums.term(own, &effects.collect::<Vec<_>>());
                (term, first) = (term + 1, last as usize);
            }
            sums.rows.push(*row);
        }
        sums
    }

    /// How many observations there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }
}

/// What is believed of `b` before anything is seen: independent Gaussians.
#[derive(Debug, Clone, PartialEq)]
pub struct Prior {
    /// Means.
    pub mean: Vec<f64>,
    /// Standard deviations.
    pub sd: Vec<f64>,
}

/// How to fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FitSettings {
    /// The family of variances.
    pub family: Family,
    /// Dispersion φ to begin with, and the centre of its prior.
    pub dispersion: f64,
    /// How many observations that prior is worth; infinite: φ stays as it is.
    pub dispersion_worth: f64,
    /// Standardised residual past which an observation's influence is bounded; infinite: never.
    pub bound: f64,
}

/// The result.
#[derive(Debug, Clone)]
pub struct Fit {
    /// The effects.
    pub b: Vec<f64>,
    /// What is not yet known of them.
    pub covariance: Array2<f64>,
    /// Dispersion φ.
    pub dispersion: f64,
    /// For each observation its standardised residual.
    pub residuals: Vec<f64>,
    /// For each observation what it tells of the logarithm of its mean, `M²/V`; 0 of one of which
    /// only the most that it can be is known.
    pub told: Vec<f64>,
    /// Scoring steps taken.
    pub steps: u32,
}

/// Why nothing could be fitted.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// The prior does not have one mean and one positive sd for each effect.
    #[error("a prior with {expected} means and {expected} positive sds (found {found})")]
    Prior {
        /// Effects that the terms name.
        expected: usize,
        /// Usable entries.
        found: usize,
    },
    /// The information matrix has no inverse.
    #[error("no solution: the information matrix is not positive definite")]
    Singular,
}

const MOST_STEPS: u32 = 60;
const MOST_HALVINGS: u32 = 20;
/// No effect moves further than this in one step: sevenfold, on the scale of the means.
const LONGEST_STEP: f64 = 2.0;
const ROUNDS: u32 = 4;
/// Squared length of a step, in units of what is not known, below which it has converged.
const CONVERGED: f64 = 1e-16;

/// Fits `b` (and φ) to the observations.
///
/// # Errors
/// [`FitError`] where the prior does not fit the effects or nothing can be solved.
pub fn fit(sums: &Sums, prior: &Prior, settings: &FitSettings) -> Result<Fit, FitError> {
    fit_from(sums, prior, settings, &prior.mean)
}

/// The same, begun at effects that are near it, which takes fewer steps.
///
/// # Errors
/// As [`fit`].
pub fn fit_from(
    sums: &Sums,
    prior: &Prior,
    settings: &FitSettings,
    start: &[f64],
) -> Result<Fit, FitError> {
    let named = sums.effects.iter().map(|(p, _)| *p as usize + 1).max().unwrap_or(0);
    let usable = prior.sd.iter().filter(|sd| **sd > 0.0).count();
    let lengths = [prior.mean.len(), prior.sd.len(), start.len()];
    if usable < named || lengths != [usable; 3] {
        return Err(FitError::Prior { expected: named, found: usable });
    }
    let mut work = Work::new(sums, prior, settings, start);
    let rounds = if settings.dispersion_worth.is_finite() || settings.bound.is_finite() {
        ROUNDS
    } else {
        1
    };
    for round in 0..rounds {
        work.score_to_rest()?;
        if round + 1 < rounds {
            work.weigh_residuals()?;
        }
    }
    let covariance = work.covariance()?;
    let residuals = work.standardised(&covariance);
    let told = work.told();
    Ok(Fit {
        b: work.b.to_vec(),
        covariance,
        dispersion: work.dispersion,
        residuals,
        told,
        steps: work.steps,
    })
}

struct Work<'a> {
    sums: &'a Sums,
    prior: &'a Prior,
    settings: &'a FitSettings,
    b: Array1<f64>,
    /// The observations at `b`.
    rows: RowsAt,
    dispersion: f64,
    /// How far each observation is trusted, by its residual.
    trust: Vec<f64>,
    /// The information at `b`, once the score is at rest there.
    information: Array2<f64>,
    steps: u32,
}

/// Mean, variance by family at φ = 1, the rest of the variance, and the slope of one observation.
struct RowAt<'s> {
    mean: f64,
    per_phi: f64,
    rest: f64,
    slope: &'s [f64],
}

/// The same of all observations at one `b`.
struct RowsAt {
    /// Mean, variance at φ = 1, rest.
    numbers: Vec<(f64, f64, f64)>,
    /// Slopes, one observation behind the other.
    slopes: Vec<f64>,
}

impl RowsAt {
    fn of(sums: &Sums, family: Family, b: &Array1<f64>) -> Self {
        let (n, count) = (b.len(), sums.rows.len());
        let mut rows = Self { numbers: Vec::with_capacity(count), slopes: vec![0.0; n * count] };
        let (mut term, mut effect) = (0_usize, 0_usize);
        for (place, row) in sums.rows.iter().enumerate() {
            let slope = &mut rows.slopes[place * n..(place + 1) * n];
            let (mut mean, mut per_phi, mut rest) = (0.0, 0.0, row.noise_variance);
            while term < row.last_term as usize {
                let (t, last_effect) = &sums.terms[term];
                let effects = &sums.effects[effect..*last_effect as usize];
                let eta: f64 = effects.iter().map(|(p, x)| b[*p as usize] * x).sum();
                let m = (t.offset + eta).clamp(-40.0, 40.0).exp();
                mean += m;
                match family {
                    Family::Gamma => {
                        per_phi += m * m * t.per_phi;
                        rest += m * m * t.extra;
                    }
                    Family::Poisson => per_phi += m,
                }
                for (p, x) in effects {
                    slope[*p as usize] += m * x;
                }
                effect = *last_effect as usize;
                term += 1;
            }
            rows.numbers.push((mean, per_phi, rest));
        }
        rows
    }

    fn iter(&self, effects: usize) -> impl Iterator<Item = RowAt<'_>> {
        let slopes = self.slopes.chunks_exact(effects.max(1));
        let rows = self.numbers.iter().zip(slopes);
        rows.map(|((mean, per_phi, rest), slope)| RowAt {
            mean: *mean,
            per_phi: *per_phi,
            rest: *rest,
            slope,
        })
    }
}

impl<'a> Work<'a> {
    fn new(sums: &'a Sums, prior: &'a Prior, settings: &'a FitSettings, start: &[f64]) -> Self {
        let b = Array1::from(start.to_vec());
        Self {
            sums,
            prior,
            settings,
            rows: RowsAt::of(sums, settings.family, &b),
            information: Array2::zeros((b.len(), b.len())),
            b,
            dispersion: settings.dispersion,
            trust: vec![1.0; sums.rows.len()],
            steps: 0,
        }
    }

    /// Every observation with how it is at `b`.
    fn rows(&self) -> impl Iterator<Item = (usize, &Row, RowAt<'_>)> {
        let rows = self.sums.rows.iter().zip(self.rows.iter(self.b.len())).enumerate();
        rows.map(|(place, (row, at))| (place, row, at))
    }

    /// The score and the information where the observations are `rows`, prior in both.
    fn score(&self, b: &Array1<f64>, rows: &RowsAt) -> (Array1<f64>, Array2<f64>) {
        let n = b.len();
        let mut score = Array1::zeros(n);
        // Row by row, up to the diagonal.
        let mut information = vec![0.0; n * n];
        for p in 0..n {
            let precision = self.prior.sd[p].powi(-2);
            score[p] -= precision * (b[p] - self.prior.mean[p]);
            information[p * n + p] += precision;
        }
        // Rows are whitened by the factor of their covariance, which links neighbours only.
        let (mut row_before, mut pull_before, mut sd_before) = (vec![0.0; n], 0.0, 1.0_f64);
        let mut whitened = vec![0.0; n];
        for (place, (row, at)) in self.sums.rows.iter().zip(rows.iter(n)).enumerate() {
            let own = self.dispersion * at.per_phi + at.rest;
            let own = own / (row.weight * self.trust[place]).max(1e-12);
            let link = if place == 0 { 0.0 } else { row.link / sd_before };
            let sd = (own - link * link).max(0.1 * own).max(f64::MIN_POSITIVE).sqrt();
            let mut pull = (row.seen - at.mean - link * pull_before) / sd;
            let mut told = 1.0;
            match row.censoring {
                Censoring::None => {}
                Censoring::AtMost => (pull, told) = below(pull),
                Censoring::AtLeast => {
                    (pull, told) = below(-pull);
                    pull = -pull;
                }
            }
            for p in 0..n {
                whitened[p] = told * (at.slope[p] - link * row_before[p]) / sd;
            }
            for (p, own) in whitened.iter().enumerate().filter(|(_, own)| **own != 0.0) {
                score[p] += pull * own;
                let sums = information[p * n..=p * n + p].iter_mut();
                for (sum, other) in sums.zip(&whitened) {
                    *sum += own * other;
                }
            }
            row_before.copy_from_slice(&whitened);
            (pull_before, sd_before) = (pull, sd);
        }
        let whole = |(p, q): (usize, usize)| information[p.max(q) * n + p.min(q)];
        (score, Array2::from_shape_fn((n, n), whole))
    }

    /// Fisher scoring until a step is as good as nothing. A step that does not bring the score
    /// nearer to zero (in the metric of the step's own information) is halved.
    fn score_to_rest(&mut self) -> Result<(), FitError> {
        let (mut score, information) = self.score(&self.b, &self.rows);
        self.information = information;
        for _ in 0..MOST_STEPS {
            let factor = self.information.cholesky().map_err(|_| FitError::Singular)?;
            let step = solve(&factor, &score)?;
            let length = step.dot(&score);
            self.steps += 1;
            if length.is_nan() || length <= CONVERGED {
                return Ok(());
            }
            let longest = step.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
            let mut share = (LONGEST_STEP / longest.max(f64::MIN_POSITIVE)).min(1.0);
            for halving in 0..=MOST_HALVINGS {
                let b = &self.b + &(&step * share);
                let rows = RowsAt::of(self.sums, self.settings.family, &b);
                let (next_score, next_information) = self.score(&b, &rows);
                let next_length = solve(&factor, &next_score)?.dot(&next_score);
                if next_length < length || halving == MOST_HALVINGS {
                    (self.b, self.rows) = (b, rows);
                    (score, self.information) = (next_score, next_information);
                    break;
                }
                share *= 0.5;
            }
        }
        Ok(())
    }

    fn covariance(&self) -> Result<Array2<f64>, FitError> {
        self.information.invc().map_err(|_| FitError::Singular)
    }

    /// Residuals over their standard deviation; what is not known of the mean counts in it.
    fn standardised(&self, covariance: &Array2<f64>) -> Vec<f64> {
        let mut residuals = vec![0.0; self.sums.rows.len()];
        for (place, row, at) in self.rows() {
            let own = self.dispersion * at.per_phi + at.rest;
            let variance = own + quadratic(covariance, at.slope);
            let off = (row.seen - at.mean) / variance.max(f64::MIN_POSITIVE).sqrt();
            residuals[place] = match row.censoring {
                Censoring::None => off,
                Censoring::AtMost => off.min(0.0),
                Censoring::AtLeast => off.max(0.0),
            };
        }
        residuals
    }

    fn told(&self) -> Vec<f64> {
        let mut told = vec![0.0; self.sums.rows.len()];
        for (place, row, at) in self.rows() {
            let variance = self.dispersion * at.per_phi + at.rest;
            if row.censoring == Censoring::None && variance > 0.0 {
                told[place] = row.weight * at.mean * at.mean / variance;
            }
        }
        told
    }

    /// Bounds the influence of what does not fit (Huber; past twice the bound it falls off fast),
    /// and estimates φ by its moments (Pearson), with its prior.
    fn weigh_residuals(&mut self) -> Result<(), FitError> {
        let covariance = self.covariance()?;
        if self.settings.bound.is_finite() {
            let bound = self.settings.bound;
            let residuals = self.standardised(&covariance);
            let trust = |r: f64| {
                let over = bound / r.abs().max(bound);
                if r.abs() > 2.0 * bound { 0.5 * (2.0 * over).powi(6) } else { over }
            };
            self.trust = residuals.into_iter().map(trust).collect();
        }
        if self.settings.dispersion_worth.is_finite() {
            self.dispersion = self.moment_dispersion(&covariance);
        }
        Ok(())
    }

    fn moment_dispersion(&self, covariance: &Array2<f64>) -> f64 {
        let worth = self.settings.dispersion_worth;
        let (mut sum, mut count) = (worth * self.settings.dispersion, worth);
        for (place, row, at) in self.rows() {
            if row.censoring != Censoring::None {
                continue;
            }
            let own = self.dispersion * at.per_phi;
            let share = own / (own + at.rest).max(f64::MIN_POSITIVE);
            let w = row.weight * self.trust[place] * share * share;
            let fitted = row.weight * self.trust[place] * quadratic(covariance, at.slope);
            // One wild observation says nothing of how jobs differ.
            let most = self.settings.bound.powi(2) * (own + at.rest + fitted);
            let squared = (row.seen - at.mean).powi(2).min(most) + fitted - at.rest;
            sum += w * squared / at.per_phi.max(f64::MIN_POSITIVE);
            count += w;
        }
        (sum / count).clamp(0.1 * self.settings.dispersion, 20.0 * self.settings.dispersion)
    }
}

/// Solves `L Lᵀ δ = score` for δ.
fn solve(factor: &Array2<f64>, score: &Array1<f64>) -> Result<Array1<f64>, FitError> {
    let mut column = score.clone().insert_axis(ndarray::Axis(1));
    let lower = factor.solve_triangular_inplace(&mut column, UPLO::Lower);
    lower.map_err(|_| FitError::Singular)?;
    let upper = factor.t().solve_triangular_inplace(&mut column, UPLO::Upper);
    upper.map_err(|_| FitError::Singular)?;
    Ok(column.index_axis_move(ndarray::Axis(1), 0))
}

/// Of a quantity that stays `room` standard deviations above its mean at most: the pull on the
/// mean, over the root of the information that it gives, and that root. With λ = φ(z)/Φ(z) the
/// score is −λ and the information λ(λ + z).
fn below(room: f64) -> (f64, f64) {
    use statrs::distribution::{Continuous, ContinuousCDF, Normal};
    let normal = Normal::standard();
    // Far below, λ is nearly −z: the room's own reciprocal is what is left (Mills' ratio).
    let lambda = if room < -6.0 {
        -room - 1.0 / room
    } else {
        normal.pdf(room) / normal.cdf(room).max(f64::MIN_POSITIVE)
    };
    let told = (lambda * (lambda + room)).max(0.0).sqrt();
    if told < 1e-9 { (0.0, 0.0) } else { (-lambda / told, told) }
}

fn quadratic(covariance: &Array2<f64>, slope: &[f64]) -> f64 {
    let mut sum = 0.0;
    for (p, x) in slope.iter().enumerate().filter(|(_, x)| **x != 0.0) {
        for (q, y) in slope.iter().enumerate().filter(|(_, y)| **y != 0.0) {
            sum += x * y * covariance[[p, q]];
        }
    }
    sum
}
