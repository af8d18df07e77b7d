"""The smallest additions that put a colour right, against amounts tried one by one."""

from typing import get_args

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from labkit.batch.colour_additions import BASE, MOST_PIGMENT_SHARE, smallest_colour_additions
from labkit.batch.least import add_all
from labkit.batch.off_colour import ways
from labkit.batch.pot import Pot
from labkit.batch.record import OffColour
from labkit.batch.side_effects import Watched
from labkit.colour.cie import delta_e00, lab_of
from labkit.errors import LabError

POT = {"castor oil": 55.0, "shea butter": 20.0, "beeswax": 15.0, "red": 6.0, "white": 3.0, "blue": 1.0}
PIGMENTS = ("red", "white", "blue", "yellow")
SLOPES = {"red": (-2.0, 2.5, 1.6), "white": (3.0, -1.5, -1.0), "blue": (-4.0, 0.5, -6.0),
          "yellow": (0.6, 0.2, 4.0), "bright": (0.2, 2.5, 2.2)}  # fmt: skip
"""An invented straight colour: how L*, a* and b* move with each % of load."""
WAVES = np.linspace(380.0, 730.0, 36)


def straight(loads):
    return np.array([45.0, 12.0, 14.0]) + sum(
        load * np.array(SLOPES[name]) for name, load in loads.items()
    ), np.full(3, 0.4)


def _edge(middle, width):
    return 1.0 / (1.0 + np.exp((WAVES - middle) / width))


ABSORBS = {
    "red": 40.0 * _edge(585.0, 12.0),
    "white": 0.05 * np.ones(36),
    "blue": 60.0 * (1 - _edge(540.0, 20.0)),
    "yellow": 30.0 * _edge(500.0, 14.0),
}
SCATTERS = {"red": 4.0, "white": 30.0, "blue": 1.0, "yellow": 4.0}


def kubelka_munk(loads):
    """R∞ = 1 + K/S − √((K/S)² + 2·K/S) of invented pigments whose K and S add by mass."""
    K = 0.02 + sum(load * ABSORBS[name] for name, load in loads.items())
    S = 1.0 + sum(load * SCATTERS[name] for name, load in loads.items())
    ratio = K / S
    return lab_of(1.0 + ratio - np.sqrt(ratio**2 + 2.0 * ratio)), np.full(3, 1.0)


def by_trying(colour, parts, towards, wanted, step, most):
    """The first multiple of the step with which the colour has moved as far as is wanted; None for none."""
    before = colour({name: Pot(POT).percent.get(name, 0.0) for name in PIGMENTS})[0]
    for steps in range(1, int(most / step) + 1):
        after = add_all(Pot(POT), {name: steps * step * share for name, share in parts.items()}).percent
        lab = colour({name: after.get(name, 0.0) for name in PIGMENTS})[0]
        if (lab - before) @ towards >= wanted - 1e-9:
            return steps * step
    return None


@pytest.mark.parametrize("colour", [straight, kubelka_munk])
@pytest.mark.parametrize("off", ways())
def test_each_is_the_least_that_moves_it_as_far_as_is_wanted(colour, off):
    found = smallest_colour_additions(POT, off, Watched(PIGMENTS, colour=colour), step_g=0.01)
    before = colour({name: POT.get(name, 0.0) for name in PIGMENTS})[0]
    shift = found.wanted - before
    size = float(np.linalg.norm(shift))
    offered = dict(zip(found.rows["add"], found.rows["grams"], strict=True))
    for name in PIGMENTS:
        tried = by_trying(colour, {name: 1.0}, shift / size, size, 0.01, MOST_PIGMENT_SHARE * 100.0)
        if name in offered:
            assert offered[name] == pytest.approx(tried, abs=0.0101), name
        elif tried is not None:
            after = Pot(POT).add(name, tried).percent
            lab = colour({each: after.get(each, 0.0) for each in PIGMENTS})[0]
            assert delta_e00(lab, found.wanted) > 1.99 * delta_e00(before, found.wanted), name
    assert found.rows["grams"].is_monotonic_increasing


@pytest.mark.parametrize("colour", [straight, kubelka_munk])
@pytest.mark.parametrize("off", ways())
def test_what_is_offered_leads_to_what_is_told(colour, off):
    found = smallest_colour_additions(POT, off, Watched(PIGMENTS, colour=colour))
    for row in found.rows.itertuples():
        pot = add_all(Pot(POT), row.parts_g).percent
        lab = colour({name: pot.get(name, 0.0) for name in PIGMENTS})[0]
        np.testing.assert_allclose(row.after, lab)
        assert row.left_de == pytest.approx(float(delta_e00(lab, found.wanted)))
        assert float(delta_e00(row.before, found.wanted)) == pytest.approx(2.5)
        assert row.left_de <= 5.0
        assert row.moved_de == pytest.approx(float(delta_e00(row.before, lab)))


def test_there_is_a_cure_for_each_side():
    """Each of these follows from what the pigments of the straight colour do."""
    cures = {"too dark": "white", "too orange": "blue", "too purple": "yellow", "too pink": "yellow",
             "too brown": "bright", "too pale": "red"}  # fmt: skip
    for off, cure in cures.items():
        found = smallest_colour_additions(POT, off, Watched(PIGMENTS, colour=straight), ["bright"])
        assert cure in found.rows["add"].tolist(), off


def test_more_base_makes_a_dark_pot_paler_in_its_own_ratio():
    found = smallest_colour_additions(
        POT, "too dark", Watched(("red",), ("beeswax",), colour=lambda loads: (
            np.array([60.0 - 3.0 * loads["red"], 20.0, 15.0]), np.full(3, 0.2))), step_g=0.1,
    )  # fmt: skip
    (row,) = found.rows.itertuples()
    assert row.add == BASE
    # “white” and “blue” are no pigments for this model, so they count as base
    uncoloured = {name: grams for name, grams in POT.items() if name != "red"}
    assert set(row.parts_g) == set(uncoloured)
    for name, grams in row.parts_g.items():
        assert grams == pytest.approx(row.grams * uncoloured[name] / 94.0, abs=0.051)
        assert round(grams / 0.1) * 0.1 == pytest.approx(grams)
    assert row.grams == pytest.approx(sum(row.parts_g.values()))
    assert "all pigment 6.0 → " in row.also
    assert "all wax 15.0 → " in row.also


def test_what_else_changes_is_said_with_the_models_at_hand():
    def hardness(shares):
        return 20.0 * shares["beeswax"] + 30.0 * shares["white"], 0.2

    found = smallest_colour_additions(
        POT, "too dark", Watched(PIGMENTS, ("beeswax",), hardness, straight), step_g=0.01
    )
    row = found.rows.set_index("add").loc["white"]
    change = hardness(Pot(POT).add("white", row["grams"]).shares)[0] - hardness(Pot(POT).shares)[0]
    assert f"harder by {change:.1f} words" in row["also"]
    assert row["what_else"].startswith("white 3.0 → ")


def test_a_pigment_at_hand_that_is_not_in_the_pot_is_tried():
    watched = Watched(PIGMENTS[:3], colour=straight)
    assert "yellow" not in set(smallest_colour_additions(POT, "too pink", watched).rows["add"])
    assert "yellow" in set(smallest_colour_additions(POT, "too pink", watched, ["yellow"]).rows["add"])


@settings(max_examples=20, deadline=None)
@given(st.floats(5.0, 500.0))
def test_twice_the_pot_takes_twice_the_grams(size):
    watched = Watched(PIGMENTS, colour=straight)
    small, large = (
        smallest_colour_additions({n: k * g for n, g in POT.items()}, "too dark", watched, step_g=k * 1e-4)
        for k in (size / 100.0, size / 50.0)
    )
    assert small.rows["add"].tolist() == large.rows["add"].tolist()
    np.testing.assert_allclose(2.0 * small.rows["grams"], large.rows["grams"], rtol=0.01)


def test_grams_are_on_the_scales_step_and_a_coarse_one_is_said():
    found = smallest_colour_additions(POT, "too dark", Watched(PIGMENTS, colour=straight), step_g=0.5)
    np.testing.assert_allclose(found.rows["grams"] % 0.5, 0.0, atol=1e-9)
    assert "weigh it finer" in found.why
    fine = smallest_colour_additions(POT, "too dark", Watched(PIGMENTS, colour=straight), step_g=0.001)
    assert "weigh it finer" not in fine.why


def test_what_it_aims_at_and_how_sure_it_is_are_said():
    def unsure(loads):
        return straight(loads)[0], np.full(3, 4.0)

    sure = smallest_colour_additions(POT, "too dark", Watched(PIGMENTS, colour=straight)).why
    assert "“Too dark” is taken as: make it lighter, by about 2.5 ΔE00" in sure
    assert "add half" not in sure
    assert "add half" in smallest_colour_additions(POT, "too dark", Watched(PIGMENTS, colour=unsure)).why


@pytest.mark.parametrize(
    ("watched", "words"),
    [
        (Watched(PIGMENTS), "there is no forecast"),
        (Watched(PIGMENTS, colour=lambda loads: None), "there is no forecast"),
        (Watched((), colour=straight), "No pigment was written down"),
    ],
)
def test_where_nothing_is_known_it_says_so(watched, words):
    found = smallest_colour_additions(POT, "too dark", watched)
    assert found.rows.empty
    assert words in found.why


def test_where_nothing_helps_it_says_so():
    found = smallest_colour_additions(POT, "too pale", Watched(("white",), colour=lambda loads: (
        np.array([40.0 + 3.0 * loads["white"], 20.0, 10.0]), np.ones(3))))  # fmt: skip
    assert "white" not in set(found.rows["add"])
    nothing = smallest_colour_additions(POT, "too brown", Watched(("white",), colour=lambda loads: (
        np.array([40.0 + 3.0 * loads["white"], 20.0, 10.0]), np.ones(3))))  # fmt: skip
    assert nothing.rows.empty
    assert "Name another pigment" in nothing.why


def test_the_sides_are_those_that_a_drip_can_be_logged_with():
    assert set(ways()) == set(get_args(OffColour)) - {"", "right"}


@pytest.mark.parametrize(
    ("off", "pot", "step", "words"),
    [
        ("too green", POT, 0.1, "which way the colour is off"),
        ("too pale", {}, 0.1, "grams by name"),
        ("too pale", POT, 0.0, "step"),
    ],
)
def test_what_cannot_be_is_refused(off, pot, step, words):
    with pytest.raises(LabError, match=words):
        smallest_colour_additions(pot, off, Watched(PIGMENTS, colour=straight), step_g=step)
