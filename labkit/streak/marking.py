"""The photo with its streaks marked: outlined and hatched, not by colour alone."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from labkit.errors import LabError
from labkit.streak.evenness import Unevenness
from labkit.streak.picture import Mask, read_picture

_DARK, _LIGHT = 0, 255
_PITCH = 8  # widths of a line, from one line of a hatch to the next
_LONGEST = 1200
_LINES = 400  # widths of a line in the longer side


def marked(image: Any, result: Unevenness) -> Image.Image:
    """Return the photo with the area outlined, streaks outlined and hatched, glare dotted.

    Lines are dark beside light, so that they are seen on any colour.

    Parameters
    ----------
    image : as for `unevenness`
        The same photo.
    result : Unevenness

    Raises
    ------
    LabError
        Where it is another photo.
    """
    picture = read_picture(image)
    if picture.size != result.picture.size:
        raise LabError("This is not the photo that was read: its size is another one.")
    times = max(1, _LONGEST // max(picture.size))
    size = (picture.size[1] * times, picture.size[0] * times)
    pixels = np.array(Image.fromarray(picture.pixels).resize(size, Image.Resampling.BICUBIC))
    streaks, glare, area = (_larger(each, times) for each in (result.streaks, result.glare, result.area))
    wide = max(2, max(size) // _LINES)
    _draw(pixels, streaks & _hatch(streaks.shape, 0, wide), streaks & _hatch(streaks.shape, wide, wide))
    _draw(pixels, glare & _dots(glare.shape, 0, wide), glare & _dots(glare.shape, wide, wide))
    for mask in (streaks, area):
        _draw(pixels, _edge(mask, wide), _edge(mask, 2 * wide))
    return Image.fromarray(pixels)


def _larger(array: NDArray[Any], times: int) -> NDArray[Any]:
    return array.repeat(times, axis=0).repeat(times, axis=1)


def _draw(pixels: NDArray[np.uint8], light: Mask, dark: Mask) -> None:
    pixels[dark] = _DARK
    pixels[light] = _LIGHT


def _edge(mask: Mask, wide: int) -> Mask:
    from scipy import ndimage

    return np.asarray(mask & ~ndimage.binary_erosion(mask, iterations=wide, border_value=0))


def _hatch(shape: tuple[int, ...], by: int, wide: int) -> Mask:
    y, x = np.ogrid[: shape[0], : shape[1]]
    return np.asarray((x + y + by) % (_PITCH * wide) < wide)


def _dots(shape: tuple[int, ...], by: int, wide: int) -> Mask:
    y, x = np.ogrid[: shape[0], : shape[1]]
    return np.asarray(((x + by) % (_PITCH * wide) < wide) & ((y + by) % (_PITCH * wide) < wide))
