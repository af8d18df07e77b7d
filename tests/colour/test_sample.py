"""What the pixels of a patch say."""

import numpy as np
import pytest

from labkit.colour.photo import Photo
from labkit.colour.sample import linear_levels, middle_points, patch_width, sample
from labkit.errors import LabError

AREA = np.array([[10.0, 20.0], [110.0, 20.0], [110.0, 120.0], [10.0, 120.0]])


def flat(level=120, size=(140, 160)):
    return np.full((*size, 3), level, np.uint8)


def photo(pixels, factor=1):
    return Photo(pixels, (pixels.shape[1] * factor, pixels.shape[0] * factor), factor)


def test_levels_are_those_of_the_standard():
    """IEC 61966-2-1: V/12.92 up to 0.04045, then ((V + 0.055)/1.055)^2.4."""
    v = np.arange(256) / 255
    np.testing.assert_allclose(
        linear_levels(), np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4), atol=1e-7
    )


def test_only_the_middle_half_is_read():
    pixels = flat()
    pixels[20:44], pixels[96:120] = 255, 255
    pixels[:, 10:34], pixels[:, 86:110] = 0, 0
    found = sample(photo(pixels), AREA)
    np.testing.assert_allclose(found.linear, linear_levels()[120])
    assert found.clipped == found.bottomed == found.glare == 0


def test_each_patch_of_a_grid_is_read_row_by_row():
    pixels = flat()
    for row in range(2):
        for column in range(3):
            pixels[20 + 50 * row : 70 + 50 * row, 10 + 33 * column : 44 + 33 * column] = 40 + 30 * (
                3 * row + column
            )
    corners = AREA.copy()
    corners[1:3, 0] = 109
    found = sample(photo(pixels), corners, 2, 3)
    np.testing.assert_allclose(found.linear[:, 0], linear_levels()[40 + 30 * np.arange(6)])


def test_a_reduced_photo_is_read_at_the_same_place():
    pixels = flat()
    pixels[45:95, 35:85] = 200
    halved = np.ascontiguousarray(pixels[::2, ::2])
    np.testing.assert_allclose(
        sample(photo(pixels), AREA).linear, sample(Photo(halved, (160, 140), 2), AREA).linear, atol=1e-9
    )


def test_points_lie_in_the_middle_half():
    points = middle_points(photo(flat()), AREA, 1, 1, 10)
    assert points.shape == (1, 100, 2)
    assert points.min(axis=(0, 1)) == pytest.approx([37.5, 47.5])
    assert points.max(axis=(0, 1)) == pytest.approx([82.5, 92.5])


def test_a_few_odd_pixels_do_not_move_the_mean():
    pixels = flat()
    pixels[60:66, 60:80] = 255
    found = sample(photo(pixels), AREA)
    np.testing.assert_allclose(found.linear, linear_levels()[120], rtol=1e-6)
    assert found.glare[0] > 0.01
    assert found.clipped[0] > 0.01


def test_dark_spots_are_no_glare():
    pixels = flat()
    pixels[60:66, 60:80] = 20
    assert sample(photo(pixels), AREA).glare[0] == 0


def test_a_channel_at_the_bottom_is_counted():
    pixels = flat()
    pixels[:, :60, 2] = 0
    assert sample(photo(pixels), AREA).bottomed[0] == pytest.approx(0.5, abs=0.02)


def test_blocks_tell_the_error_of_the_mean_when_neighbours_go_together():
    """Noise smoothed over 2 pixels, as phones do: pixels say far too little."""
    from scipy.ndimage import gaussian_filter

    rng = np.random.default_rng(5)
    means, by_blocks, by_pixels = [], [], []
    for _ in range(120):
        noise = gaussian_filter(rng.standard_normal((140, 160)), 2)
        pixels = np.repeat(np.clip(120 + 8 * noise / noise.std(), 0, 255)[..., None], 3, axis=2).astype(
            np.uint8
        )
        found = sample(photo(pixels), AREA)
        means.append(found.linear[0, 0])
        blocks = found.blocks[0, :, 0]
        by_blocks.append(blocks.std(ddof=1) / np.sqrt(len(blocks)))
        inside = linear_levels()[pixels[45:95, 35:85, 0]]
        by_pixels.append(inside.std() / np.sqrt(inside.size))
    assert 0.7 < np.mean(by_blocks) / np.std(means) < 1.4
    assert np.mean(by_pixels) < 0.3 * np.std(means)


def test_small_patches_are_refused():
    assert patch_width(photo(flat()), AREA, 4, 6) == pytest.approx(100 / 6)
    sample(photo(flat()), AREA, 4, 6)
    with pytest.raises(LabError, match=r"8 pixels wide.*from nearer"):
        sample(photo(flat()), AREA, 12, 12)
