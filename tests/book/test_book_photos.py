"""Photos: nothing personal in them, upright, whole, and named by what they hold."""

import hashlib
import io

import pytest
from PIL import Image, ImageCms, TiffImagePlugin

from labkit.book import TrialBook
from labkit.book.photos import QUALITY
from labkit.errors import LabError

SERIAL, PLACE, OWNER = "SN-0815-4711", b"GPSLatitude", "Somebody Invented"
XMP = b"<x:xmpmeta><rdf:li>SN-0815-4711 52.5163 13.3777</rdf:li></x:xmpmeta>"


@pytest.fixture
def book(tmp_path):
    with TrialBook(tmp_path / "lab.db") as book:
        yield book


def exif(orientation: int = 1) -> Image.Exif:
    """Location, serial number and owner, as a camera writes them (tags of EXIF 2.32)."""
    data = Image.Exif()
    data[0x0112] = orientation
    data[0x013B] = OWNER
    rational = TiffImagePlugin.IFDRational
    data.get_ifd(0x8825).update(
        {1: "N", 2: (rational(52), rational(30), rational(5871, 100)), 29: "2026:03:01"}
    )
    data.get_ifd(0x8769).update({0xA431: SERIAL, 0xA430: OWNER})
    return data


def picture(mode: str = "RGB") -> Image.Image:
    """A red corner at the upper left of a wide grey field."""
    image = Image.new("RGB", (64, 32), (120, 120, 120))
    image.paste((200, 20, 30), (0, 0, 16, 16))
    return image.convert(mode)


def encoded(image: Image.Image, format: str = "JPEG", **options) -> bytes:
    out = io.BytesIO()
    image.save(out, format, **options)
    return out.getvalue()


def opened(book: TrialBook, name: str) -> Image.Image:
    image = Image.open(book.photo_path(name))
    image.load()
    return image


@pytest.mark.parametrize("format", ["JPEG", "PNG", "WEBP"])
def test_location_serial_and_names_are_gone(book, format):
    options = {} if format == "PNG" else {"xmp": XMP}
    raw = encoded(picture(), format, exif=exif(), **options)
    assert SERIAL.encode() in raw
    assert OWNER.encode() in raw
    assert Image.open(io.BytesIO(raw)).getexif().get_ifd(0x8825)[1] == "N"
    name = book.add_photo(raw)
    kept = book.photo_path(name).read_bytes()
    for secret in (SERIAL.encode(), OWNER.encode(), b"Exif", b"eXIf", b"xmpmeta", b"52.5163", b"2026:03:01"):
        assert secret not in kept
    image = opened(book, name)
    assert not image.getexif()
    assert not image.info.get("xmp")


def test_jpeg_comment_and_what_hangs_behind_the_picture_are_gone(book):
    raw = encoded(picture(), comment=SERIAL.encode()) + b"a film with its place " + SERIAL.encode()
    assert SERIAL.encode() not in book.photo_path(book.add_photo(raw)).read_bytes()


def test_png_texts_are_gone(book):
    from PIL.PngImagePlugin import PngInfo

    notes = PngInfo()
    notes.add_text("Author", OWNER)
    notes.add_itxt("XML:com.adobe.xmp", XMP.decode())
    raw = encoded(picture(), "PNG", pnginfo=notes)
    assert OWNER.encode() in raw
    kept = book.photo_path(book.add_photo(raw)).read_bytes()
    assert OWNER.encode() not in kept
    assert SERIAL.encode() not in kept


def test_name_is_the_hash_of_what_was_kept(book):
    raw = encoded(picture(), exif=exif())
    name = book.add_photo(raw)
    path = book.photo_path(name)
    assert name == f"{hashlib.sha256(path.read_bytes()).hexdigest()}.jpg"
    assert name[:64] != hashlib.sha256(raw).hexdigest()
    assert path == book.path.parent / "lab.photos" / name[:2] / name
    assert [each.name for each in path.parent.iterdir()] == [name]


def test_same_photo_from_another_camera_is_the_same(book, tmp_path):
    """Only what is seen counts, so location and serial cannot be told from the name."""
    file = tmp_path / "photo.jpeg"
    file.write_bytes(encoded(picture(), exif=exif()))
    names = {book.add_photo(encoded(picture())), book.add_photo(file), book.add_photo(str(file))}
    assert len(names) == 1


@pytest.mark.parametrize(
    ("orientation", "corner"),
    [
        (1, (4, 4)),
        (2, (59, 4)),
        (3, (59, 27)),
        (4, (4, 27)),
        (5, (4, 4)),
        (6, (27, 4)),
        (7, (27, 59)),
        (8, (4, 59)),
    ],
)
def test_orientation_is_applied(book, orientation, corner):
    """Where the red corner must be seen, by the eight values of the tag in EXIF 2.32, section 4.6.4."""
    image = opened(book, book.add_photo(encoded(picture(), quality=95, exif=exif(orientation))))
    assert image.size == ((64, 32) if orientation < 5 else (32, 64))
    red, green, _ = image.getpixel(corner)
    assert red > 170
    assert green < 60
    assert not image.getexif()


def test_colour_profile_is_kept(book):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    for format in ("JPEG", "PNG"):
        image = opened(book, book.add_photo(encoded(picture(), format, icc_profile=profile)))
        assert image.info["icc_profile"] == profile


def test_colours_survive(book):
    """PNG exactly; JPEG within two of 255, since it is written again."""
    png = opened(book, book.add_photo(encoded(picture("RGBA"), "PNG")))
    assert list(png.get_flattened_data()) == list(picture("RGBA").get_flattened_data())
    before = encoded(picture(), quality=QUALITY, subsampling=0)
    after = opened(book, book.add_photo(before))
    pairs = zip(Image.open(io.BytesIO(before)).get_flattened_data(), after.get_flattened_data(), strict=True)
    assert max(abs(a - b) for one, other in pairs for a, b in zip(one, other, strict=True)) <= 2


def test_transparent_palette_stays_transparent(book):
    image = picture().convert("P")
    image.info["transparency"] = image.getpixel((0, 0))
    assert opened(book, book.add_photo(encoded(image, "PNG"))).getpixel((0, 0))[3] == 0


HEIC = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 100


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (HEIC, r"format HEIC.*Send it as a JPEG"),
        (b"", "not a photo that can be read here.*JPEG"),
        (b"<svg onload=alert(1)>", "not a photo"),
        (encoded(picture())[:-200], "damaged or cut short"),
        (encoded(picture(), "PNG")[:-30], "damaged or cut short"),
        (encoded(picture(), "GIF"), "not a photo that can be read here"),
    ],
)
def test_what_is_no_photo(book, content, words):
    with pytest.raises(LabError, match=words):
        book.add_photo(content)
    assert not (book.path.parent / "lab.photos").exists()


@pytest.mark.parametrize("side", [11_000, 20_000])
def test_huge_picture_is_refused_before_it_is_unpacked(book, side):
    """A few hundred kilobytes may claim to be a picture of gigabytes."""
    bomb = encoded(Image.new("1", (side, side)), "PNG")
    assert len(bomb) < 100_000
    with pytest.raises(LabError, match="million pixels"):
        book.add_photo(bomb)


def test_no_such_file_and_no_such_photo(book, tmp_path):
    with pytest.raises(LabError, match="cannot be found"):
        book.add_photo(tmp_path / "none.jpg")
    with pytest.raises(LabError, match="is not beside this book"):
        book.photo_path("a" * 64 + ".jpg")
    for name in ("../../etc/passwd", "a" * 64, "A" * 64 + ".jpg", "a" * 64 + ".exe"):
        with pytest.raises(LabError, match="not the name of a photo"):
            book.photo_path(name)


def test_full_disk_leaves_no_half_photo(book, monkeypatch):
    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(LabError, match="The disk is full"):
        book.add_photo(encoded(picture()))
    assert [each for each in (book.path.parent / "lab.photos").rglob("*") if each.is_file()] == []


def test_check_finds_missing_and_altered_photos(book):
    missing, altered, good = (
        book.add_photo(encoded(Image.new("RGB", (8, 8), (n, 0, 0)), "PNG")) for n in range(3)
    )
    entry = book.append("attic.box", {"photos": [missing, {"deep": altered}, good]}, trial="First")
    assert book.check() == []
    book.photo_path(missing).unlink()
    book.photo_path(altered).write_bytes(b"other")
    assert sorted(book.check()) == sorted(
        [
            f"The {entry.called}: its photo is missing.",
            f"The {entry.called}: its photo was altered.",
        ]
    )


def test_book_on_a_server_needs_a_folder(book, tmp_path):
    book._photo_folder = None
    with pytest.raises(LabError, match="photos=folder"):
        book.add_photo(encoded(picture()))
    with TrialBook(book.path, photos=tmp_path / "elsewhere") as other:
        assert other.photo_path(other.add_photo(encoded(picture()))).is_relative_to(tmp_path / "elsewhere")
