"""Opening a photo as it comes from a phone, or saying in plain words why it cannot be read."""

import io
import warnings

from PIL import Image, UnidentifiedImageError

from labkit.errors import LabError

_FORMATS = ("JPEG", "PNG", "WEBP")
_HEIC = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1", b"heif")
_SEND_JPEG = (
    "Send it as a JPEG: in the phone's camera settings choose JPEG (“most compatible”), "
    "or open the photo on the phone and export or share it as JPEG."
)


def open_photo(content: bytes, largest_pixels: int) -> Image.Image:
    """Return a photo that is not decoded yet; `load_photo` decodes it.

    Raises
    ------
    LabError
        Where it is no photo, HEIC, cut short at its head, or has more than ``largest_pixels``.
    """
    if content[4:8] == b"ftyp" and content[8:12] in _HEIC:
        raise LabError(f"This photo is in the format HEIC, which cannot be read here. {_SEND_JPEG}")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            photo = Image.open(io.BytesIO(content), formats=_FORMATS)
    except Image.DecompressionBombError as error:
        raise LabError(_huge(largest_pixels)) from error
    except UnidentifiedImageError as error:
        raise LabError(f"This is not a photo that can be read here. {_SEND_JPEG}") from error
    except (OSError, SyntaxError, ValueError) as error:
        raise LabError(_damaged(error)) from error
    if photo.width * photo.height > largest_pixels:
        raise LabError(_huge(largest_pixels))
    return photo


def load_photo(photo: Image.Image) -> None:
    """Decode a photo; raise `LabError` where it is damaged or cut short."""
    try:
        photo.load()
    except (OSError, SyntaxError, ValueError) as error:
        raise LabError(_damaged(error)) from error


def _huge(largest_pixels: int) -> str:
    return f"This photo has more than {largest_pixels // 10**6} million pixels. Send it in a smaller size."


def _damaged(error: Exception) -> str:
    return f"This photo is damaged or cut short ({error}). Send it again."
