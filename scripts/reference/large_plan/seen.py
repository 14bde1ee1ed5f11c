"""What the records say of usage: each observation is a sum of units of work.

A measured pour speaks of one job; two levels of the shelf (a count; a container opened when the
last was empty) speak of every job between them, less what was measured.
"""

import math
from bisect import bisect_left

import numpy as np

READING_SD, DREGS_SD, THROWN_SD = 0.005, 0.02, 0.3
NEARLY_FULL, USUALLY_SEALED, OTHERS_WORTH, LEAST_TOLD = 0.06, 3.0, 2.0, 0.65


class Uses:
    """For each product the done jobs that use it, in the order they ended."""

    def __init__(self, shop):
        self.of = [[] for _ in shop.products]
        for number, job in enumerate(shop.jobs):
            if job["status"] != "done":
                continue
            by_product = {}
            for pair in job["pairs"]:
                by_product.setdefault(int(shop.pair_product[pair]), []).append(pair)
            for product, pairs in by_product.items():
                measured = shop.poured.get((job["id"], product))
                self.of[product].append((job["ended"], number, job["began"], pairs, measured))
        for own in self.of:
            own.sort(key=lambda use: use[:2])

    def unmeasured(self, shop):
        """Each product's unmeasured units: when, which pair, the logarithms of size and grade."""
        units = []
        for own in self.of:
            rows = [(at, pair, shop.jobs[number]["ln_size"], shop.jobs[number]["ln_condition"])
                    for at, number, _, pairs, measured in own if measured is None
                    for pair in pairs]
            units.append(np.array(rows).reshape(-1, 4))
        return units
# What is known of an observation: how much it is, the most or the least that it can be.
EXACT, AT_MOST, AT_LEAST = 0, 1, -1


def observations(shop, uses, books):
    """For each product a list of (seen, noise variance, link variance, to, measured, parts, from,
    whether it is only the most that it can be), where parts are (job number, pair, whether only
    half of it counts)."""
    events = [[] for _ in shop.products]
    for at, product, containers, _ in shop.receipts:
        events[product].append((at, 0, "in", containers * shop.size[product], containers, 0.0))
    for at, product, quantity in shop.pours:
        events[product].append((at, 1, "out", quantity, 0.0, 0.0))
    for at, product in shop.openings:
        events[product].append((at, 2, "opened", 0.0, 0.0, 0.0))
    for product, book in enumerate(books):
        for at, quantity, sealed in book.thrown:
            variance = 0.0 if sealed else (THROWN_SD * shop.size[product]) ** 2
            kind = "out" if sealed else "out last"
            events[product].append((at, 1, kind, quantity, float(sealed), variance))
    for at, product, seen, share in shop.counts:
        events[product].append((at, 3, "counted", seen, 0.0, share * seen))
    for own in events:
        own.sort(key=lambda event: event[:2])
    told = _tells_openings(shop, events)
    return [_measured(uses.of[product]) + _spans(shop.size[product], own, uses.of[product],
                                                 told[product], shop.now + 24 - 1 / 3600)
            for product, own in enumerate(events)]


def _tells_openings(shop, events):
    """Of each product whether the shop writes down when a container is opened."""
    seen = []
    for product, own in enumerate(events):
        came = sum(event[4] for event in own if event[2] == "in")
        came -= sum(event[4] for event in own if event[2].startswith("out"))
        counted = [event[3] / shop.size[product] for event in own if event[2] == "counted"]
        there = counted[-1] if counted else USUALLY_SEALED
        written = sum(1.0 for event in own if event[2] == "opened")
        seen.append((written, max(came - max(there, USUALLY_SEALED), 0.0)))
    usual = min(sum(one[0] for one in seen) / max(sum(one[1] for one in seen), 1.0), 1.0)
    return [written > 0 and (written + OTHERS_WORTH * usual) / (due + OTHERS_WORTH) >= LEAST_TOLD
            for written, due in seen]


def _measured(uses):
    return [(measured, 0.0, 0.0, at, True, [(number, pair, False) for pair in pairs], began, EXACT)
            for at, number, began, pairs, measured in uses if measured is not None]


def _spans(size, events, uses, tells, now):
    """A level is (at, quantity, variance, whether it is absolute, whether it is an opening, whether
    nothing was open before)."""
    ends = [use[0] for use in uses]
    sealed, absolute, level, found, level_before = 0.0, False, None, [], None
    came = went = variance = 0.0
    none_open = False

    def span(to, limit):
        nonlocal level_before
        gone = level[1] + came - went - to[1]
        noise = level[2] + variance + to[2]
        parts = _parts(level, to, uses, ends)
        if parts and gone >= -3 * math.sqrt(noise):
            shared = level[2] if level_before == level[0] and limit == EXACT else 0.0
            before = [part for part in parts if part[0] != parts[-1][0]]
            if limit == AT_LEAST and before:
                # Where a product ran out in a job, the jobs before it took no more than there was.
                found.append((max(gone, 0.0), noise, 0.0, to[0], False, before, level[0], AT_MOST))
            found.append((max(gone, 0.0), noise, shared, to[0], False, parts, level[0], limit))
            level_before = to[0] if limit == EXACT else None

    def stand_at(to):
        nonlocal level, came, went, variance
        level, came, went, variance = to, 0.0, 0.0, 0.0

    def reach(to, limit=EXACT):
        if level is not None and level[3] == to[3]:
            span(to, limit)
        stand_at(to)

    def not_empty_yet(at):
        if level is not None and level[4]:
            span((at, sealed * size, 0.0, level[3], False, False), AT_MOST)

    for at, _, kind, quantity, containers, spread in events:
        if kind == "in":
            came, sealed = came + quantity, sealed + containers
        elif kind == "opened":
            if absolute and sealed < 1:
                came, sealed = came + size * (1 - sealed), 1.0
            if tells:
                dregs = 0.0 if none_open else (DREGS_SD * size) ** 2
                to = (at, sealed * size, dregs, absolute, True, none_open)
                stand_at(to) if none_open else reach(to)
            none_open = False
            sealed -= 1
        elif kind == "counted":
            noise = spread ** 2 + (READING_SD * size) ** 2
            # Where nothing is left a job may have gone without: it would have taken more.
            reach((at, quantity, noise, True, False, False), EXACT if quantity > 0 else AT_LEAST)
            fits = -0.1 * size <= quantity - sealed * size <= 1.1 * size
            if not (fits and tells):
                sealed = math.floor(quantity / size + NEARLY_FULL)
            none_open = quantity - sealed * size <= NEARLY_FULL * size
            absolute = True
        else:
            last = kind == "out last" and tells
            went += 0.0 if last else quantity
            variance, sealed = variance + spread, sealed - containers
            if last:
                not_empty_yet(at)
                stand_at((at, sealed * size, 0.0, absolute, False, False))
                none_open = True
    if tells:
        not_empty_yet(now)
    return found


def _parts(begin, end, uses, ends):
    parts = []
    for at, number, began, pairs, measured in uses[bisect_left(ends, begin[0]):]:
        if measured is None:
            half = any(level[4] and not level[5] and began <= level[0] <= at
                       for level in (begin, end))
            if half or begin[0] < at <= end[0]:
                parts.extend((number, pair, half) for pair in pairs)
        if began > end[0]:
            break
    return parts
