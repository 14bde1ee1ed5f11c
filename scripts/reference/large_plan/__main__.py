"""The planner's model in numpy, scipy and scikit-learn, to measure the planner against.

`python -m large_plan` reads requests from standard input, a line of JSON each:
`{"folder": …, "today": "2022-12-26", "futures": 400, "seed": 1, "plan": …}`, where `plan` is a file
with the planner's own plan of that shop. It answers each with a line of JSON: the seconds that the
plan took, and how far its numbers are from the planner's.

It does the same work with the tools that somebody would use who writes it in Python. Usage is
fitted by penalised quasi-likelihood on sums, pooled over products, with a look for a lasting
change; the products of which something was thrown away are fitted once before, as the books say how
much that was (numpy for the sums, scipy's banded and dense Cholesky factors; no regressor of
scikit-learn takes sums). Arrivals are scikit-learn's PoissonRegressor with the prior as its
penalty. Effects, calendars and units of work are drawn for all futures at once. The shelf is
walked container by container, a lane for each future and each number of packs, four of them at
once; the lanes of one product fit the processor's caches. Only the books are replayed row by row:
each stands on the last.
Where it differs: it does only what the shop of the measurement needs (no mixes, substitutes,
ratios, budget, gaps in the history, pairs that are on no sheet, bottles that only the books opened
where openings are told), and neither words, warnings, set-out lists nor the parts of sums. All of
that makes it faster. Random numbers are numpy's, so its futures are others than the planner's, and
chances differ by what so many futures leave open.
Reading the folder is not measured, as the planner too starts from what was read.
"""

import json
import sys
import time
from datetime import date

import numpy as np

from .order import Plan
from .shop import Shop
from .usage import SHARED


def usage_means(plan):
    """Mean of each pair at medium size and condition 3."""
    shop = plan.shop
    means = {}
    for pair, product in enumerate(shop.pair_product):
        b = plan.fits[product].b
        ln_mean = shop.ln_centre[pair] + b[0] + b[SHARED + shop.local[pair]]
        means[shop.job_types[shop.pair_type[pair]], shop.products[product]] = float(np.exp(ln_mean))
    return means


def compared(plan, other):
    """How far the two are apart: usage means, demand over a fortnight, readiness, the order."""
    own = usage_means(plan)
    theirs = {(row["job_type"], row["product"]): row["mean"] for row in other["usage"]
              if row["size"] == "medium" and row["condition"] == 3}
    off = np.array([abs(np.log(own[pair] / mean)) for pair, mean in theirs.items()])
    rows = [row["demand"] for row in other["products"]]
    mean = np.array([level["mean"] for level in plan.levels])
    of_mean = np.array([row["mean"] for row in rows])
    named = ["p10", "p50", "p90", "p95"]
    quantiles = np.array([level["quantiles"] for level in plan.levels])
    of_quantiles = np.array([[row[name] for name in named] for row in rows])
    apart = np.abs(quantiles - of_quantiles).sum(axis=0) / of_quantiles.sum(axis=0)
    ready = {row["job"]: row["ready_chance"] for row in other["readiness"]}
    job = [abs(ready[job["id"]] - chance) for job, chance in zip(plan.futures.jobs, plan.ready)]
    own_order = {shop_line: packs for line in plan.orders.values()
                 for shop_line, packs in line.items()}
    packs = {plan.shop.product[line["product"]]: line["packs"]
             for order in other["weekly_order"]["orders"] for line in order["lines"]}
    lines = set(own_order) | set(packs)
    same = sum(abs(own_order.get(n, 0) - packs.get(n, 0)) <= 1 for n in lines)
    return dict(
        usage_mean=float(off.mean()), usage_worst=float(off.max()),
        demand_mean=float(np.abs(mean - of_mean).sum() / of_mean.sum()),
        demand_quantiles=dict(zip(named, map(float, apart))),
        ready=float(np.mean(job)), order_lines=len(lines), order_within_a_pack=same)


def main():
    for line in sys.stdin:
        asked = json.loads(line)
        shop = Shop(asked["folder"], date.fromisoformat(asked["today"]))
        began = time.perf_counter()
        plan = Plan(shop, asked["futures"], asked["seed"])
        seconds = time.perf_counter() - began
        with open(asked["plan"], encoding="utf-8") as file:
            answer = dict(seconds=seconds, **compared(plan, json.load(file)))
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    main()
