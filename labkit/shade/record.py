"""What a shade trial writes into the trial book."""

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import AfterValidator, BeforeValidator, field_validator, model_validator

from labkit.book.record import Record, noted
from labkit.shade.backing import names as backing_names
from labkit.shade.mixture import read_blend, read_parts
from labkit.shade.pigments import known_names
from labkit.times import Zoned

USUAL_BACKINGS = ("black card", "white card", "lip")


def _loads(blend: dict[str, float]) -> dict[str, float]:
    read_blend(blend)
    if not sum(blend.values()) > 0:
        raise ValueError("there is no pigment in it")
    return known_names(blend)


def _parts(parts: dict[str, float]) -> dict[str, float]:
    read_parts(parts)
    return known_names(parts)


Blend = Annotated[dict[str, float], AfterValidator(_loads)]
"""Mass % of the finished product by pigment: none below nothing, and something of one."""
Parts = Annotated[dict[str, float], AfterValidator(_parts)]
"""A ratio of pigments: what it adds up to does not matter."""


def _by_nm(reflectance: Any) -> Any:
    """Return a spectrum under "400" where it was given under 400 or "400.0"."""
    if not isinstance(reflectance, Mapping):
        return reflectance
    return {f"{float(nm):g}": value for nm, value in reflectance.items()}


Spectrum = Annotated[dict[str, float], BeforeValidator(_by_nm)]
"""Reflectance, 0 to 1, by wavelength in nm."""


class Question(Record):
    """What a shade trial asks: which pigments in which ratio, where it is sold, over what it is worn."""

    kind: ClassVar[str] = "shade.question"

    market: Literal["US", "EU", "UK", "CA", "JP"] = noted("Where will it be worn or sold?")
    parts: Parts = noted("Pigments, in parts")
    low_load: float = noted("Lowest load", unit="%", default=1.0, gt=0, le=100)
    high_load: float = noted("Highest load", unit="%", default=20.0, gt=0, le=100)
    film_um: float = noted("Film", unit="µm", default=10.0, gt=0, le=500)
    backings: tuple[str, ...] = noted("Shown over", default=USUAL_BACKINGS, min_length=1)
    density_g_ml: float = noted("Density of the base", unit="g/mL", default=0.94, ge=0.6, le=1.5)
    index: float = noted("Refractive index of the base", default=1.465, ge=1.3, le=1.7)
    batch_g: float = noted("Batch", unit="g", default=50.0, gt=0, le=1_000_000)
    step_g: float = noted("Step of the scale", unit="g", default=0.01, gt=0, le=10)

    @field_validator("backings")
    @classmethod
    def _known(cls, backings: tuple[str, ...]) -> tuple[str, ...]:
        if unknown := [each for each in backings if each not in backing_names()]:
            raise ValueError(f"“{unknown[0]}” is no backing")
        return backings

    @model_validator(mode="after")
    def _a_range(self) -> Self:
        if not self.low_load < self.high_load:
            raise ValueError("the highest load must be above the lowest")
        return self


class Swatch(Record):
    """A film of one blend over one backing, and the colour that was read of it."""

    kind: ClassVar[str] = "shade.swatch"

    question: str = noted("Question")
    blend: Blend = noted("Pigments", unit="% of the product")
    swatched_at: Zoned = noted("Swatched")
    backing: str = noted("Over", default="white card", max_length=200)
    backing_lab: tuple[float, float, float] | None = noted("Its L*a*b*", default=None)
    film_um: float | None = noted(
        "Film", unit="µm", hint="Leave empty for a film so thick that nothing shows through.", default=None,
        gt=0, le=2000,
    )  # fmt: skip
    film_sd: float = noted("Film, relative sd", default=0.15, gt=0, le=1)
    lab: tuple[float, float, float] | None = noted("L*a*b*", default=None)
    lab_sd: tuple[float, float, float] | None = noted("Standard error of L*a*b*", default=None)
    reflectance: Spectrum | None = noted("Reflectance by nm", default=None)
    read_by: Literal[
        "typed L*a*b*", "typed sRGB", "spectral file", "photo, 24-patch chart", "photo, 6-patch card",
        "photo, grey card",
    ] = noted("Read", default="typed L*a*b*")  # fmt: skip
    photo: str = noted("Photo", default="")
    batch: str = noted("Batch", hint="Which pour or batch it is of.", default="", max_length=200)
    remark: str = noted("Remark", default="", max_length=5000)

    @model_validator(mode="after")
    def _was_read(self) -> Self:
        if (self.lab is None) == (self.reflectance is None):
            raise ValueError("a swatch has L*a*b* or a spectrum")
        return self


class KeptBlend(Record):
    """A blend that was found for a wanted colour and kept for a recipe."""

    kind: ClassVar[str] = "shade.blend"

    question: str = noted("Question")
    name: str = noted("Name", min_length=1, max_length=200)
    blend: Blend = noted("Pigments", unit="% of the product")
    market: str = noted("Market", default="")
    wanted_lab: tuple[float, float, float] | None = noted("Wanted L*a*b*", default=None)
    lab: tuple[float, float, float] = noted("Forecast L*a*b*")
    lab_sd: tuple[float, float, float] = noted("Standard deviation of the forecast")
    film_um: float = noted("Film", unit="µm", gt=0)
    backing: str = noted("Over", max_length=200)
    remark: str = noted("Remark", default="", max_length=5000)
