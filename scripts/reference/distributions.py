"""Gamma and negative binomial distribution functions by scipy, for checks of sampling."""

import numpy as np
from scipy import stats

from fixture import rows, source, write

CHANCES = [0.001, 0.01, 0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95, 0.99, 0.999]
GAMMAS = [(0.3, 10.0), (1.0, 2.0), (2.5, 30.0), (6.25, 9.6), (40.0, 0.5)]
NEGATIVE_BINOMIALS = [(0.6, 0.3), (1.0, 0.5), (4.0, 0.2), (12.5, 0.7), (80.0, 0.9)]


def gamma_case(shape, scale):
    distribution = stats.gamma(shape, scale=scale)
    at = np.linspace(0.1, 3.0, 12).round(6) * shape * scale
    return dict(shape=shape, scale=scale, at=rows(at), cdf=rows(distribution.cdf(at)),
                chances=CHANCES, quantiles=rows(distribution.ppf(CHANCES)))


def negative_binomial_case(successes, chance):
    """Failures before so many successes, each trial a success with that chance."""
    distribution = stats.nbinom(successes, chance)
    at = np.unique(distribution.ppf(np.linspace(0.02, 0.995, 12))).astype(int)
    return dict(successes=successes, chance=chance, at=rows(at), pmf=rows(distribution.pmf(at)),
                cdf=rows(distribution.cdf(at)), chances=CHANCES,
                quantiles=rows(distribution.ppf(CHANCES).astype(int)))


if __name__ == "__main__":
    write(dict(
        source=source("scipy", what="stats.gamma and stats.nbinom, cdf, pmf and ppf"),
        gamma=[gamma_case(*pair) for pair in GAMMAS],
        negative_binomial=[negative_binomial_case(*pair) for pair in NEGATIVE_BINOMIALS],
    ))
