"""Futures: what jobs may take of each product, drawn for all futures at once."""

import math
from datetime import date

import numpy as np

from . import usage

NOT_BOOKED = 1 << 20
BELIEVED_LATE_DAYS = 7


class Effects:
    """Drawn effects on usage: one array for each effect, a row for each product or pair."""

    def __init__(self, shop, fits, count, random):
        pairs, products = len(shop.pair_product), len(shop.products)
        self.common, self.size, self.condition = np.zeros((3, products, count))
        self.pair = np.zeros((pairs, count))
        self.shape = np.array([1 / max(fit.phi, 1e-6) for fit in fits])
        self.moved = []
        for product, fit in enumerate(fits):
            factor = np.linalg.cholesky(fit.covariance)
            moved = factor @ random.standard_normal((len(fit.b), count))
            b = fit.b[:, None] + moved
            self.common[product], self.size[product], self.condition[product] = b[:3]
            self.pair[shop.pairs_of_product[product]] = b[usage.SHARED:]
            self.moved.append(moved)

    def quantities(self, shop, pair, ln_size, ln_condition, future, random):
        """What units take: each has a pair, a shape and a future of its own."""
        product = shop.pair_product[pair]
        eta = (shop.ln_centre[pair] + ln_size * (1 + self.size[product, future])
               + ln_condition * (1 + self.condition[product, future])
               + self.common[product, future] + self.pair[pair, future])
        shape = self.shape[product]
        return np.exp(eta) * random.standard_gamma(shape) / shape


class Futures:
    """For each product its takings, padded: a row for each step, a column for each future."""

    def __init__(self, shop, fits, arrivals, effects, count, days, random):
        self.count, self.days = count, days
        parts = [*self._booked(shop, arrivals, effects, random),
                 self._not_booked(shop, arrivals, effects, random)]
        product, future, day, booked, quantity, stall = map(np.concatenate, zip(*parts))
        order = np.lexsort((booked, day, future, product))
        lane = product[order].astype(np.int64) * count + future[order]
        day, booked, quantity, stall = day[order], booked[order], quantity[order], stall[order]
        first = np.searchsorted(lane, np.arange(len(shop.products) * count + 1))
        lengths = np.diff(first).reshape(len(shop.products), count)
        step = np.arange(len(lane)) - first[lane]
        self.of = []
        for own in range(len(shop.products)):
            rows = slice(first[own * count], first[(own + 1) * count])
            at = (step[rows], lane[rows] - own * count)
            takings = dict(
                day=np.full((lengths[own].max(), count), np.inf),
                quantity=np.zeros((lengths[own].max(), count)),
                stall=np.zeros((lengths[own].max(), count)),
                booked=np.full((lengths[own].max(), count), NOT_BOOKED))
            takings["day"][at], takings["quantity"][at] = day[rows], quantity[rows]
            takings["stall"][at], takings["booked"][at] = stall[rows], booked[rows]
            self.of.append(takings)

    def totals(self, product, end):
        """What is taken in each future before its day `end`."""
        own = self.of[product]
        return np.where(own["day"] < end, own["quantity"], 0.0).sum(axis=0)

    def _booked(self, shop, arrivals, effects, random):
        ahead = [job for job in shop.jobs if job["status"] == "booked"
                 and shop.today - job["day"] <= BELIEVED_LATE_DAYS]
        ahead.sort(key=lambda job: max(job["day"], shop.today))
        self.jobs, self.kept = ahead, []
        for number, job in enumerate(ahead):
            day = max(job["day"] - shop.today, 0)
            chance = arrivals.cancel_share
            if job["day"] < shop.today:
                chance = 0.5
            elif day == 0:
                chance /= 2
            kept = random.random(self.count) >= chance
            self.kept.append(kept)
            if day >= self.days:
                continue
            future = np.flatnonzero(kept)
            for pair in job["pairs"]:
                pairs = np.full(len(future), pair)
                quantity = effects.quantities(shop, pairs, job["ln_size"], job["ln_condition"],
                                              future, random)
                same = np.ones(len(future))
                yield (shop.pair_product[pairs], future, day * same, number * same, quantity,
                       job["stall"] * same)

    def _not_booked(self, shop, arrivals, effects, random):
        days = np.array([d for d in range(self.days) if shop.is_open(shop.today + d)])
        z = random.standard_normal((self.count, len(arrivals.b)))
        rates = arrivals.rates(shop, days + shop.today, arrivals.b + z @ arrivals.factor.T)
        spread = arrivals.overdispersion - 1
        if spread > 0.02:
            rates = random.gamma(rates / spread, spread)
        counts = random.poisson(np.clip(rates, 1e-9, 1e4))
        place, future = np.nonzero(counts)
        times = counts[place, future]
        day, future = np.repeat(days[place], times), np.repeat(future, times)
        sets = len(arrivals.ladder) // len(arrivals.weights)
        at = future % sets + random.random(len(future))
        drawn = np.searchsorted(arrivals.ladder, at, "right")
        template = drawn % len(arrivals.weights)
        # Of a visit that is booked so many days ahead of its day, none is booked later than that.
        lead = arrivals.lead[template]
        to_come = (lead < day) | ((lead == day) & (random.random(len(day)) < 1.0))
        day, future, template = day[to_come], future[to_come], template[to_come]
        back = self._back(shop, arrivals, random)
        day, future = np.concatenate([day, back[0]]), np.concatenate([future, back[1]])
        template = np.concatenate([template, back[2]])
        count = arrivals.unit_count[template]
        row = np.repeat(arrivals.unit_start[template], count) + _within(count)
        unit = arrivals.unit[row]
        own_size = np.concatenate([np.full(len(to_come[to_come]), np.nan), back[3]])
        ln_size = np.where(np.isnan(np.repeat(own_size, count)), unit[:, 1],
                           np.repeat(own_size, count))
        pair, future = unit[:, 0].astype(int), np.repeat(future, count)
        quantity = effects.quantities(shop, pair, ln_size, unit[:, 2], future, random)
        same = np.full(len(pair), float(NOT_BOOKED))
        stall = np.repeat(arrivals.stall[template], count)
        return shop.pair_product[pair], future, np.repeat(day, count), same, quantity, stall

    def _back(self, shop, arrivals, random):
        """Vehicles that come back: days, futures, templates and the logarithms of their sizes."""
        if not arrivals.due:
            return np.zeros(0), np.zeros(0, int), np.zeros(0, int), np.zeros(0)
        due, share, ln_size, wanted = map(np.array, zip(*arrivals.due))
        comes = random.random((self.count, len(due))) < share
        ahead = np.full(comes.shape, -1.0)
        missing = comes.copy()
        for _ in range(50):
            if not missing.any():
                break
            z = random.standard_normal(missing.sum())
            drawn = np.round((due - shop.today)[np.nonzero(missing)[1]] + 10 * z)
            # A draw that would be booked by now is drawn again, with its chance to come at all.
            again = random.random(len(drawn)) < share[np.nonzero(missing)[1]]
            kept = drawn >= 7
            place = np.nonzero(missing)
            ahead[place[0][kept], place[1][kept]] = drawn[kept]
            missing[place[0][kept], place[1][kept]] = False
            lost = ~kept & ~again
            missing[place[0][lost], place[1][lost]] = False
        future, one = np.nonzero((ahead >= 0) & (ahead < self.days))
        first = len(arrivals.weights) - len(shop.job_types)
        return ahead[future, one], future, first + wanted[one], ln_size[one]


def _within(counts):
    """0, 1, …, n − 1 for each n of `counts`, one behind the other."""
    ends = np.cumsum(counts)
    return np.arange(ends[-1] if len(ends) else 0) - np.repeat(ends - counts, counts)


def next_weekday(day, weekday):
    return (weekday - date.fromordinal(day).weekday()) % 7


def whole_days(days):
    return np.clip(np.round(days), 0, 3650)


def finite(days):
    return days if math.isfinite(days) else 1e6
