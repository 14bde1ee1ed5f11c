"""Inventory theory: what stockpyl answers on a grid of shops' worth of parameters.

The textbook's own examples stand as literals in the tests; this grid is around them and beyond.
Each case holds its inputs and outputs by name.
"""

import math

from scipy.stats import lognorm, norm
from stockpyl import eoq, loss_functions, newsvendor, rq, ss

from fixture import source, write


def eoq_cases():
    for k, h, demand in [(8, 0.225, 1300), (35, 0.8, 24), (12.5, 6, 3.2), (0.4, 0.01, 900)]:
        quantity, cost = eoq.economic_order_quantity(k, h, demand)
        yield dict(order_cost=k, holding_cost=h, demand_rate=demand, quantity=quantity, cost=cost)


def eoq_backorder_cases():
    for k, h, p, demand in [(8, 0.225, 5, 1300), (35, 0.8, 0.8, 24), (12.5, 6, 90, 3.2)]:
        quantity, share, cost = eoq.economic_order_quantity_with_backorders(k, h, p, demand)
        yield dict(order_cost=k, holding_cost=h, backorder_cost=p, demand_rate=demand,
                   quantity=quantity, backordered_share=share, cost=cost)


def eoq_all_units_cases():
    for k, rate, demand, breaks, prices in [
        (200, 0.2, 1000, [0, 200, 500], [500, 475, 450]),
        (8, 0.3, 1300, [0, 400, 800], [0.75, 0.72, 0.68]),
        (15, 0.25, 40, [0, 6, 12, 48], [46, 43.5, 41, 40.9]),
        (15, 0.25, 4, [0, 24], [46, 45]),
    ]:
        quantity, _, cost = eoq.economic_order_quantity_with_all_units_discounts(
            k, rate, demand, breaks, prices)
        yield dict(order_cost=k, holding_rate=rate, demand_rate=demand, from_quantities=breaks,
                   unit_costs=prices, quantity=quantity, cost=cost)


def joint_cases():
    for shared, lines, holding, demand in [
        (600, [120, 840, 300], [160, 20, 50], [1, 1, 1]),
        (18, [0, 0, 0, 0], [2.5, 11, 0.4, 6], [12, 1.5, 60, 4]),
        (18, [2, 2, 9, 2, 30], [2.5, 11, 0.4, 6, 1], [12, 1.5, 6, 4, 2]),
    ]:
        quantities, cycle, multiples, cost = eoq.joint_replenishment_problem_silver_heuristic(
            shared, lines, holding, demand)
        yield dict(order_cost=shared, line_costs=lines, holding_costs=holding,
                   demand_rates=demand, quantities=quantities, cycle_periods=cycle,
                   multiples=[int(m) for m in multiples], cost=cost)


def newsvendor_normal_cases():
    for h, p, mean, sd in [(0.18, 0.70, 50, 8), (2, 18, 120, 10), (1, 1, 3, 0.5),
                           (0.01, 40, 2600, 810), (5, 0.2, 12, 3)]:
        for lead in [0, 4]:
            level, cost = newsvendor.newsvendor_normal(h, p, mean, sd, lead_time=lead)
            yield dict(holding=h, shortage=p, mean=mean, sd=sd, lead_periods=lead, level=level,
                       cost=cost)


def newsvendor_poisson_cases():
    for h, p, mean in [(0.18, 0.70, 50), (20, 150, 4.5), (1, 4, 6), (1, 30, 0.3), (3, 1, 11.5)]:
        level, cost = newsvendor.newsvendor_poisson(h, p, mean)
        yield dict(holding=h, shortage=p, mean=mean, level=int(level), cost=cost)


def newsvendor_lognormal_cases():
    for h, p, mu, sigma in [(1, 0.1765, 6, 0.3), (1, 9, 2, 0.8)]:
        level, _ = newsvendor.newsvendor_continuous(h, p, lognorm(sigma, 0, math.exp(mu)))
        yield dict(holding=h, shortage=p, log_mean=mu, log_sd=sigma, level=level)


def loss_cases():
    for x, mean, sd in [(18.6, 15, 3), (10, 15, 3), (27, 15, 3), (-4, 15, 3)]:
        loss, left = loss_functions.normal_loss(x, mean, sd)
        yield dict(family="normal", parameters=[mean, sd], stock=x, loss=loss, left=left)
    for x, mu, sigma in [(8, 2, 0.3), (3, 2, 0.3), (20, 2, 0.9)]:
        loss, left = loss_functions.lognormal_loss(x, mu, sigma)
        yield dict(family="lognormal", parameters=[mu, sigma], stock=x, loss=loss, left=left)
    for x, shape, scale in [(4, 2, 3), (0.5, 0.4, 2), (2600, 9, 210), (1, 30, 0.05)]:
        loss, left = loss_functions.gamma_loss(x, shape, scale)
        yield dict(family="gamma", parameters=[shape, scale], stock=x, loss=loss, left=left)
    for x, mean in [(18, 15), (0, 0.7), (3, 0.7), (40, 52.5)]:
        loss, left = loss_functions.poisson_loss(x, mean)
        yield dict(family="poisson", parameters=[mean], stock=x, loss=loss, left=left)
    for x, r, p in [(14, 4, 0.2), (0, 1, 0.5), (9, 12, 0.7)]:
        loss, left = loss_functions.negative_binomial_loss(x, r, p)
        yield dict(family="negative binomial", parameters=[r, p], stock=x, loss=loss, left=left)


def reorder_point_cases():
    for h, p, k, mean, sd, lead in [(0.225, 7.5, 8, 1300, 150, 1 / 12),
                                    (0.8, 25, 35, 24, 9, 1.5)]:
        given = (h, p, k, mean, sd, lead)
        eil_r, eil_q, eil_cost = rq.r_q_eil_approximation(*given)
        eoqb_r, eoqb_q = rq.r_q_eoqb_approximation(*given)
        eoqss_r, eoqss_q = rq.r_q_eoqss_approximation(*given)
        loss_r, loss_q = rq.r_q_loss_function_approximation(*given)
        yield dict(holding=h, shortage=p, order_cost=k, mean=mean, sd=sd, lead_periods=lead,
                   least_cost_per_shortage=[eil_r, eil_q, eil_cost],
                   eoq_backorders=[eoqb_r, eoqb_q], eoq_safety_stock=[eoqss_r, eoqss_q],
                   loss_function=[loss_r, loss_q],
                   cost_of_eoq_backorders=rq.r_q_cost(eoqb_r, eoqb_q, *given))


def reorder_poisson_cases():
    for h, p, k, rate, lead in [(20, 150, 100, 1.5, 2), (1, 40, 18, 0.6, 1.3), (4, 9, 60, 7, 3)]:
        r, q, cost = rq.r_q_poisson_exact(h, p, k, rate, lead)
        yield dict(holding=h, shortage=p, order_cost=k, demand_rate=rate, lead_periods=lead,
                   reorder_point=int(r), quantity=int(q), cost=cost)


def min_max_cases():
    for h, p, k, mean in [(1, 4, 5, 6), (1, 9, 64, 10), (2, 30, 18, 1.4)]:
        low, high, cost = ss.s_s_discrete_exact(h, p, k, True, mean)
        yield dict(holding=h, shortage=p, order_cost=k, mean=mean, min=int(low), max=int(high),
                   cost=cost)


def periodic_review_cases():
    for mean, sd, review, lead, lead_sd, service in [
        (40, 12, 1, 2, 0, 0.95), (40, 12, 1, 2, 0.5, 0.95), (300, 140, 7, 4.2, 2.1, 0.99)]:
        z = norm.ppf(service)
        periods = review + lead
        safety = z * (periods * sd**2 + mean**2 * lead_sd**2) ** 0.5
        yield dict(mean=mean, sd=sd, review_periods=review, lead_periods=lead,
                   lead_sd_periods=lead_sd, service=service, safety_factor=z,
                   safety_stock=safety, level=mean * periods + safety)


def plain(value):
    """numpy numbers as Python's own."""
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value.item() if hasattr(value, "item") else value


if __name__ == "__main__":
    groups = dict(
        eoq=eoq_cases, eoq_backorders=eoq_backorder_cases, eoq_all_units=eoq_all_units_cases,
        joint_replenishment=joint_cases, newsvendor_normal=newsvendor_normal_cases,
        newsvendor_poisson=newsvendor_poisson_cases,
        newsvendor_lognormal=newsvendor_lognormal_cases, loss=loss_cases,
        reorder_point=reorder_point_cases, reorder_poisson=reorder_poisson_cases,
        min_max=min_max_cases, periodic_review=periodic_review_cases,
    )
    fixture = dict(source=source("stockpyl", "scipy", what="periodic_review by scipy"))
    write(plain(fixture | {name: list(cases()) for name, cases in groups.items()}))
