"""How even a blended area is in a photo."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError
from labkit.streak.area import CARD_REFLECTANCE, find_area, find_card
from labkit.streak.differences import Differences, find_differences
from labkit.streak.direction import likeness, read_pigments, run_of
from labkit.streak.doubts import Seen, doubts, keeps_from_comparing
from labkit.streak.lighting import find_glare, slow_light
from labkit.streak.picture import BOTTOM, Mask, Picture, mask_of, most, read_picture

Part = tuple[slice, slice]

_FEWEST = 1500  # points of the reduced photo
_SPECK = 8.0  # squared blurs; a smaller spot is no streak
_CLEARLY = 1.5
_NARROW = 3.0  # blurs


@dataclass(frozen=True, eq=False)
class Unevenness:
    """What a streak photo shows of a blended area.

    Attributes
    ----------
    index : float
        ΔE00: mean difference of the area's points from their median colour, less what noise gives.
    share_over_1, share_over_2 : float
        Share of the area (glare left out) that is off by more than 1 and 2 ΔE00, less what noise gives.
    angle_deg : float
        Run of the streaks, counter-clockwise from the horizontal as seen, 0 to 180; nan where
        there is none, or no common one.
    by_pigment : dict
        Share of the streaks' area that is most like each pigment; nan where there are no streaks.
    comparable : bool
        Whether the numbers may be set beside those of another photo.
    why : tuple of str
        What was done and what is doubtful, in sentences.
    noise : float
        ΔE00 that noise alone gives.
    narrowest_px, narrowest_mm : float
        The narrowest streak that can still be seen, in pixels of the whole photo, and in mm
        where the photo's width is known (else nan).
    area, glare, streaks : bool ndarray, shape (height, width)
        At the size of `picture`: what was looked at, what was left out, what is off by more than 1 ΔE00.
    picture : Picture
    """

    index: float
    share_over_1: float
    share_over_2: float
    angle_deg: float
    by_pigment: dict[str, float]
    comparable: bool
    why: tuple[str, ...]
    noise: float
    narrowest_px: float
    narrowest_mm: float
    area: Mask = field(repr=False)
    glare: Mask = field(repr=False)
    streaks: Mask = field(repr=False)
    picture: Picture = field(repr=False)


def unevenness(
    image: Any,
    lab_of_pigments: Mapping[str, Any] | None = None,
    mask: Any = None,
    *,
    corrected: bool = False,
    width_mm: float | None = None,
) -> Unevenness:
    """Read how even the blended area of a photo is, in CIELAB.

    The light's slow change over the picture is taken out, highlights are left out, and colours
    are compared at equal luminance, so that ridges and shading do not count. A streak that
    differs in lightness alone can therefore not be told from a ridge, and is not counted.

    Parameters
    ----------
    image : path, bytes, PIL image, or ndarray of shape (h, w, 3)
        sRGB, uint8 or float from 0 to 1. Photos are reduced to 0.13 million pixels.
    lab_of_pigments : mapping of str to (L*, a*, b*), optional
        The full colour of each pigment in the recipe.
    mask : bool array, optional
        True where the blended area is, of the photo's size or reduced alike. By default
        the largest region of one colour, without its edge.
    corrected : bool
        Whether the colours were put right by a card before.
    width_mm : float, optional
        How wide what the photo shows is, along its width.

    Returns
    -------
    Unevenness

    Raises
    ------
    LabError
        Where there is no photo, no blended area, or nothing to see in it.

    Examples
    --------
    >>> melt = np.full((96, 128, 3), (176, 78, 70), np.uint8)
    >>> melt[40:56] = (196, 128, 70)
    >>> found = unevenness(melt, {"yellow": (66, 20, 62), "blue": (33, 20, -52)})
    >>> round(found.share_over_2, 2), round(found.angle_deg), found.comparable
    (0.19, 0, False)
    >>> found.by_pigment
    {'yellow': 1.0, 'blue': 0.0}
    """
    pigments = read_pigments(lab_of_pigments or {})
    picture = read_picture(image)
    area = find_area(picture) if mask is None else mask_of(mask, picture)
    _refuse_nothing(picture, area)
    card = None if corrected else find_card(picture, area)
    part = _around(area)
    seen = _look(picture.part(part), area[part], card, corrected, pigments)
    return _result(seen, picture, part, width_mm)


def _around(area: Mask) -> Part:
    rows, columns = np.flatnonzero(area.any(axis=1)), np.flatnonzero(area.any(axis=0))
    return slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)


def _look(
    picture: Picture,
    area: Mask,
    card: NDArray[np.float64] | None,
    corrected: bool,
    pigments: Mapping[str, NDArray[np.float64]],
) -> Seen:
    linear = picture.linear if card is None else picture.linear * (CARD_REFLECTANCE / card).astype(np.float32)
    flat = linear / slow_light(linear[..., 1], area)[..., None]
    glare = find_glare(flat, picture.clipped, area)
    if (area & ~glare).sum() < _FEWEST:
        raise LabError("Glare hides nearly all of the blended area. Tilt it away from the lamp.")
    found = find_differences(flat, area & ~glare, picture.factor)
    return Seen(picture, area, glare, found, corrected, card is not None, pigments)


def _refuse_nothing(picture: Picture, area: Mask) -> None:
    if area.sum() < _FEWEST:
        raise LabError(
            f"The blended area is {int(area.sum())} points of the reduced photo, too few to find a streak in "
            f"(it takes {_FEWEST}). Take the photo from nearer."
        )
    if (most(picture.pixels)[area] <= BOTTOM).mean() > 0.5:
        raise LabError(
            "The blended area is black in this photo: nothing can be seen. Take it again with light."
        )
    if (picture.clipped & area).sum() > 0.5 * area.sum():
        raise LabError(
            "The blended area is overexposed in this photo: its colour is not known there. "
            "Take it again with less exposure."
        )


def _result(seen: Seen, picture: Picture, part: Part, width_mm: float | None) -> Unevenness:
    found = seen.found
    streaks = _marked_streaks(found)
    narrowest = _NARROW * found.blur * picture.factor
    mm = narrowest * width_mm / picture.full_size[0] if width_mm else float("nan")
    over_2 = _share_over(found, 2.0)
    over_1 = max(over_2, _share_over(found, 1.0))
    against = keeps_from_comparing(seen)
    like = likeness(found, streaks, seen.pigments)
    why = (*against, *doubts(seen, streaks, like), narrowest_words(narrowest, mm, picture))
    area, glare, whole = (_put_back(each, part, picture.size) for each in (seen.area, seen.glare, streaks))
    return Unevenness(
        _index(found), over_1, over_2, run_of(found, streaks), like, not against, why, found.noise,
        narrowest, mm, area, glare, whole, picture,
    )  # fmt: skip


def _put_back(mask: Mask, part: Part, size: tuple[int, int]) -> Mask:
    whole = np.zeros(size, dtype=bool)
    whole[part] = mask
    return whole


def narrowest_words(px: float, mm: float, picture: Picture) -> str:
    """Return in a sentence what the narrowest streak is that can be seen."""
    size = f" ({mm:.1f} mm)" if np.isfinite(mm) else ""
    if picture.factor == 1:
        return f"The narrowest streak that can be seen is {px:.0f} pixels{size} wide."
    (wide, high), (height, width) = picture.full_size, picture.size
    return (
        f"The photo of {wide} × {high} pixels was read at {width} × {height}: the narrowest streak that can "
        f"be seen is {px:.0f} pixels of the photo{size} wide."
    )


def _marked_streaks(found: Differences) -> Mask:
    """Return what is off by more than 1 ΔE00 and noise, without specks and what is nowhere clearly off."""
    from scipy import ndimage

    limit = max(1.0, found.sure)
    parts, count = ndimage.label(found.edged > limit, structure=np.ones((3, 3)))
    clearly = np.bincount(parts[found.edged > _CLEARLY * limit], minlength=count + 1) > 0
    kept = clearly & (np.bincount(parts.ravel(), minlength=count + 1) >= _SPECK * found.blur**2)
    kept[0] = False
    return np.asarray(kept[parts])


def _index(found: Differences) -> float:
    """Return √(mean² − noise²); the mean of |noise| of two normal axes is √π/2 of its root mean square."""
    mean = float(found.total[found.seen].mean())
    alone = np.sqrt(np.pi) / 2 * found.noise
    return float(np.sqrt(max(0.0, mean**2 - alone**2)))


def _share_over(found: Differences, limit: float) -> float:
    """Return (share − chance)/(1 − chance), with the chance exp(−limit²/noise²) of noise alone."""
    share = float((found.edged > limit).sum() / found.seen.sum())
    chance = float(np.exp(-((limit / max(found.noise, 1e-6)) ** 2)))
    return float(np.clip((share - chance) / max(1 - chance, 1e-6), 0, 1))
