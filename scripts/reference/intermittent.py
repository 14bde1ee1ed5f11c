"""Baselines of the backtest: what statsforecast says of seeded series of period demand."""

import warnings

import numpy as np
from statsforecast.models import (
    TSB, CrostonClassic, CrostonSBA, SimpleExponentialSmoothing, WindowAverage)

from fixture import source, write

SES_ALPHA = 0.3
TSB_SIZE_ALPHA = 0.2
TSB_CHANCE_ALPHA = 0.1
WINDOW = 4


def series():
    """Name and demand of each series, oldest first."""
    random = np.random.default_rng(20260302)

    def seldom(periods, chance):
        return random.binomial(1, chance, periods) * random.gamma(2.5, 30.0, periods).round(1)

    yield "by hand", np.array([0, 0, 5, 0, 3, 0, 0, 0, 4, 2, 0, 6], dtype=float)
    yield "seldom", seldom(60, 0.2)
    yield "often", seldom(60, 0.7)
    yield "every period", random.gamma(6.0, 50.0, 52).round(1)
    yield "zeros at the start", np.concatenate([np.zeros(9), seldom(40, 0.4)])
    yield "zeros at the end", np.concatenate([seldom(30, 0.5), np.zeros(14)])
    yield "one demand", np.array([0, 0, 0, 12.5, 0, 0])
    yield "demand at once", np.array([7.0, 0, 0, 0, 3])
    yield "never", np.zeros(8)
    yield "counts", random.negative_binomial(0.6, 0.3, 104).astype(float)


def next_period(model, demand):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return float(model.forecast(y=demand, h=1)["mean"][0])


def case(name, demand):
    return dict(
        name=name, demand=demand.tolist(),
        croston=next_period(CrostonClassic(), demand),
        syntetos_boylan=next_period(CrostonSBA(), demand),
        teunter_syntetos_babai=next_period(TSB(TSB_SIZE_ALPHA, TSB_CHANCE_ALPHA), demand),
        simple_exponential_smoothing=next_period(SimpleExponentialSmoothing(SES_ALPHA), demand),
        moving_average=next_period(WindowAverage(WINDOW), demand),
    )


if __name__ == "__main__":
    write(dict(
        source=source("statsforecast", what="mean of the next period"),
        croston_alpha=0.1, ses_alpha=SES_ALPHA, tsb_size_alpha=TSB_SIZE_ALPHA,
        tsb_chance_alpha=TSB_CHANCE_ALPHA, window=WINDOW,
        cases=[case(name, demand) for name, demand in series()],
    ))
