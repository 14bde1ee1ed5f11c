"""Gamma GLM with log link and L2 penalty: what one job takes of a product, by scikit-learn."""

import numpy as np

from fixture import source, write
from penalised_glm import TOLERANCE, case

PHI = 0.16


def usage_like(random, jobs):
    """Intercept apart: size as one exponent, three job types, four conditions: dummies."""
    size = np.log(random.choice([0.8, 1.0, 1.25, 1.5], jobs)).round(6)
    job_type = random.integers(0, 4, jobs)
    condition = random.integers(1, 6, jobs)
    columns = [size] + [(job_type == j).astype(float) for j in (1, 2, 3)]
    columns += [(condition == c).astype(float) for c in (1, 2, 4, 5)]
    x = np.column_stack(columns)
    b = np.array([0.9, 0.6, -0.8, 0.2, -0.35, -0.15, 0.25, 0.5])
    return x, draw(random, 4.0 + x @ b)


def smooth(random, jobs, columns):
    x = random.normal(0.0, 0.6, (jobs, columns)).round(4)
    return x, draw(random, 3.0 + x @ np.linspace(-0.5, 0.5, columns))


def draw(random, log_mean):
    return random.gamma(1 / PHI, PHI * np.exp(log_mean)).round(3)


if __name__ == "__main__":
    random = np.random.default_rng(41)
    x, y = usage_like(random, 160)
    few_x, few_y = usage_like(random, 60)
    smooth_x, smooth_y = smooth(random, 80, 4)
    write(dict(
        source=source("scikit-learn", what="TweedieRegressor power=2 link=log "
                      f"solver=newton-cholesky tol={TOLERANCE}"),
        cases=[
            case("jobs, light penalty", x, y, 2, 0.002, PHI),
            case("few jobs, heavy penalty", few_x, few_y, 2, 0.05, PHI),
            case("smooth columns", smooth_x, smooth_y, 2, 0.01, 1.0),
            case("smooth columns, no penalty", smooth_x, smooth_y, 2, 0.0, 1.0),
        ],
    ))
