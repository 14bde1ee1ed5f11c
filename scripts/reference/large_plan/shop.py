"""A shop folder as arrays: places for ids, days and hours for times, base units for quantities."""

import csv
import math
import tomllib
from datetime import date, datetime
from pathlib import Path

import numpy as np

SIZES = ["small", "medium", "large", "oversize"]


def _rows(folder, name):
    path = folder / name
    if not path.exists():
        return []
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _hours(text):
    """Hours since the first day of the calendar, by the shop's clock."""
    text = text[:16]
    if len(text) == 10:
        return date.fromisoformat(text).toordinal() * 24.0
    moment = datetime.fromisoformat(text)
    return moment.toordinal() * 24.0 + moment.hour + moment.minute / 60


def _number(text, otherwise):
    return float(text) if text else otherwise


class Shop:
    """What a folder says, as far as the shop of the measurement says anything."""

    def __init__(self, folder, today):
        folder = Path(folder)
        self.today = today.toordinal()
        self.now = self.today * 24.0
        settings = tomllib.loads((folder / "shop.toml").read_text(encoding="utf-8"))
        self.holding_rate = settings["holding_rate"]
        self.service = settings["service"]
        self.stall_cost = settings["stall_cost"]
        weekdays = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
        self.closed = {weekdays.index(day) for day in settings["closed"]}
        self.order_weekday = weekdays.index(settings["order_weekday"])
        self.ln_size = {size: math.log(settings["sizes"][size]) for size in SIZES}
        self.ln_condition = {
            grade: math.log(factor) for grade, factor in settings["conditions"].items()}
        self._products(folder)
        self._offers(folder)
        self._sheet(folder)
        self._jobs(folder)
        self._movements(folder)
        self._orders(folder)

    def is_open(self, day):
        return date.fromordinal(day).weekday() not in self.closed

    def _products(self, folder):
        rows = _rows(folder, "products.csv")
        self.products = [row["id"] for row in rows]
        self.product = {name: place for place, name in enumerate(self.products)}
        self.size = np.array([float(row["container_size"]) for row in rows])
        self.open_days = [_number(row.get("open_days"), math.inf) for row in rows]
        self.shelf_days = [_number(row.get("shelf_days"), math.inf) for row in rows]

    def _offers(self, folder):
        rows = _rows(folder, "suppliers.csv")
        self.suppliers = [row["id"] for row in rows]
        self.supplier = {name: place for place, name in enumerate(self.suppliers)}
        self.lead_days = [float(row["lead_days"]) for row in rows]
        self.freight = [_number(row["freight"], 0.0) for row in rows]
        self.free_over = [_number(row["free_freight_over"], math.inf) for row in rows]
        self.minimum = [_number(row["minimum_order"], 0.0) for row in rows]
        self.offers = [[] for _ in self.products]
        for row in _rows(folder, "offers.csv"):
            product = self.product[row["product"]]
            price, pack = float(row["price"]), int(row["pack"] or 1)
            self.offers[product].append(dict(
                supplier=self.supplier[row["supplier"]], price=price, pack=pack,
                unit_price=price / (pack * self.size[product]),
                minimum_packs=int(row.get("minimum_packs") or 1),
                preferred=row.get("preferred") == "yes"))
        for own in self.offers:
            own.sort(key=lambda offer: (not offer["preferred"], offer["unit_price"]))

    def _sheet(self, folder):
        rows = _rows(folder, "job_types.csv")
        self.job_types = [row["id"] for row in rows]
        self.job_type = {name: place for place, name in enumerate(self.job_types)}
        self.type_stall = [_number(row.get("stall_cost"), self.stall_cost) for row in rows]
        self.comes_back = {}
        for place, row in enumerate(rows):
            if row.get("return_days"):
                to = self.job_type.get(row.get("return_job_type") or row["id"])
                self.comes_back[place] = (int(row["return_days"]), float(row["return_share"]), to)
        self.pair_product, self.pair_type, self.ln_centre, self.pair_log_sd = [], [], [], []
        self.pairs_of_type = [[] for _ in self.job_types]
        self.pairs_of_product = [[] for _ in self.products]
        for row in _rows(folder, "usage_sheet.csv"):
            product, job_type = self.product[row["product"]], self.job_type[row["job_type"]]
            pair = len(self.pair_product)
            self.pair_product.append(product)
            self.pair_type.append(job_type)
            self.ln_centre.append(math.log(float(row["quantity"])))
            self.pair_log_sd.append(_number(row.get("log_sd"), 0.5))
            self.pairs_of_type[job_type].append(pair)
            self.pairs_of_product[product].append(pair)
        self.pair_product = np.array(self.pair_product)
        self.ln_centre = np.array(self.ln_centre)
        #: Place of each pair among its product's own.
        self.local = np.zeros(len(self.pair_product), int)
        for own in self.pairs_of_product:
            self.local[own] = np.arange(len(own))

    def _jobs(self, folder):
        self.jobs = []
        for row in _rows(folder, "jobs.csv"):
            types = [self.job_type[name] for name in row["job_types"].split(";")]
            day = date.fromisoformat(row["planned_on"]).toordinal()
            started = _hours(row["started_at"]) if row.get("started_at") else None
            ended = _hours(row["finished_at"]) if row.get("finished_at") else day * 24.0 + 24
            self.jobs.append(dict(
                id=row["id"], day=day, status=row["status"], types=types,
                booked=int(_hours(row["booked_at"]) // 24),
                ln_size=self.ln_size[row["size"]],
                ln_condition=self.ln_condition[row["condition"]],
                began=started if started is not None else ended - 4, ended=ended,
                stall=max(self.type_stall[t] for t in types),
                pairs=[pair for t in types for pair in self.pairs_of_type[t]]))

    def _movements(self, folder):
        product = self.product
        poured = {}
        for row in _rows(folder, "pours.csv"):
            key = (row["job"], product[row["product"]])
            poured[key] = poured.get(key, 0.0) + float(row["quantity"])
        self.poured = poured
        self.pours = [(_hours(row["at"]), product[row["product"]], float(row["quantity"]))
                      for row in _rows(folder, "pours.csv")]
        self.receipts = [
            (_hours(row["at"]), product[row["product"]], int(row["containers"]),
             date.fromisoformat(row["best_before"]).toordinal() if row.get("best_before") else None)
            for row in _rows(folder, "receipts.csv")]
        self.openings = [(_hours(row["at"]), product[row["product"]])
                         for row in _rows(folder, "openings.csv")]
        self.discards = [(_hours(row["at"]), product[row["product"]])
                         for row in _rows(folder, "discards.csv")]
        self.counts = [
            (_hours(row["at"]), product[row["product"]], float(row["quantity"]),
             _number(row.get("sd_share"), 0.03))
            for row in _rows(folder, "counts.csv")]

    def _orders(self, folder):
        placed = {row["id"]: (_hours(row["placed_at"]), self.supplier[row["supplier"]])
                  for row in _rows(folder, "orders.csv") if row.get("status") != "cancelled"}
        first, came = {}, {}
        for row in _rows(folder, "receipts.csv"):
            if row.get("order"):
                at = _hours(row["at"])
                first[row["order"]] = min(at, first.get(row["order"], at))
                key = (row["order"], self.product[row["product"]])
                came[key] = came.get(key, 0) + int(row["containers"])
        #: Supplier, days it took (or has taken so far), whether it came.
        self.deliveries = []
        for order, (at, supplier) in placed.items():
            end = first.get(order)
            days = (end // 24 if end is not None else self.today) - at // 24
            self.deliveries.append((supplier, days, end is not None))
        #: For each product the lines still out: supplier, age in days, containers.
        self.out = [[] for _ in self.products]
        for row in _rows(folder, "order_lines.csv"):
            if row["order"] in placed:
                product_ = self.product[row["product"]]
                at, supplier = placed[row["order"]]
                missing = int(row["packs"]) - came.get((row["order"], product_), 0)
                if missing > 0:
                    self.out[product_].append((supplier, self.today - at // 24, missing))
