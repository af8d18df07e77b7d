import numpy as np
import pytest

from labkit.errors import LabError
from labkit.shade import weighed_film


def test_a_mean_use_on_lips_is_eleven_micrometres():
    """10 mg over 9.6 cm² of vermilion (Loretz et al. 2005) at 0.95 g/mL: 11.0 µm, from mass and area."""
    film = weighed_film(4.0, 3.8, 20, 9.6, density_g_ml=0.95, step_g=0.001)
    assert film.um == pytest.approx(10.96, abs=0.01)


def test_its_sd_is_that_of_weighings_and_areas_drawn_at_random():
    rng = np.random.default_rng(2)
    n, step = 200_000, 0.01
    gone = 0.2 + rng.uniform(-step / 2, step / 2, n) - rng.uniform(-step / 2, step / 2, n)
    drawn = 1e4 * gone / (20 * 10 * (1 + 0.05 * rng.standard_normal(n)))
    film = weighed_film(4.2, 4.0, 20, 10.0, density_g_ml=1.0, step_g=step)
    assert film.sd_um == pytest.approx(drawn.std(), rel=0.02)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"after_g": 4.3}, "must have lost something"),
        ({"after_g": 4.19}, "too coarse"),
        ({"swipes": 0}, "swipes"),
        ({"area_cm2": -1}, "area"),
        ({"density_g_ml": 0}, "density"),
        ({"step_g": 0}, "step"),
    ],
)
def test_what_cannot_be_weighed_is_said(change, said):
    asked = {"before_g": 4.2, "after_g": 4.0, "swipes": 20, "area_cm2": 10.0} | change
    with pytest.raises(LabError, match=said):
        weighed_film(**asked)
