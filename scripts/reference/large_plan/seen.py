"""What the records say of usage: each observation is a sum of units of work.

A measured pour speaks of one job; two levels of the shelf (a count; a container opened when the
last was empty) speak of every job between them, less what was measured.
"""

import math
from bisect import bisect_left

import numpy as np

READING_SD, DREGS_SD, THROWN_SD = 0.005, 0.02, 0.3


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


def observations(shop, uses, books):
    """For each product a list of (seen, noise variance, link variance, to, measured, parts), where
    parts are (job number, pair, whether only half of it counts)."""
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
    every = []
    for product, own in enumerate(events):
        own.sort(key=lambda event: event[:2])
        every.append(_measured(uses.of[product]) + _spans(shop.size[product], own,
                                                          uses.of[product]))
    return every


def _measured(uses):
    return [(measured, 0.0, 0.0, at, True, [(number, pair, False) for pair in pairs])
            for at, number, _, pairs, measured in uses if measured is not None]


def _spans(size, events, uses):
    came_all = sum(event[4] for event in events if event[2] == "in")
    opened_all = sum(1 for event in events if event[2] == "opened")
    tells = opened_all > 0 and opened_all >= 0.4 * came_all
    ends = [use[0] for use in uses]
    sealed, absolute, level, found, level_before = 0.0, False, None, [], None
    came = went = variance = 0.0

    def reach(to):
        nonlocal level, came, went, variance, level_before
        if level is not None and level[3] == to[3]:
            gone = level[1] + came - went - to[1]
            noise = level[2] + variance + to[2]
            parts = _parts(level, to, uses, ends)
            if parts and gone >= -3 * math.sqrt(noise):
                shared = level[2] if level_before == level[0] else 0.0
                found.append((max(gone, 0.0), noise, shared, to[0], False, parts))
                level_before = to[0]
        level, came, went, variance = to, 0.0, 0.0, 0.0

    for at, _, kind, quantity, containers, spread in events:
        if kind == "in":
            came, sealed = came + quantity, sealed + containers
        elif kind == "opened":
            if absolute and sealed < 1:
                came, sealed = came + size * (1 - sealed), 1.0
            reach((at, sealed * size, (DREGS_SD * size) ** 2, absolute, True))
            sealed -= 1
        elif kind == "counted":
            noise = spread ** 2 + (READING_SD * size) ** 2
            reach((at, quantity, noise, True, False))
            fits = -0.1 * size <= quantity - sealed * size <= 1.1 * size
            sealed = sealed if absolute and fits else math.floor(quantity / size)
            absolute = True
        else:
            went, variance, sealed = went + quantity, variance + spread, sealed - containers
            if kind == "out last" and tells:
                level = (at, sealed * size, 0.0, absolute, False)
                came = went = variance = 0.0
    return found


def _parts(begin, end, uses, ends):
    parts = []
    for at, number, began, pairs, measured in uses[bisect_left(ends, begin[0]):]:
        if measured is None:
            half = any(level[4] and began <= level[0] <= at for level in (begin, end))
            if half or begin[0] < at <= end[0]:
                parts.extend((number, pair, half) for pair in pairs)
        if began > end[0]:
            break
    return parts
