"""scikit-learn's penalised GLM with log link, with everything another fitter needs to agree.

The two penalties. scikit-learn minimises

    deviance / (2n) + alpha/2 · |w|²        (mean of half the unit deviances; intercept free)

and Capful minimises

    (half the deviance) / phi + 1/2 · Σ (b/sd)²

Capful's, times phi/n, is scikit-learn's where alpha = phi / (n · sd²). So at any phi above zero
a prior of sd² = phi / (n · alpha) on each coefficient, and none on the intercept, has its
minimum at the same place. `prior_sd` in each case is that sd.
"""

import math

from sklearn.linear_model import TweedieRegressor

from fixture import rows

TOLERANCE = 1e-10


def case(name, x, y, power, alpha, phi):
    """Fits y on x; answers data, penalty both ways, and the fitted coefficients."""
    model = TweedieRegressor(power=power, alpha=alpha, link="log", solver="newton-cholesky",
                             tol=TOLERANCE, max_iter=1000).fit(x, y)
    fixture = dict(name=name, power=power, alpha=alpha, phi=phi)
    if alpha > 0:
        fixture["prior_sd"] = math.sqrt(phi / (len(y) * alpha))
    return fixture | dict(
        intercept=float(model.intercept_), coef=rows(model.coef_), x=rows(x), y=rows(y))
