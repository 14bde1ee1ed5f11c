"""Usage: what one job takes, by penalised quasi-likelihood on sums, pooled over products.

The constants are those of the planner's `usage.rs`, `fitter.rs`, `lasting_change.rs` and
`changed_together.rs`, and have to be kept in step.
"""

from copy import copy

import numpy as np
from scipy.linalg import cho_factor, cho_solve, cholesky_banded, solve_banded
from scipy.special import log_ndtr

SHARED = 3
COMMON_SD, COMMON_PART, EXPONENT_SD, LEAST_PAIR_SD = 0.25, 0.5, 0.25, 0.05
POOLED_SD = (0.2, 0.3, 0.3)
DISPERSION, DISPERSION_WORTH, BOUND = 0.1225, 8.0, 3.0
HALF_LIFE_DAYS = 900.0
CHANGE_SD, CHANCE_BEFORE, LEAST_CHANCE, CHANGE_BOUND, PER_SKEWNESS = 0.5, 0.08, 0.15, 4.0, 1.5
TOGETHER_BEFORE, APART_SD, LARGEST = 0.3, 0.15, 100.0
SHARES = np.array([0.1, 0.2, 0.35, 0.6])
SHIFTS = np.array([-0.8, -0.55, -0.35, -0.2, 0.2, 0.35, 0.55, 0.8])
DAYS_AGO = 7.0 * np.array([2, 3, 4, 5, 6, 8, 10, 13, 17, 22, 28, 36, 46, 60, 78, 100, 130])
LEAST_TOLD, SEEN_FOR_ITSELF, TOLD_FOR_ITSELF = 4.0, 3, 12.0
ROUNDS, MOST_STEPS, MOST_HALVINGS, LONGEST_STEP, CONVERGED = 4, 60, 20, 2.0, 1e-16


class Sums:
    """One product's observations as matrices: a row of `x` for each term, terms of one
    observation together."""

    def __init__(self, shop, product, observations):
        pairs = shop.pairs_of_product[product]
        parts = [part for seen in observations for part in seen[5]]
        lengths = [len(seen[5]) for seen in observations]
        self.starts = np.concatenate([[0], np.cumsum(lengths)])[:-1]
        number = np.array([part[0] for part in parts], int)
        pair = np.array([part[1] for part in parts], int)
        half = np.array([part[2] for part in parts], bool)
        ln_size = np.array([shop.jobs[n]["ln_size"] for n in number])
        ln_condition = np.array([shop.jobs[n]["ln_condition"] for n in number])
        self.offset = shop.ln_centre[pair] + ln_size + ln_condition + np.where(half, np.log(.5), 0)
        self.extra = np.where(half, 1 / 3, 0.0)
        self.x = np.zeros((len(parts), SHARED + len(pairs)))
        self.x[:, 0], self.x[:, 1], self.x[:, 2] = 1.0, ln_size, ln_condition
        self.x[np.arange(len(parts)), SHARED + shop.local[pair]] = 1.0
        table = np.array([seen[:4] for seen in observations]).reshape(-1, 4)
        begun = np.array([seen[6] for seen in observations])
        self.limit = np.array([seen[7] for seen in observations], int)
        self.ages = (shop.now + 24 - 1 / 3600 - (begun + table[:, 3]) / 2) // 24
        self.seen, self.noise = table[:, 0], table[:, 1]
        self.link = -table[:, 2]
        # In whole days, seen from the end of the day.
        self.weight = 0.5 ** ((shop.now + 24 - 1 / 3600 - table[:, 3]) // 24 / HALF_LIFE_DAYS)
        doubts = np.array(shop.pair_log_sd)[pairs]
        common = min(COMMON_SD, COMMON_PART * doubts.min()) if len(pairs) else COMMON_SD
        own = np.maximum(np.sqrt(np.maximum(doubts**2 - common**2, 0)), LEAST_PAIR_SD)
        self.sd = np.concatenate([[common, EXPONENT_SD, EXPONENT_SD], own])
        self.own_mean = np.zeros(len(pairs))

    def changed(self, age, mean, sd):
        """The same, with one effect more in what was seen since, of this prior mean and sd."""
        sums = copy(self)
        rows = np.repeat(self.ages <= age, np.diff(np.append(self.starts, len(self.offset))))
        sums.x = np.column_stack([self.x, rows])
        sums.sd, sums.own_mean = np.append(self.sd, sd), np.append(self.own_mean, mean)
        return sums


class Fit:
    """`b` with its covariance and the dispersion."""

    def __init__(self, sums, pooled):
        self.sums, self.precision = sums, sums.sd**-2.0
        self.mean = np.concatenate([pooled, sums.own_mean])
        self.b, self.phi = self.mean.copy(), DISPERSION
        if len(sums.seen) == 0:
            self.covariance = np.diag(sums.sd**2)
            self.residuals = self.told = np.zeros(0)
            return
        self.trust = np.ones(len(sums.seen))
        for round_ in range(ROUNDS):
            self._score_to_rest()
            self.covariance = np.linalg.inv(self._score(self.b)[1])
            if round_ + 1 < ROUNDS:
                self._weigh()
        mean, per_phi, rest, slope = self._at(self.b)
        own = self.phi * per_phi + rest
        off = (sums.seen - mean) / np.sqrt(own + self._fitted(slope))
        self.residuals = self._beyond(off)
        self.told = np.where(sums.limit == 0, sums.weight * mean**2 / own, 0.0)

    def _beyond(self, off):
        """Residuals; of what is known by a limit only, how far it is beyond that."""
        limit = self.sums.limit
        off = np.where(limit > 0, np.minimum(off, 0.0), off)
        return np.where(limit < 0, np.maximum(off, 0.0), off)

    def _fitted(self, slope):
        return np.einsum("ij,jk,ik->i", slope, self.covariance, slope)

    def _at(self, b):
        s = self.sums
        m = np.exp(s.offset + s.x @ b)
        squared = m * m
        mean = np.add.reduceat(m, s.starts)
        per_phi = np.add.reduceat(squared, s.starts)
        rest = s.noise + np.add.reduceat(squared * s.extra, s.starts)
        return mean, per_phi, rest, np.add.reduceat(m[:, None] * s.x, s.starts)

    def _score(self, b):
        mean, per_phi, rest, slope = self._at(b)
        own = (self.phi * per_phi + rest) / np.maximum(self.sums.weight * self.trust, 1e-12)
        # Rows are whitened by the factor of their covariance, which links neighbours only.
        band = np.vstack([own, np.append(self.sums.link[1:], 0.0)])
        factor = cholesky_banded(band, lower=True, check_finite=False)
        pull = np.column_stack([self.sums.seen - mean, slope])
        white = _forward(factor, pull)
        limited = self.sums.limit != 0
        if np.any(limited):
            side = self.sums.limit[limited]
            white[limited, 0] *= side
            white[limited] = _below(white[limited])
            white[limited, 0] *= side
        score = white[:, 1:].T @ white[:, 0] - self.precision * (b - self.mean)
        information = white[:, 1:].T @ white[:, 1:] + np.diag(self.precision)
        return score, information

    def _score_to_rest(self):
        score, information = self._score(self.b)
        for _ in range(MOST_STEPS):
            factor = cho_factor(information, lower=True, check_finite=False)
            step = cho_solve(factor, score, check_finite=False)
            length = step @ score
            if not length > CONVERGED:
                return
            share = min(LONGEST_STEP / np.abs(step).max(), 1.0)
            for halving in range(MOST_HALVINGS + 1):
                b = self.b + step * share
                next_score, next_information = self._score(b)
                next_length = cho_solve(factor, next_score, check_finite=False) @ next_score
                if next_length < length or halving == MOST_HALVINGS:
                    self.b, score, information = b, next_score, next_information
                    break
                share *= 0.5

    def _weigh(self):
        mean, per_phi, rest, slope = self._at(self.b)
        fitted = self._fitted(slope)
        own = self.phi * per_phi
        off = (self.sums.seen - mean) / np.sqrt(own + rest + fitted)
        residual = np.abs(self._beyond(off))
        over = BOUND / np.maximum(residual, BOUND)
        self.trust = np.where(residual > 2 * BOUND, 0.5 * (2 * over)**6, over)
        share = own / (own + rest)
        w = self.sums.weight * self.trust * share**2 * (self.sums.limit == 0)
        fitted = self.sums.weight * self.trust * fitted
        most = BOUND**2 * (own + rest + fitted)
        squared = np.minimum((self.sums.seen - mean) ** 2, most) + fitted - rest
        total = DISPERSION_WORTH * DISPERSION + np.sum(w * squared / per_phi)
        phi = total / (DISPERSION_WORTH + np.sum(w))
        self.phi = float(np.clip(phi, 0.1 * DISPERSION, 20 * DISPERSION))


def _forward(factor, columns):
    """Solves L X = columns for a lower bidiagonal L."""
    if not np.any(factor[1]):
        return columns / factor[0][:, None]
    return solve_banded((1, 0), factor, columns, check_finite=False)


def _below(white):
    """Rows of which only the most that they can be is known: pull, then slope, both whitened."""
    room = white[:, 0]
    near = np.maximum(room, -6.0)
    hazard = np.exp(-0.5 * near**2 - 0.5 * np.log(2 * np.pi) - log_ndtr(near))
    hazard = np.where(room < -6.0, -room - 1 / np.minimum(room, -1.0), hazard)
    told = np.sqrt(np.maximum(hazard * (hazard + room), 0.0))
    known = told >= 1e-9
    pull = np.where(known, -hazard / np.where(known, told, 1.0), 0.0)
    return np.column_stack([pull, np.where(known, told, 0.0)[:, None] * white[:, 1:]])


def learn(shop, observations):
    """A fit for each product: once alone, then about the pooled means and with what changed."""
    sums = [Sums(shop, product, own) for product, own in enumerate(observations)]
    alone = [Fit(own, np.zeros(SHARED)) for own in sums]
    together = _together([_Evidence(fit) for fit in alone if len(fit.sums.seen)])
    pooled = _pooled(alone)
    return [_with_change(Fit(own, pooled), pooled, together) for own in sums]


class _Evidence:
    """For each day tried how what is seen since differs from what was seen before."""

    def __init__(self, fit):
        since = fit.sums.ages[None, :] <= DAYS_AGO[:, None]
        own = fit.told
        bound = np.maximum(CHANGE_BOUND - PER_SKEWNESS * 2 / np.sqrt(np.maximum(own, 1e-9)), 1.0)
        pulled = np.clip(fit.residuals, -bound, bound) * np.sqrt(own)
        # The farthest off is left out where it is past the bound: one alone is no change.
        off = np.where(since, np.abs(fit.residuals), 0.0)
        spilled = (off == off.max(axis=1, keepdims=True)) & (off > CHANGE_BOUND)
        before, after = ~since, since & ~spilled
        told = np.array([(side * own).sum(axis=1) for side in (before, after)])
        summed = np.array([(side * pulled).sum(axis=1) for side in (before, after)])
        number = (after & (own > 0)).sum(axis=1)
        self.use = (number > 0) & (told[0] > 0) & (told[1] >= LEAST_TOLD)
        told = np.where(self.use, told, 1.0)
        self.difference = summed[1] / told[1] - summed[0] / told[0]
        self.variance = 1 / told[0] + 1 / told[1]
        alone = self.use & (number >= SEEN_FOR_ITSELF) & (told[1] >= TOLD_FOR_ITSELF)
        own = np.where(alone, self.factor(0.0, CHANGE_SD), 1.0)
        self.own = CHANCE_BEFORE / len(DAYS_AGO) * own
        self.alone = 1 - CHANCE_BEFORE + self.own.sum()
        self.shifted = np.stack([self.factor(shift, APART_SD) for shift in SHIFTS], axis=1)

    def factor(self, mean, sd):
        """Bayes factor of a change on each day, of this prior mean and sd."""
        spread = self.variance + sd**2
        off = self.difference
        gained = 0.5 * (off**2 / self.variance - (off - mean) ** 2 / spread)
        gained -= 0.5 * np.log(spread / self.variance)
        return np.where(self.use, np.exp(np.minimum(gained, LARGEST)), 1.0)

    def together(self):
        """Likelihood by day, shift and share of products that changed together."""
        return (1 - SHARES) * self.alone + SHARES * self.shifted[:, :, None]


def _together(seen):
    """Chance that products change by themselves only, and by day, shift and share together."""
    apart = np.log(1 - TOGETHER_BEFORE) + sum(np.log(own.alone) for own in seen)
    shape = (len(DAYS_AGO), len(SHIFTS), len(SHARES))
    logs = np.full(shape, np.log(TOGETHER_BEFORE / np.prod(shape)))
    for own in seen:
        logs += np.log(own.together())
    most = max(apart, logs.max())
    apart, chances = np.exp(apart - most), np.exp(logs - most)
    total = apart + chances.sum()
    return apart / total, np.where(chances / total > 1e-6, chances / total, 0.0)


def _with_change(steady, pooled, believed):
    if len(steady.sums.seen) == 0:
        return steady
    own = _Evidence(steady)
    apart, together = believed
    scale = together / own.together()
    shared = scale * SHARES * own.shifted[:, :, None]
    alone = (apart / own.alone + (scale * (1 - SHARES)).sum()) * own.own
    chances = shared.sum(axis=(1, 2)) + alone
    chance = chances.sum()
    if chance <= LEAST_CHANCE:
        return steady
    by_shift = shared.sum(axis=(0, 2))
    mean = (by_shift * SHIFTS).sum() / chance
    second = (by_shift * (SHIFTS**2 + APART_SD**2)).sum() + alone.sum() * CHANGE_SD**2
    best = len(chances) - 1 - np.argmax(chances[::-1])
    sd = np.sqrt(max(second / chance - mean**2, 0.0))
    changed = Fit(steady.sums.changed(DAYS_AGO[best], mean, sd), pooled)
    # The change is in all that comes: it is taken into the common bias.
    into = np.eye(len(steady.b), len(changed.b))
    into[0, -1] = 1.0
    moved = into @ changed.b - steady.b
    steady.covariance = ((1 - chance) * steady.covariance
                         + chance * into @ changed.covariance @ into.T
                         + chance * (1 - chance) * np.outer(moved, moved))
    steady.b = steady.b + chance * moved
    steady.phi = (1 - chance) * steady.phi + chance * changed.phi
    return steady


def _pooled(alone):
    seen = [fit for fit in alone if len(fit.sums.seen)]
    pooled = np.zeros(SHARED)
    for effect, prior in enumerate((COMMON_SD, EXPONENT_SD, EXPONENT_SD)):
        own = np.array([fit.covariance[effect, effect] for fit in seen])
        estimate = np.array([fit.b[effect] for fit in seen])
        told = np.maximum(1 / own - 1 / prior**2, 0.0) if len(seen) else own
        use = told > 1e-9
        spread = 1 / (1 / told[use] + prior**2)
        precision = POOLED_SD[effect] ** -2.0 + spread.sum()
        pooled[effect] = np.sum(estimate[use] / (own[use] * told[use]) * spread) / precision
    return pooled


def ln_mean(shop, fits, product, rows):
    """Logarithms of the means of units: rows of pair, ln size, ln condition."""
    b, pair = fits[product].b, rows[:, 0].astype(int)
    own = b[SHARED + shop.local[pair]] if len(rows) else np.zeros(0)
    return shop.ln_centre[pair] + rows[:, 1] * (1 + b[1]) + rows[:, 2] * (1 + b[2]) + b[0] + own


def expected(shop, fits, product, rows):
    """Means of units, on average over what is not known of them."""
    pair = rows[:, 0].astype(int)
    x = np.zeros((len(rows), len(fits[product].b)))
    x[:, 0], x[:, 1], x[:, 2] = 1.0, rows[:, 1], rows[:, 2]
    x[np.arange(len(rows)), SHARED + shop.local[pair]] = 1.0
    variance = np.einsum("ij,jk,ik->i", x, fits[product].covariance, x)
    return np.exp(ln_mean(shop, fits, product, rows) + variance / 2)
