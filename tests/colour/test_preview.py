"""The preview shows what is read where it is read."""

import io
from functools import cache

import numpy as np
import pytest
from PIL import Image

from labkit.colour.photo import read_photo
from labkit.colour.place import ORDERS
from labkit.colour.preview import preview
from labkit.errors import LabError
from tests.colour.scenes import CHART_AT, SWATCH_AT, camera, jpeg, scene

PHOTO = jpeg(camera(scene()), quality=95)


@cache
def plain():
    return np.asarray(Image.open(io.BytesIO(preview(PHOTO)))).astype(int)


def drawn(**more):
    return np.asarray(Image.open(io.BytesIO(preview(PHOTO, **more)))).astype(int)


def changed(**more):
    return np.abs(drawn(**more) - plain()).max(axis=-1) > 60


def test_without_corners_it_is_the_photo():
    assert np.abs(drawn() - read_photo(PHOTO).pixels).mean() < 2


def test_chart_and_swatch_are_outlined_and_the_rest_is_not():
    marked = changed(chart="24-patch chart", chart_corners=CHART_AT, patch_corners=SWATCH_AT)
    assert marked[120:570, 110:880].mean() > 0.02
    assert marked[245:425, 900:1085].mean() > 0.02
    assert not marked[600:, :].any()


def test_24_middles_are_drawn():
    from scipy.ndimage import label

    marked = changed(chart="24-patch chart", chart_corners=CHART_AT)
    _, rings = label(~marked)
    assert rings >= 1 + 1 + 24


def test_a_turned_chart_is_drawn_as_it_is_read():
    turned = CHART_AT[np.argsort(ORDERS[1])]
    given = changed(chart="24-patch chart", chart_corners=CHART_AT)
    put_right = changed(chart="24-patch chart", chart_corners=turned)
    inside = np.s_[160:520, 170:810]
    assert (given[inside] != put_right[inside]).mean() < 0.005


def test_a_large_photo_is_shown_small():
    large = jpeg(np.zeros((2000, 3000, 3), np.uint8) + np.array([200, 30, 40], np.uint8))
    shown = Image.open(io.BytesIO(preview(large, patch_corners=[(0.1, 0.1), (0.9, 0.9)])))
    assert shown.size == (1400, 933)


def test_bad_corners_are_refused():
    with pytest.raises(LabError, match="outside the photo"):
        preview(PHOTO, patch_corners=[(0.1, 0.1), (1.2, 0.9)])
