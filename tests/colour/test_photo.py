"""A photo is read upright, small enough and in sRGB, or refused in plain words."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from labkit.colour.cie import colour_science
from labkit.colour.photo import WORKED_ON, read_photo
from labkit.errors import LabError
from tests.colour.profiles import rgb_to_xyz, wide_profile
from tests.colour.scenes import jpeg, png

RED, BLUE, GREEN, WHITE = (200, 30, 40), (30, 40, 200), (30, 160, 60), (240, 240, 235)


def quarters(wide=160, high=80):
    """Red at the top left, blue at the top right, green at the bottom left, white at the bottom right."""
    pixels = np.empty((high, wide, 3), np.uint8)
    pixels[: high // 2, : wide // 2], pixels[: high // 2, wide // 2 :] = RED, BLUE
    pixels[high // 2 :, : wide // 2], pixels[high // 2 :, wide // 2 :] = GREEN, WHITE
    return pixels


def saved(image, form="PNG", **more):
    out = io.BytesIO()
    image.save(out, form, **more)
    return out.getvalue()


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_read_as_it_is(form):
    photo = read_photo(saved(Image.fromarray(quarters()), form, quality=95))
    assert photo.pixels.shape == (80, 160, 3)
    assert photo.full_size == (160, 80)
    assert photo.reduced == ""
    assert np.abs(photo.pixels[10, 10].astype(int) - RED).max() < 6
    assert photo.srgb.max() <= 1
    np.testing.assert_allclose(photo.srgb[10, 10] * 255, photo.pixels[10, 10], atol=1e-4)


@pytest.mark.parametrize("tag", range(1, 9))
def test_it_is_turned_upright_by_its_exif_tag(tag):
    """What a camera stores so turned comes back with red at the top left. Source: Exif 2.3, tag 0x0112."""
    upright = quarters()
    stored = {
        1: upright,
        2: upright[:, ::-1],
        3: upright[::-1, ::-1],
        4: upright[::-1],
        5: upright.transpose(1, 0, 2),
        6: upright.transpose(1, 0, 2)[::-1],
        7: upright.transpose(1, 0, 2)[::-1, ::-1],
        8: upright.transpose(1, 0, 2)[:, ::-1],
    }[tag]
    exif = Image.Exif()
    exif[0x0112] = tag
    photo = read_photo(jpeg(np.ascontiguousarray(stored), 95, exif=exif, subsampling=0))
    assert photo.full_size == (160, 80)
    assert np.abs(photo.pixels.astype(int) - upright)[4:-4:8, 4:-4:8].max() < 12


@pytest.mark.parametrize("write", [jpeg, png])
def test_a_large_photo_is_reduced_and_says_so(write):
    photo = read_photo(write(quarters(4000, 3000)))
    high, wide = photo.pixels.shape[:2]
    assert (wide, high) == (2000, 1500)
    assert wide * high <= WORKED_ON
    assert photo.factor == 2
    assert photo.reduced == "The photo of 4000 × 3000 pixels was read at 2000 × 1500."
    assert np.abs(photo.pixels[100, 100].astype(int) - RED).max() < 6


def test_fifty_million_pixels_are_accepted_and_turned():
    exif = Image.Exif()
    exif[0x0112] = 6
    image = Image.new("RGB", (8192, 6144), RED)
    photo = read_photo(saved(image, "JPEG", exif=exif))
    assert photo.full_size == (6144, 8192)
    assert photo.pixels.shape == (2048, 1536, 3)


def test_more_than_a_hundred_million_are_refused_before_they_are_decoded():
    content = bytearray(png(quarters()))
    content[16:24] = struct.pack(">II", 10_001, 10_000)
    content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    with pytest.raises(LabError, match="more than 100 million pixels"):
        read_photo(bytes(content))
    content[16:24] = struct.pack(">II", 60_000, 60_000)
    content[29:33] = struct.pack(">I", zlib.crc32(content[12:29]))
    with pytest.raises(LabError, match="more than 100 million pixels"):
        read_photo(bytes(content))


@pytest.mark.parametrize("content", [b"", b"not a photo", b"GIF89a" + bytes(40), b"%PDF-1.7"])
def test_what_is_no_photo_is_refused(content):
    with pytest.raises(LabError, match="not a photo that can be read here"):
        read_photo(content)


@pytest.mark.parametrize("write", [jpeg, png])
@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_a_photo_that_is_cut_short_is_refused(write, share):
    noisy = np.random.default_rng(1).integers(0, 255, (200, 300, 3), np.uint8)
    content = write(noisy)
    with pytest.raises(LabError, match="damaged or cut short"):
        read_photo(content[: int(share * len(content))])


def test_heic_is_refused_with_the_way_out():
    with pytest.raises(LabError, match=r"HEIC.*Send it as a JPEG"):
        read_photo(bytes(4) + b"ftypheic" + bytes(30))


def test_a_file_is_read_and_a_missing_one_named(tmp_path):
    path = tmp_path / "swatch.png"
    path.write_bytes(png(quarters()))
    assert read_photo(path).full_size == (160, 80)
    with pytest.raises(LabError, match=r"gone\.png"):
        read_photo(tmp_path / "gone.png")


def grey_ramp():
    return np.tile(np.arange(160, dtype=np.uint8), (80, 1))


@pytest.mark.parametrize(
    "image",
    [
        Image.fromarray(grey_ramp()),
        Image.fromarray(grey_ramp()).convert("RGB"),
        Image.fromarray(grey_ramp()).convert("LA"),
        Image.fromarray(grey_ramp().astype(np.uint16) * 256),
        Image.fromarray(grey_ramp() > 80),
    ],
    ids=["L", "equal channels", "LA", "16 bit", "1"],
)
def test_a_grey_photo_is_refused(image):
    with pytest.raises(LabError, match="This photo is grey"):
        read_photo(saved(image))


def test_a_grey_photo_saved_as_a_colour_jpeg_is_refused():
    with pytest.raises(LabError, match="This photo is grey"):
        read_photo(saved(Image.fromarray(grey_ramp()).convert("RGB"), "JPEG", quality=50))


def test_a_photo_of_a_grey_thing_with_a_little_colour_in_it_is_none():
    pixels = np.repeat(grey_ramp()[..., None], 3, axis=2)
    pixels[:10, :10] = RED
    assert read_photo(png(pixels)).pixels.shape == (80, 160, 3)


def test_sixteen_bits_a_channel_are_read_to_eight():
    levels = np.random.default_rng(0).integers(0, 65536, (40, 60, 3)).astype(np.uint16)

    def chunk(kind, data):
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in levels)
    head = struct.pack(">IIBBBBB", 60, 40, 16, 2, 0, 0, 0)
    content = (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    assert np.abs(read_photo(content).pixels.astype(int) - levels // 256).max() <= 1


def test_printing_colours_are_refused():
    with pytest.raises(LabError, match="CMYK"):
        read_photo(saved(Image.fromarray(quarters()).convert("CMYK"), "JPEG"))


def test_few_colours_are_refused():
    with pytest.raises(LabError, match="256 colours"):
        read_photo(saved(Image.fromarray(quarters()).convert("P")))


def test_see_through_is_refused_and_opaque_is_not():
    image = Image.fromarray(quarters()).convert("RGBA")
    np.testing.assert_array_equal(read_photo(saved(image)).pixels, quarters())
    image.putalpha(128)
    with pytest.raises(LabError, match="see-through"):
        read_photo(saved(image))


def test_a_wide_profile_is_brought_to_srgb():
    """A colour inside sRGB, written with wider primaries, comes back as itself: by its XYZ under D65."""
    colour = colour_science()
    wanted = quarters() / 255
    xyz = colour.sRGB_to_XYZ(wanted)
    levels = np.rint(255 * np.clip(xyz @ np.linalg.inv(rgb_to_xyz()).T, 0, 1) ** (1 / 2.2)).astype(np.uint8)
    read = read_photo(png(levels, icc_profile=wide_profile()))
    assert np.abs(levels[0, 0].astype(int) - RED).max() > 10
    assert np.abs(read.pixels.astype(int) - quarters()).max() <= 3
    assert read.remarks == ()


def test_a_profile_of_srgb_changes_next_to_nothing():
    from PIL import ImageCms

    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    assert np.abs(read_photo(png(quarters(), icc_profile=profile)).pixels.astype(int) - quarters()).max() <= 1


def test_a_broken_profile_is_said():
    photo = read_photo(png(quarters(), icc_profile=b"not a profile at all"))
    np.testing.assert_array_equal(photo.pixels, quarters())
    assert "taken as sRGB" in photo.remarks[0]
