"""The shelf walked forward, container by container, all futures (and all numbers of packs that are
tried) at once: a lane for each, a column for each container or lot of alike sealed ones."""

import numpy as np

OPEN_FIRST = 1e8
NEVER = 1e7


class Lanes:
    """The shelf of one product in every lane."""

    def __init__(self, columns, days, open_days):
        self.left, self.count, self.until, self.arrives, self.is_open = columns
        self.days, self.open_days = days, open_days
        lanes = len(self.left)
        # Never within what is looked at.
        self.count[self.arrives >= days] = 0
        self.now = np.zeros(lanes)
        self.wasted = np.zeros(lanes)
        self.stock_days = np.zeros(lanes)

    def run(self, takings, repeat):
        """Takes what each step takes; gives what was missing, step by step."""
        steps = len(takings["day"])
        missing = np.zeros((steps, len(self.left)))
        for step in range(steps):
            day = np.tile(takings["day"][step], repeat)
            quantity = np.tile(takings["quantity"][step], repeat)
            active = day < self.days
            if not active.any():
                break
            self._pass(np.where(active, day, self.now))
            missing[step] = self._take(np.where(active, quantity, 0.0), day)
        self._pass(np.full(len(self.left), float(self.days)))
        return missing

    def _pass(self, day):
        """Time goes on: stock is held, and what is past its last day is thrown away."""
        stock = self.left * self.count
        until = np.minimum(day[:, None], self.until + 1)
        held = np.maximum(until - np.maximum(self.now[:, None], self.arrives), 0)
        self.stock_days += (held * stock).sum(axis=1)
        past = (self.until < day[:, None]) & (stock > 0)
        if past.any():
            self.wasted += np.where(past, stock, 0.0).sum(axis=1)
            self.count[past] = 0
        self.now = day

    def _take(self, quantity, day):
        missing = np.zeros(len(quantity))
        lanes = np.flatnonzero(quantity > 0)
        need = quantity[lanes]
        least = 1e-9 * need
        while len(lanes):
            there = (self.count[lanes] > 0) & (self.left[lanes] > 0)
            there &= self.arrives[lanes] <= day[lanes, None]
            turn = np.where(self.is_open[lanes], 0.0, OPEN_FIRST) + self.until[lanes]
            column = np.where(there, turn, np.inf).argmin(axis=1)
            found = there[np.arange(len(lanes)), column]
            missing[lanes[~found]] = need[~found]
            lanes, need, least = lanes[found], need[found], least[found]
            column = self._opened(lanes, column[found], day)
            taken = np.minimum(need, self.left[lanes, column])
            self.left[lanes, column] -= taken
            need = need - taken
            empty = self.left[lanes, column] <= least
            self.count[lanes[empty], column[empty]] = 0
            more = need > least
            lanes, need, least = lanes[more], need[more], least[more]
        return missing

    def _opened(self, lanes, column, day):
        """Opens what is sealed: into the last column, which is free while nothing is open."""
        sealed = ~self.is_open[lanes, column]
        if sealed.any():
            lane, lot = lanes[sealed], column[sealed]
            self.left[lane, -1], self.count[lane, -1] = self.left[lane, lot], 1
            self.until[lane, -1] = np.minimum(self.until[lane, lot], day[lane] + self.open_days)
            self.arrives[lane, -1] = self.arrives[lane, lot]
            self.count[lane, lot] -= 1
            column = np.where(sealed, self.left.shape[1] - 1, column)
        return column


def tail_waste(lanes, daily_use):
    """What of the stock at the end goes off before it is used, at the usual rate of use."""
    stock = lanes.left * lanes.count
    order = np.argsort(lanes.until, axis=1, kind="stable")
    stock, until = np.take_along_axis(stock, order, 1), np.take_along_axis(lanes.until, order, 1)
    used = np.zeros(len(stock))
    waste = np.zeros(len(stock))
    for column in range(stock.shape[1]):
        can_use = np.maximum(daily_use * (until[:, column] - lanes.days) - used, 0)
        lost = np.maximum(stock[:, column] - can_use, 0)
        used += stock[:, column] - lost
        waste += lost
    return stock.sum(axis=1), waste
