"""The books of one product: its containers through everything that was written down.

There is no array to be made of this: each row stands on the one before.
"""

import math

RECEIPT, OUT, DISCARD, OPENING, COUNT = 0, 1, 1, 2, 3


class Container:
    __slots__ = ("left", "size", "opened", "seen", "came", "sealed_until", "number")

    def __init__(self, left, size, came, sealed_until, number):
        self.left, self.size, self.came, self.number = left, size, came, number
        self.opened, self.seen, self.sealed_until = None, False, sealed_until

    def until(self, open_days):
        if self.opened is None:
            return self.sealed_until
        return min(self.sealed_until, self.opened // 24 + open_days)


class Books:
    """One product's containers, replayed."""

    def __init__(self, size, open_days, shelf_days):
        self.size, self.open_days, self.shelf_days = size, open_days, shelf_days
        self.live = []
        #: All that came and was not thrown away, in the order it came.
        self.all = []
        self.number = 0
        self.total = 0.0
        self.bare_at = None
        #: What each discard threw away: when, how much, whether it was sealed.
        self.thrown = []

    def _changed(self, at, before):
        if before <= 1e-9 or self.total <= 1e-9:
            self.bare_at = at

    def _key(self, day):
        open_days = self.open_days

        def key(c):
            until = c.until(open_days)
            return (until < day, c.opened is None, until, c.came, c.number)
        return key

    def _add(self, left, day, sealed_until):
        self.number += 1
        container = Container(left, self.size, day, sealed_until, self.number)
        self.live.append(container)
        self.all.append(container)
        return container

    def _drop_empty(self):
        self.live = [c for c in self.live if c.left > 1e-9]

    def receive(self, at, containers, best_before):
        day, before = at // 24, self.total
        until = best_before if best_before is not None else day + self.shelf_days
        for _ in range(containers):
            self._add(self.size, day, until)
        self.total += containers * self.size
        self._changed(at, before)

    def pour(self, at, quantity):
        day, before = at // 24, self.total
        missing = quantity
        while missing > 1e-9 and self.live:
            c = min(self.live, key=self._key(day))
            if c.opened is None:
                c.opened = at
            taken = min(missing, c.left)
            c.left -= taken
            missing -= taken
            if c.left <= 1e-9:
                self.live.remove(c)
        self.total = max(0.0, self.total - quantity)
        self._changed(at, before)

    def open(self, at):
        day = at // 24
        opened = [c for c in self.live if c.opened is not None]
        opened.sort(key=lambda c: (c.opened, c.number))
        sealed = min((c for c in self.live if c.opened is None), key=self._key(day), default=None)
        place, used_up = sealed, opened.pop() if opened else None
        if used_up is not None and not used_up.seen:
            # The books opened it by themselves: this is its real opening.
            if used_up.left * 2 >= used_up.size or sealed is None:
                place, used_up = used_up, opened.pop() if opened else None
        if used_up is not None:
            used_up.left = 0.0
            self._drop_empty()
        if place is None:
            guessed = (c for c in reversed(self.all)
                       if c.left <= 1e-9 and c.opened is not None and not c.seen)
            place = next(guessed, None)
            if place is not None:
                self.live.append(place)
        if place is None:
            place = self._add(0.0, day, day + self.shelf_days)
        place.left, place.opened, place.seen = place.size, at, True
        self._resum(at)

    def _resum(self, at):
        before = self.total
        self.total = math.fsum(c.left for c in self.live)
        if before != self.total:
            self._changed(at, before)

    def discard(self, at):
        if not self.live:
            return
        c = min(self.live, key=lambda c: (c.until(self.open_days), c.number))
        self.thrown.append((at, c.left, c.opened is None))
        self.live.remove(c)
        self.all.remove(c)
        self._resum(at)

    def count(self, at, seen, share):
        day = at // 24
        order = sorted(self.live, key=self._key(day))
        sealed = [c for c in order if c.opened is None]
        open_ = [c for c in order if c.opened is not None]
        beside = seen - math.fsum(c.size for c in sealed)
        may_be_off = min(2 * share * seen, self.size / 10)
        while sealed and beside < -may_be_off:
            c = sealed.pop(0)
            beside += c.size
            open_.append(c)
        in_open = seen - math.fsum(c.left for c in sealed)
        if sealed and (beside < 0 or not open_ and beside <= may_be_off):
            sealed[0].left = max(0.0, sealed[0].left + in_open)
            in_open = 0.0
        gap = max(0.0, in_open) - math.fsum(c.left for c in open_)
        for c in open_:
            change = -min(c.left, -gap) if gap < 0 else min(max(c.size - c.left, 0.0), gap)
            if change and c.opened is None and c.left + change < c.size:
                c.opened = at
            c.left += change
            gap -= change
        if 0 < gap <= may_be_off and open_:
            open_[0].left += gap
            gap = 0.0
        if gap > 1e-9:
            self._find(at, gap, open_)
        self._drop_empty()
        self._resum(at)

    def _find(self, at, gap, open_):
        """More is there than the books hold: in what they took to be used up, or in new ones."""
        one_is_open = any(c.left > 0 for c in open_)
        for c in reversed(self.all):
            if gap <= 1e-9 or c.left > 1e-9 or c in open_:
                continue
            change = min(c.size, gap)
            if change == c.size and (one_is_open or gap > change) and c.opened is not None:
                c.opened = None
            else:
                if c.opened is None and change < c.size:
                    c.opened = at
                one_is_open = True
            c.left = change
            gap -= change
            self.live.append(c)
        while gap > 1e-9:
            c = self._add(min(self.size, gap), at // 24, at // 24 + self.shelf_days)
            if c.left < c.size:
                c.opened = at
            gap -= c.left


def replay(shop, expected):
    """Every product's books. `expected` has for each product the times and quantities of what
    jobs without a measured pour are taken to have used."""
    events = [[] for _ in shop.products]
    for at, product, containers, best_before in shop.receipts:
        events[product].append((at, RECEIPT, "receive", (containers, best_before)))
    for at, product, quantity in shop.pours:
        events[product].append((at, OUT, "pour", (quantity,)))
    for product, (times, quantities) in enumerate(expected):
        for at, quantity in zip(times, quantities):
            events[product].append((at, OUT, "pour", (quantity,)))
    for at, product in shop.discards:
        events[product].append((at, DISCARD, "discard", ()))
    for at, product in shop.openings:
        events[product].append((at, OPENING, "open", ()))
    for at, product, seen, share in shop.counts:
        events[product].append((at, COUNT, "count", (seen, share)))
    books = []
    for product, own in enumerate(events):
        book = Books(shop.size[product], shop.open_days[product], shop.shelf_days[product])
        own.sort(key=lambda event: event[:2])
        for at, _, kind, arguments in own:
            getattr(book, kind)(at, *arguments)
        books.append(book)
    return books
