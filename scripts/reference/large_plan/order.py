"""The whole plan: usage, arrivals, lead times, futures, the shelf walked, what to order."""

import math

import numpy as np
from scipy.stats import norm

from . import usage
from .arrivals import Arrivals, lead_times
from .books import replay
from .futures import Effects, Futures, finite, next_weekday, whole_days
from .seen import Uses, observations
from .walk import NEVER, OPEN_FIRST, Lanes, tail_waste

REVIEW_DAYS, MOST_CYCLE_WEEKS, FEWEST_DAYS, MOST_DAYS = 7, 8, 42, 150
EARLY_WORTH = 2.0
#: Numbers of packs that are walked at once.
AT_ONCE = 4


class Plan:
    """Everything advised on the shop's day."""

    def __init__(self, shop, futures, seed):
        self.shop, self.count = shop, futures
        self.random = np.random.default_rng(seed)
        self._learn()
        self._supply()
        effects = Effects(shop, self.fits, futures, self.random)
        self.futures = Futures(shop, self.fits, self.arrivals, effects, futures, self.days,
                               self.random)
        self._books_off(effects)
        self._coming()
        self.levels = [self._levels(product) for product in range(len(shop.products))]
        self._walk_shelf()
        self.candidates = [self._candidate(product) for product in range(len(shop.products))]
        self.orders = {supplier: self._choose(supplier) for supplier in range(len(shop.suppliers))}

    # ---- what is learned

    def _learn(self):
        shop = self.shop
        self.uses = Uses(shop)
        unmeasured = self.uses.unmeasured(shop)
        self.fits = usage.learn(shop, [[] for _ in shop.products])
        # What a thrown-away container held is as the books have it: first by the sheet, then by
        # what is learned of its product.
        thrown = {product for _, product in shop.discards}
        if thrown:
            seen = observations(shop, self.uses, replay(shop, self._expected(unmeasured)))
            self.fits = usage.learn(shop, [own if product in thrown else []
                                           for product, own in enumerate(seen)])
        books = replay(shop, self._expected(unmeasured))
        self.fits = usage.learn(shop, observations(shop, self.uses, books))
        self.books = replay(shop, self._expected(unmeasured))
        self.unmeasured = unmeasured
        self.arrivals = Arrivals(shop, self.random)
        self.leads = lead_times(shop)

    def _expected(self, unmeasured):
        return [(rows[:, 0], np.exp(usage.ln_mean(self.shop, self.fits, product, rows[:, 1:])))
                for product, rows in enumerate(unmeasured)]

    # ---- suppliers and shelves

    def _supply(self):
        shop, arrivals = self.shop, self.arrivals
        days = np.array([d for d in range(28) if shop.is_open(shop.today + d)]) + shop.today
        visits = arrivals.rates(shop, days, arrivals.b[None, :]).sum() / 28
        share = arrivals.weights / arrivals.weights.sum()
        unit = arrivals.unit
        owner = np.repeat(np.arange(len(share)), arrivals.unit_count)
        self.daily_use = np.zeros(len(shop.products))
        product = shop.pair_product[unit[:, 0].astype(int)]
        for own in range(len(shop.products)):
            rows = product == own
            mean = usage.expected(shop, self.fits, own, unit[rows])
            self.daily_use[own] = visits * np.sum(share[owner[rows]] * mean)
        for job_type, returns in arrivals.returning.items():
            for pair in shop.pairs_of_type[job_type]:
                mean = usage.expected(shop, self.fits, shop.pair_product[pair],
                                      np.array([[pair, 0.0, 0.0]]))
                self.daily_use[shop.pair_product[pair]] += visits * returns * mean[0]
        self.value = np.array([own[0]["unit_price"] if own else 0.0 for own in shop.offers])
        usual = np.array([own[0]["supplier"] if own else -1 for own in shop.offers])
        self.place_day = next_weekday(shop.today, shop.order_weekday)
        self.this, self.next, self.cycle = [], [], []
        for supplier, (mean, sd) in enumerate(self.leads):
            z = self.random.standard_normal((2, self.count))
            this, following = whole_days(np.exp(mean + sd * z))
            own = usual == supplier
            weekly = np.sum(7 * self.daily_use[own] * self.value[own])
            weeks = self._cycle_weeks(supplier, weekly)
            self.this.append(self.place_day + this)
            self.next.append(self.place_day + np.maximum(REVIEW_DAYS + following, this))
            self.cycle.append(weeks)
        last = max((end + REVIEW_DAYS * (weeks - 1)).max()
                   for end, weeks in zip(self.next, self.cycle))
        self.days = int(min(max(last + 1, FEWEST_DAYS), MOST_DAYS))

    def _freight(self, supplier, goods):
        free = goods >= self.shop.free_over[supplier]
        return 0.0 if free else self.shop.freight[supplier]

    def _cycle_weeks(self, supplier, weekly):
        def cost(weeks):
            goods = weekly * weeks
            holding = self.shop.holding_rate / 52 * goods / 2
            short = max(self.shop.minimum[supplier] - goods, 0.0)
            return short, self._freight(supplier, goods) / weeks + holding
        return min(range(1, MOST_CYCLE_WEEKS + 1), key=cost)

    def _books_off(self, effects):
        """What is on the shelf beyond the books in each future."""
        shop = self.shop
        seen = [None] * len(shop.products)
        levels = [(at, product, 0.02 * shop.size[product]) for at, product in shop.openings]
        levels += [(at, product, share * quantity) for at, product, quantity, share in shop.counts]
        for at, product, sd in sorted(levels):
            seen[product] = (at, sd)
        self.off = []
        for product, book in enumerate(self.books):
            if book.bare_at is not None and (seen[product] is None
                                             or seen[product][0] < book.bare_at):
                seen[product] = (book.bare_at, 0.05 * shop.size[product])
            at, sd = seen[product] or (-math.inf, 0.0)
            rows = self.unmeasured[product]
            rows = rows[rows[:, 0] > at][:, 1:]
            mean = np.exp(usage.ln_mean(shop, self.fits, product, rows))
            variance = sd**2 + np.sum(mean**2) * self.fits[product].phi
            slope = np.zeros(len(self.fits[product].b))
            slope[0], slope[1], slope[2] = mean.sum(), mean @ rows[:, 1], mean @ rows[:, 2]
            np.add.at(slope, usage.SHARED + shop.local[rows[:, 0].astype(int)], mean)
            z = self.random.standard_normal(self.count)
            on_hand = self._on_hand(product)
            off = math.sqrt(variance) * z - slope @ effects.moved[product]
            self.off.append(np.clip(off, -on_hand, on_hand))

    def _good(self, product):
        open_days = self.shop.open_days[product]
        book = self.books[product]
        live = [c for c in book.live if c.until(open_days) >= self.shop.today]
        return sorted(live, key=lambda c: (c.came, c.number))

    def _on_hand(self, product):
        return sum(c.left for c in self._good(product))

    def _coming(self):
        """For each product the days that its lines on order come in, in each future."""
        self.comes = []
        for product, lines in enumerate(self.shop.out):
            days = []
            for supplier, age, _ in lines:
                mean, sd = self.leads[supplier]
                past = norm.cdf((np.log(age + 0.5) - mean) / sd) if age >= 0.5 else 0.0
                u = self.random.random(self.count)
                total = np.exp(mean + sd * norm.ppf(np.clip(past + u * (1 - past), 1e-9, 1 - 1e-9)))
                days.append(whole_days(np.maximum(total - age, 0)))
            self.comes.append(days)

    # ---- walks

    def _lanes(self, product, packs, arrives, with_coming=True):
        """Lanes for each number of containers in `packs`, which come on the days `arrives`."""
        shop, count = self.shop, self.count
        good, lines = self._good(product), self.shop.out[product] if with_coming else []
        columns, size, today = len(good) + len(lines) + 3, shop.size[product], shop.today
        left, number, until, arrive = np.zeros((4, count, columns))
        is_open = np.zeros((count, columns), bool)
        for column, c in enumerate(good):
            left[:, column], number[:, column] = c.left, 1
            until[:, column] = min(c.until(shop.open_days[product]) - today, NEVER)
            is_open[:, column] = c.opened is not None
        life = finite(shop.shelf_days[product])
        for column, line in enumerate(lines, len(good)):
            days = self.comes[product][column - len(good)]
            left[:, column], number[:, column] = size, line[2]
            arrive[:, column], until[:, column] = days, days + life
        self._mistake(product, left, number, until, is_open, columns - 3)
        left[:, -2], arrive[:, -2], until[:, -2] = size, arrives, arrives + life
        is_open[:, -1] = True
        repeat = len(packs)
        state = [np.tile(own, (repeat, 1)) for own in (left, number, until, arrive, is_open)]
        state[1][:, -2] = np.repeat(packs, count)
        return Lanes(state, self.days, finite(shop.open_days[product]))

    def _mistake(self, product, left, number, until, is_open, found):
        """What the books are off by, laid over the containers in the order they are poured."""
        off = self.off[product].copy()
        if not found:
            return
        for _ in range(found):
            there = (left[:, :found] > 0) & (number[:, :found] > 0)
            turn = np.where(is_open[:, :found], 0.0, OPEN_FIRST) + until[:, :found]
            turn = np.where(there, turn, np.inf)
            column = turn.argmin(axis=1)
            rows = np.flatnonzero((off < 0) & there.any(axis=1))
            if not len(rows):
                break
            own = column[rows]
            taken = np.minimum(-off[rows], left[rows, own] * number[rows, own])
            left[rows, own] -= taken / number[rows, own]
            off[rows] += taken
        rows = np.flatnonzero((off > 0) & there.any(axis=1))
        own = column[rows]
        room = np.where(is_open[rows, own], self.shop.size[product] - left[rows, own], 0.0)
        room = np.clip(room, 0.0, off[rows])
        left[rows, own] += room
        left[rows, found], number[rows, found] = off[rows] - room, 1
        until[rows, found], is_open[rows, found] = until[rows, own], is_open[rows, own]

    def _walk_shelf(self):
        """What booked jobs would lack, what goes off, and how long the shelf lasts."""
        stalled = np.zeros((len(self.futures.jobs), self.count), bool)
        self.cover, self.goes_off = [], []
        none = np.full(self.count, NEVER)
        for product, takings in enumerate(self.futures.of):
            lanes = self._lanes(product, [0], none)
            missing = lanes.run(takings, 1)
            step, future = np.nonzero(missing)
            booked = takings["booked"][step, future]
            own = booked < len(stalled)
            stalled[booked[own], future[own]] = True
            self.goes_off.append(float((lanes.wasted + tail_waste(
                lanes, self.daily_use[product])[1]).mean()))
            missing = self._lanes(product, [0], none, with_coming=False).run(takings, 1)
            day = np.where(missing > 0, takings["day"], self.days)
            lasts = day.min(axis=0) if len(day) else np.full(self.count, self.days)
            self.cover.append(np.quantile(lasts, [0.1, 0.5, 0.9]))
        kept = np.array([own.sum() for own in self.futures.kept])
        self.ready = 1 - stalled.sum(axis=1) / np.maximum(kept, 1)

    def _levels(self, product):
        totals = self.futures.totals(product, 14)
        supplier = self.shop.offers[product][0]["supplier"]
        z = norm.ppf(self.shop.service)

        def level(end):
            own = self.futures.totals(product, end)
            return own.mean() + z * own.std(ddof=1)
        end = self.next[supplier]
        reorder = level(end)
        up_to = level(end + REVIEW_DAYS * self.cycle[supplier])
        quantiles = np.quantile(totals, [0.1, 0.5, 0.9, 0.95])
        return dict(reorder=reorder, up_to=max(up_to, reorder), mean=totals.mean(),
                    quantiles=quantiles)

    # ---- what to order

    def _candidate(self, product):
        """The first offer, or another where the first serves badly and the other is worth it."""
        offers = self.shop.offers[product]
        first = Candidate(self, product, offers[0])
        best, none = first.cost(first.best), first.cost(0)
        bad = best["stalls"] + max(best["waste"] - none["waste"], 0)
        if bad < 1 or not first.wanted:
            return first
        enough, chosen = first.total(first.best) - 0.02 * bad, first
        for offer in offers[1:]:
            other = Candidate(self, product, offer)
            goods = other.best * offer["price"]
            over = max(offers[0]["unit_price"] - offer["unit_price"], 0) * goods
            freight = self._freight(offer["supplier"], goods)
            freight *= offer["supplier"] != offers[0]["supplier"]
            cost = other.total(other.best) + over / offer["unit_price"] + freight
            if other.best > 0 and cost < enough:
                enough, chosen = cost, other
        return chosen

    def _choose(self, supplier):
        """One supplier's order: products and packs; nothing where it can wait."""
        own = [c for c in self.candidates if c.offer["supplier"] == supplier]
        lines = {c: c.best for c in own if c.best > 0}
        if not lines:
            return {}
        avoided = sum(max(c.cost(0)["stalls"] - c.cost(n)["stalls"], 0) for c, n in lines.items())
        goods = sum(c.price(n) for c, n in lines.items())
        week = self.shop.holding_rate * goods * REVIEW_DAYS / 365
        delivery = self._freight(supplier, goods) / self.cycle[supplier] + week
        service = any(c.needs_service() for c in lines)
        if not service and avoided <= delivery:
            return {}
        minimum, free = self.shop.minimum[supplier], self.shop.free_over[supplier]
        if goods < minimum:
            filled, cost = self._fill(own, lines, minimum, True)
            if filled is None or cost > avoided + (math.inf if service else -delivery):
                return {}
            lines = filled
        if sum(c.price(n) for c, n in lines.items()) < free < math.inf:
            filled, cost = self._fill(own, lines, free, False)
            if filled is not None and cost < self.shop.freight[supplier]:
                lines = filled
        return {c.product: n for c, n in lines.items()}

    def _fill(self, own, lines, goal, waste):
        packs, extra = {c: lines.get(c, 0) for c in own}, 0.0
        for _ in range(200):
            missing = goal - sum(c.price(n) for c, n in packs.items())
            if missing <= 0:
                return {c: n for c, n in packs.items() if n}, extra
            best = None
            for c, now in packs.items():
                after = c.one_more(now)
                if after is None or not waste and wastes(c.cost(now), c.cost(after)):
                    continue
                more = c.total(after) - c.total(now)
                rate = more / max(min(c.price(after) - c.price(now), missing), 1e-9)
                if best is None or rate < best[0]:
                    best = (rate, c, after, more)
            if best is None:
                return None, 0.0
            packs[best[1]] = best[2]
            extra += best[3]
        return None, 0.0


def wastes(fewer, more):
    """Whether `more` lets more go off than it saves."""
    saves = fewer["stalls"] - more["stalls"] + fewer["early"] - more["early"]
    return more["waste"] - fewer["waste"] > max(saves, 0) + 0.01


class Candidate:
    """One product by one offer, and what each number of packs that was tried costs."""

    def __init__(self, plan, product, offer):
        self.plan, self.product, self.offer, self.curve = plan, product, offer, {}
        supplier, self.takings = offer["supplier"], plan.futures.of[product]
        self.this, self.next = plan.this[supplier], plan.next[supplier]
        self.end = self.next + REVIEW_DAYS * (plan.cycle[supplier] - 1)
        day = self.takings["day"]
        first = day.min(axis=0) if len(day) else np.full(plan.count, np.inf)
        self.wanted = np.mean(first < self.next) >= 0.5
        self._study()

    def _study(self):
        plan, service = self.plan, self.plan.shop.service
        up_to = np.quantile(plan.futures.totals(self.product, self.end), service)
        on_order = sum(line[2] for line in plan.shop.out[self.product])
        size = plan.shop.size[self.product]
        short = up_to - plan._on_hand(self.product) - on_order * size
        self._try([0])
        none = self.cost(0)
        self.best = 0
        if short <= 0 and none["stall_chance"] < 0.02 * (1 - service) and none["stalls"] < 0.01:
            return
        target = int(min(max(math.ceil(short / (size * self.offer["pack"])), 1), 10_000))
        step, packs, worse, before = max(target // 6, 1), self.offer["minimum_packs"], 0, 0
        while worse < 2 and len(self.curve) < 24:
            self._try([packs + step * n for n in range(AT_ONCE)])
            for _ in range(AT_ONCE):
                serves = self.cost(packs)["chance_after"] <= 1 - service
                worse = worse + 1 if self.total(packs) > self.total(before) and serves else 0
                before = packs
                packs += step
            if before > 2 * target + 2:
                break
        if step > 1:
            middle = min(self.curve, key=self.total)
            low = max(middle - step + 1, self.offer["minimum_packs"])
            self._try([n for n in range(low, middle + step) if n not in self.curve])
        self.best = self._best()

    def _best(self):
        least = min(cost["chance_after"] for cost in self.curve.values())
        bar = max(1 - self.plan.shop.service, least + 0.005) if self.wanted else 1.0
        serving = [n for n in sorted(self.curve) if self.curve[n]["chance_after"] <= bar]
        paying = [n for n in serving if not wastes(self.cost(0), self.cost(n))]
        return min(paying or serving, key=self.total, default=0)

    def _try(self, packs):
        """Walks several numbers of packs through all futures at once."""
        plan, repeat = self.plan, len(packs)
        lanes = plan._lanes(self.product, np.array(packs) * self.offer["pack"], self.this)
        missing = lanes.run(self.takings, repeat)
        day = np.tile(self.takings["day"], repeat)
        stall = np.tile(self.takings["stall"], repeat)
        next_, end = np.tile(self.next, repeat), np.tile(self.end, repeat)
        arrives = np.tile(self.this, repeat)
        short = (missing > 0) & (day < end)
        now = short & (day < next_)
        stalls = np.where(now, stall, 0.0).sum(axis=0)
        later = short & ~now
        freight = plan.shop.freight[self.offer["supplier"]]
        if len(later):
            first = np.take_along_axis(stall, later.argmax(axis=0)[None], 0)[0]
            early = np.where(later.any(axis=0), np.minimum(freight, first), 0.0)
        else:
            early = np.zeros(len(end))
        value, use = plan.value[self.product], plan.daily_use[self.product]
        left, tail = tail_waste(lanes, use)
        usable = np.maximum(left - tail, 0)
        held = usable**2 / (2 * np.maximum(np.maximum(use, usable / 365), 1e-9))
        holding = plan.shop.holding_rate / 365 * value * (lanes.stock_days + held)
        besides = stalls + holding - value * (usable - missing.sum(axis=0))
        columns = dict(besides=besides, early=early, stalls=stalls, stall_chance=now.any(axis=0),
                       chance_after=(now & (day >= arrives)).any(axis=0),
                       waste=value * (lanes.wasted + tail))
        means = {name: own.reshape(repeat, -1).mean(axis=1) for name, own in columns.items()}
        for place, number in enumerate(packs):
            cost = {name: float(own[place]) for name, own in means.items()}
            cost["besides"] += number * self.offer["price"]
            self.curve[number] = cost

    def cost(self, packs):
        return self.curve[max(n for n in self.curve if n <= packs)]

    def total(self, packs):
        cost = self.cost(packs)
        return cost["besides"] + EARLY_WORTH * cost["early"]

    def price(self, packs):
        return packs * self.offer["price"]

    def one_more(self, packs):
        """The next number of packs up, tried if it was not yet."""
        more = [n for n in self.curve if n > packs]
        if more:
            return min(more)
        if self.plan.daily_use[self.product] <= 0 or len(self.curve) > 40:
            return None
        self._try([max(packs + 1, self.offer["minimum_packs"])])
        return max(self.curve)

    def needs_service(self):
        service = self.plan.shop.service
        without, with_ = self.cost(0)["stall_chance"], self.cost(self.best)["stall_chance"]
        return (self.best > 0 and self.wanted and without > 1 - service
                and with_ < without - 0.25 * (1 - service))
