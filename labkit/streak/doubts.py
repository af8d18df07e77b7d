"""What a streak photo does not allow to be said, in plain sentences."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from labkit.streak.differences import Differences
from labkit.streak.picture import BOTTOM, Mask, Picture, least, most

_SOME = 0.01  # share of the area
_DARK = 6.0  # L* of the photo as it is
_GLARE = 0.1
_LIGHTNESS_ALONE = 3.0  # ΔL* for each step of a* and b* that scaling the light does not give
_NEAR = 4.0  # ΔE*ab
_UNLIKE = 0.3
_GREY = 6.0  # C*ab


@dataclass(frozen=True, eq=False)
class Seen:
    """What was seen in a photo, for the doubts about it."""

    picture: Picture
    area: Mask
    glare: Mask
    found: Differences
    corrected: bool
    card: bool
    pigments: Mapping[str, NDArray[np.float64]]


def _those_that_hold(*doubts: tuple[bool, str]) -> tuple[str, ...]:
    return tuple(sentence for holds, sentence in doubts if holds)


def keeps_from_comparing(seen: Seen) -> tuple[str, ...]:
    """Return why the numbers may not be set beside another photo's; none where they may."""
    looked_at = seen.found.seen
    clipped = float(seen.picture.clipped[looked_at].mean())
    black = float((least(seen.picture.pixels)[looked_at] <= 1).mean())
    dark = float(np.median(most(seen.picture.pixels)[looked_at])) <= 3 * BOTTOM
    return _those_that_hold(
        (
            not (seen.card or seen.corrected),
            "No white card or paper is in the photo, or it is overexposed, so exposure and the light's "
            "colour are not known: do not compare these numbers with another photo's. Lay a white card "
            "beside it.",
        ),
        (
            clipped > _SOME,
            f"{100 * clipped:.0f} % of the area is too light for the photo to hold (overexposed). Take it "
            "again with less exposure.",
        ),
        (
            black > _SOME,
            f"In {100 * black:.0f} % of the area a colour channel is at the bottom of what the photo can "
            "hold: differences there may be larger than read.",
        ),
        (dark, "The photo is very dark. Use more light."),
        (
            seen.found.sure > 1.0,
            f"The photo is noisy: differences under ΔE00 {seen.found.sure:.1f} are not told from noise. "
            "Use more light, or hold still.",
        ),
    )


def doubts(seen: Seen, streaks: Mask, like: Mapping[str, float]) -> tuple[str, ...]:
    """Return what else should be known of the result."""
    hidden = float(seen.glare.sum() / max(1, seen.area.sum()))
    unlike = 1.0 - sum(like.values()) if like and streaks.any() else 0.0
    return (
        *seen.picture.remarks,
        *_those_that_hold(
            (
                float(np.hypot(*seen.found.own[1:])) < _GREY,
                "What was looked at is nearly grey. If that is not the melt, give a mask.",
            ),
            (seen.card, "What is white beside the area was taken for a card of 90 % reflectance."),
            (hidden > 0, f"Glare hides {max(1.0, 100 * hidden):.0f} % of the area; it was left out."),
            (hidden > _GLARE, "That is much: tilt it away from the lamp."),
            (
                bool(unlike > _UNLIKE),
                f"{100 * unlike:.0f} % of the streaks are not like any of the pigments given.",
            ),
        ),
        *_of_pigments(seen),
    )


def _of_pigments(seen: Seen) -> tuple[str, ...]:
    own, said = seen.found.own, []
    for name, lab in seen.pigments.items():
        if np.linalg.norm(lab - own) < _NEAR:
            said.append(f"“{name}” has nearly the colour of the melt, so its streaks cannot be told.")
        elif _in_lightness_alone(own, lab):
            said.append(
                f"“{name}” differs from the melt in lightness alone, so its streaks look like ridges and "
                "are not counted."
            )
    return tuple(said)


def _in_lightness_alone(own: NDArray[np.float64], lab: NDArray[np.float64]) -> bool:
    """Return whether going a fifth of the way to a colour hardly changes colour at equal luminance."""
    part = own + 0.2 * (lab - own)
    level = part[1:] * (own[0] + 16) / (part[0] + 16)
    return bool(abs(part[0] - own[0]) > _LIGHTNESS_ALONE * np.linalg.norm(level - own[1:]))
