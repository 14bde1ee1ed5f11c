"""Poisson GLM with log link: jobs of a day, by scikit-learn (L2) and statsmodels (no penalty)."""

import numpy as np
import statsmodels.api as sm

from fixture import rows, source, write
from penalised_glm import TOLERANCE, case

DAYS = 365
YEAR_DAYS = 365.25


def calendar(random):
    """Columns: Tuesday … Sunday dummies (day 0 a Monday), then cos and sin of the year."""
    day = np.arange(DAYS)
    angle = 2 * np.pi * day / YEAR_DAYS
    weekdays = [(day % 7 == weekday).astype(float) for weekday in range(1, 7)]
    x = np.column_stack(weekdays + [np.cos(angle).round(9), np.sin(angle).round(9)])
    b = np.array([0.1, 0.15, 0.3, 0.5, 0.2, -1.6, -0.4, 0.25])
    return x, random.poisson(np.exp(0.4 + x @ b)).astype(float)


def unpenalised(x, y):
    fit = sm.GLM(y, sm.add_constant(x), family=sm.families.Poisson()).fit(tol=1e-14, maxiter=100)
    return dict(
        source=source("statsmodels", what="GLM Poisson, log link, IRLS"),
        weekday_of_day_0="mon", year_days=YEAR_DAYS,
        intercept=float(fit.params[0]), coef=rows(fit.params[1:]),
        # Standard errors from the inverse information, intercept first.
        standard_errors=rows(fit.bse), deviance=float(fit.deviance), x=rows(x), y=rows(y))


if __name__ == "__main__":
    random = np.random.default_rng(43)
    x, y = calendar(random)
    weeks = random.normal(0.0, 0.5, (90, 5)).round(4)
    counts = random.poisson(np.exp(0.8 + weeks @ np.array([0.6, -0.3, 0.0, 0.2, -0.5])))
    write(dict(
        source=source("scikit-learn", what="TweedieRegressor power=1 link=log "
                      f"solver=newton-cholesky tol={TOLERANCE}"),
        cases=[
            case("smooth columns", weeks, counts.astype(float), 1, 0.01, 1.0),
            case("calendar of half a year", x[:180], y[:180], 1, 0.003, 1.0),
        ],
        calendar=unpenalised(x, y),
    ))
