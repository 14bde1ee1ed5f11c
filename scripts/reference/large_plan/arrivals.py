"""Arrivals by scikit-learn's Poisson regression; lead times; which past visit a visit is like."""

import math
from datetime import date

import numpy as np
from scipy.stats import norm
from sklearn.linear_model import PoissonRegressor

PRIOR_RATE = 0.5
SD = np.array([0.7] + [0.6] * 7 + [0.25, 0.25, 0.12, 0.12, 0.25])
HALF_LIFE_DAYS, TEMPLATE_HALF_LIFE_DAYS, MOST_TEMPLATES = 365.0, 200.0, 600
WEIGHT_SETS, UNSEEN_TYPE_WEIGHT = 32, 0.5
CANCEL_SHARE, CANCEL_WORTH = 0.05, 20.0
COME_BACK_SD_DAYS, MOST_REDRAWS = 10.0, 50
DISPERSION_WORTH, ROUNDS = 30.0, 4
WORD_WORTH, USUAL_SPREAD, LEAST_DAYS = 3.0, 0.3, 0.4


def effects(days, today):
    """The week's shape, the year's shape, slow drift: a row for each day."""
    days = np.asarray(days)
    x = np.zeros((len(days), len(SD)))
    x[:, 0] = 1.0
    x[np.arange(len(days)), 1 + (days - 1) % 7] = 1.0
    ordinal = np.array([date.fromordinal(int(day)).timetuple().tm_yday - 1 for day in days])
    year = 2 * math.pi * ordinal / 365.25
    for column, wave in enumerate([np.sin(year), np.cos(year), np.sin(2 * year), np.cos(2 * year)]):
        x[:, 8 + column] = wave
    x[:, 12] = (days - today) / 365.25
    return x


class Arrivals:
    def __init__(self, shop, random):
        visits = [job for job in shop.jobs
                  if job["status"] != "cancelled" and job["day"] < shop.today]
        self._returns(shop, visits)
        self._rate(shop, visits)
        self._templates(shop, visits, random)
        cancelled = sum(job["status"] == "cancelled" for job in shop.jobs)
        self.cancel_share = ((CANCEL_SHARE * CANCEL_WORTH + cancelled)
                             / (CANCEL_WORTH + cancelled + len(visits)))

    def _returns(self, shop, visits):
        """Vehicles that may come back, and the share of visits that are not such."""
        explained = np.zeros(len(shop.job_types))
        seen = np.zeros(len(shop.job_types))
        first = min(job["day"] for job in visits)
        self.due = []
        for job in visits:
            for job_type in job["types"]:
                seen[job_type] += 1
                if job["status"] != "done" or job_type not in shop.comes_back:
                    continue
                days, share, wanted = shop.comes_back[job_type]
                due = job["day"] + days
                if first <= due < shop.today:
                    explained[wanted] += share
                if shop.today - due <= 2 * COME_BACK_SD_DAYS:
                    self.due.append((due, share, job["ln_size"], wanted))
        self.kept_by_type = 1 - np.minimum(explained, 0.9 * seen) / np.maximum(seen, 1)
        kept = [self.kept_by_type[job["types"]].min() for job in visits]
        self.kept_share = min(max(float(np.mean(kept)), 0.1), 1.0)
        #: What vehicles come back for, and how many do for each visit that is no return.
        self.returning = {
            wanted: sum(1 - own for job, own in zip(visits, kept) if wanted in job["types"])
            / max(sum(kept), 1.0)
            for wanted in {wanted for _, _, wanted in shop.comes_back.values()}}

    def _rate(self, shop, visits):
        first = min(job["day"] for job in visits)
        days = np.array([day for day in range(first, shop.today) if shop.is_open(day)])
        on = np.bincount([job["day"] - first for job in visits], minlength=shop.today - first)
        x, y = effects(days, shop.today), on[days - first] * self.kept_share
        weight = 0.5 ** ((shop.today - days) / HALF_LIFE_DAYS)
        # The prior as a penalty of one size: columns in units of their sd. Its mean as exposure.
        scaled, phi = x * SD, 1.0
        for round_ in range(ROUNDS):
            exposed = weight * PRIOR_RATE
            model = PoissonRegressor(alpha=phi / exposed.sum(), fit_intercept=False,
                                     solver="newton-cholesky", tol=1e-8, max_iter=100)
            model.fit(scaled, y / PRIOR_RATE, sample_weight=exposed)
            mean = PRIOR_RATE * np.exp(scaled @ model.coef_)
            information = (x.T * (weight * mean / phi)) @ x + np.diag(SD**-2)
            self.covariance = np.linalg.inv(information)
            if round_ + 1 < ROUNDS:
                fitted = weight * np.einsum("ij,jk,ik->i", x * mean[:, None], self.covariance,
                                            x * mean[:, None])
                pearson = np.sum(weight * ((y - mean) ** 2 + fitted) / mean)
                phi = (DISPERSION_WORTH + pearson) / (DISPERSION_WORTH + weight.sum())
                phi = min(max(phi, 0.1), 20.0)
        self.b = model.coef_ * SD + np.log(PRIOR_RATE) * (np.arange(len(SD)) == 0)
        self.factor, self.overdispersion = np.linalg.cholesky(self.covariance), phi

    def _templates(self, shop, visits, random):
        age = np.array([shop.today - job["day"] for job in visits])
        off = (age / 365.25) % 1
        off = np.minimum(off, 1 - off) * 365.25
        season = 0.4 + 0.6 * np.exp(-0.5 * (off / 45) ** 2) if age.max() > 300 else 1.0
        kept = np.array([self.kept_by_type[job["types"]].min() for job in visits])
        weight = 0.5 ** (age / TEMPLATE_HALF_LIFE_DAYS) * season * kept
        best = np.argsort(-weight, kind="stable")[:MOST_TEMPLATES]
        leads = [max(visits[n]["day"] - visits[n]["booked"], 0) for n in best]
        usual = sorted(leads)[len(leads) // 2]
        rows = [(visits[n]["pairs"], visits[n]["ln_size"], visits[n]["ln_condition"],
                 visits[n]["stall"]) for n in best]
        rows += [(shop.pairs_of_type[t], 0.0, 0.0, shop.type_stall[t])
                 for t in range(len(shop.job_types))]
        self.lead = np.array(leads + [usual] * len(shop.job_types))
        self.weights = np.concatenate([weight[best], [UNSEEN_TYPE_WEIGHT] * len(shop.job_types)])
        drawn = self.weights * random.standard_exponential((WEIGHT_SETS, len(self.weights)))
        running = np.cumsum(drawn, axis=1)
        #: Sets of running shares one above the other, to be searched all at once.
        self.ladder = (running / running[:, -1:] + np.arange(WEIGHT_SETS)[:, None]).ravel()
        self.stall = np.array([row[3] for row in rows])
        self._flatten(rows)

    def _flatten(self, rows):
        lengths = np.array([len(row[0]) for row in rows])
        self.unit_start, self.unit_count = np.cumsum(lengths) - lengths, lengths
        self.unit = np.array([(pair, ln_size, ln_condition)
                              for pairs, ln_size, ln_condition, _ in rows for pair in pairs])

    def rates(self, shop, days, b):
        return np.exp(np.minimum(effects(days, shop.today) @ b.T, 6.0))


def lead_times(shop):
    """Mean and sd of the logarithm of each supplier's lead time, orders still out censored."""
    learned = []
    for supplier in range(len(shop.suppliers)):
        word = max(shop.lead_days[supplier], LEAST_DAYS)
        prior_variance = math.log1p(USUAL_SPREAD**2)
        prior_mean = math.log(word) - prior_variance / 2
        own = [(days, came) for s, days, came in shop.deliveries if s == supplier]
        came = np.log([max(days, LEAST_DAYS) for days, is_here in own if is_here])
        out = np.log([days for days, is_here in own if not is_here and days >= 1])
        mean, variance = prior_mean, prior_variance
        count = WORD_WORTH + len(came) + len(out)
        for _ in range(50):
            sd = math.sqrt(variance)
            z = (out - mean) / sd
            hazard = np.exp(norm.logpdf(z) - norm.logsf(z))
            beyond, spread = mean + sd * hazard, variance * (1 + z * hazard - hazard**2)
            next_ = (WORD_WORTH * prior_mean + came.sum() + beyond.sum()) / count
            squares = (WORD_WORTH * (prior_variance + (prior_mean - next_) ** 2)
                       + ((came - next_) ** 2).sum() + (spread + (beyond - next_) ** 2).sum())
            moved = abs(next_ - mean)
            mean, variance = next_, squares / count
            if moved < 1e-10:
                break
        variance = max(variance, 0.05**2)
        learned.append((mean, math.sqrt(variance * (1 + 1 / (WORD_WORTH + len(came))))))
    return learned
