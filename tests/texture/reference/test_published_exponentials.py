"""The set curve against the certified exponentials of the NIST statistical reference data sets."""

import numpy as np
import pytest

from labkit.texture.set_fit import fit_setting

# NIST StRD, nonlinear regression (NIST/ITL, public domain): data and certified values.
MISRA_1A = (
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0],
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78],
)
BOX_BOD = ([1, 2, 3, 5, 7, 10], [109, 149, 149, 191, 213, 224])
# fmt: off
MGH_17 = (
    np.arange(0.0, 330.0, 10.0),
    [0.844, 0.908, 0.932, 0.936, 0.925, 0.908, 0.881, 0.850, 0.818, 0.784, 0.751, 0.718, 0.685, 0.658,
     0.628, 0.603, 0.580, 0.558, 0.538, 0.522, 0.506, 0.490, 0.478, 0.467, 0.457, 0.448, 0.438, 0.431,
     0.424, 0.420, 0.414, 0.411, 0.406],
)
# fmt: on

CERTIFIED = {
    "Misra1a": (
        MISRA_1A,
        (2.3894212918e02, 2.7070075241e00),
        (5.5015643181e-04, 7.2668688436e-06),
        (1.2455138894e-01, 12, 1.0187876330e-01),
    ),
    "BoxBOD": (
        BOX_BOD,
        (2.1380940889e02, 1.2354515176e01),
        (5.4723748542e-01, 1.0455993237e-01),
        (1.1680088766e03, 4, 1.7088072423e01),
    ),
}


@pytest.fixture(params=CERTIFIED)
def certified(request):
    (hours, hardness), final, rate, scatter = CERTIFIED[request.param]
    return fit_setting(hours, hardness, start=0.0), final, rate, scatter


def test_rising_exponential_to_nine_digits(certified):
    """y = b1·(1 − exp(−b2·x)), without a first guess."""
    fit, final, rate, (rss, dof, sd) = certified
    assert (fit.final, fit.stderr["final"]) == pytest.approx(final, rel=1e-9)
    assert (fit.rate_per_h, fit.stderr["rate_per_h"]) == pytest.approx(rate, rel=1e-9)
    assert (fit.start, fit.stderr["start"]) == (0.0, 0.0)
    assert (fit.rss, fit.residual_sd) == pytest.approx((rss, sd), rel=1e-9)
    assert fit.dof == dof
    assert fit.later is None


@pytest.mark.parametrize("factor", [1e-6, 1e6])
@pytest.mark.parametrize("name", CERTIFIED)
def test_units_change_nothing(name, factor):
    """In seconds or years the same curve comes out."""
    (hours, hardness), final, rate, _ = CERTIFIED[name]
    fit = fit_setting(np.array(hours) * factor, hardness, start=0.0)
    assert fit.final == pytest.approx(final[0], rel=1e-8)
    assert fit.rate_per_h == pytest.approx(rate[0] / factor, rel=1e-8)


def test_a_rise_and_a_later_fall():
    """MGH17: y = b1 + b2·exp(−b4·x) + b3·exp(−b5·x), five values from 33 points, found unasked."""
    fit = fit_setting(*MGH_17)
    assert fit.later is not None
    assert fit.final + fit.later.change == pytest.approx(3.7541005211e-01, rel=1e-7)
    assert -fit.later.change == pytest.approx(1.9358469127e00, rel=1e-7)
    assert fit.start - fit.final == pytest.approx(-1.4646871366e00, rel=1e-7)
    assert (fit.later.rate_per_h, fit.rate_per_h) == pytest.approx(
        (1.2867534640e-02, 2.2122699662e-02), rel=1e-8
    )
    assert fit.stderr["later_rate_per_h"] == pytest.approx(4.4861358114e-04, rel=1e-6)
    assert fit.stderr["rate_per_h"] == pytest.approx(8.9471996575e-04, rel=1e-6)
    assert (fit.rss, fit.residual_sd) == pytest.approx((5.4648946975e-05, 1.3970497866e-03), rel=1e-9)
    assert fit.dof == 28
