"""The form of a swatch: which blend, how thick, over what, and the colour that was read."""

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from labkit.colour.cie import WAVELENGTHS
from labkit.colour.spectrum_file import Spectrum, read_spectrum
from labkit.colour.typed import read_lab, read_srgb
from labkit.errors import LabError
from labkit.quantities import read_number
from labkit.shade.backing import names as backing_names
from labkit.shade.film_weight import weighed_film
from labkit.shade.medium import Medium
from labkit.shade.mixture import check_loads, density_of
from labkit.shade.pigments import default_pigments
from labkit.shade.question_form import FILMS
from labkit.shade.record import Swatch
from labkit.ui.form import Field, Group, Values
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields, whole_number

if TYPE_CHECKING:
    from labkit.shade.trial import ShadeTrial

OWN = "my own, its L*a*b* below"
THICK = "so thick that nothing shows through"
WEIGHED, MEASURED = "weighed, see More", "measured, see More"
FILM_CHOICES = (*FILMS, THICK, WEIGHED, MEASURED)
GUESSED_SD, MEASURED_SD = 0.35, 0.12
"""Relative sd of a film by feel, and of one that was measured (judgement)."""
SCREEN_SD = 5.0
"""Standard error of L*, a*, b* of a screen's colour: photos as they are average ΔE00 over 10 (judgement)."""
BY_LAB, BY_SCREEN, BY_SPECTRUM, BY_PHOTO = "L*a*b*", "sRGB", "spectral file", "photo"
READINGS = (BY_LAB, BY_SCREEN, BY_SPECTRUM, BY_PHOTO)
READ_AS = {BY_LAB: "typed L*a*b*", BY_SCREEN: "typed sRGB", BY_SPECTRUM: "spectral file"}
WEIGHED_INTRO = (
    "The stick before and after twenty swipes over one measured area each: one swipe is too little for a "
    "scale. Never swatch hot melt on skin or lips."
)
COLOUR_HINT = (
    "L*a*b*: 41.2 28 19. sRGB: #8a3b2c or 138 59 44. A spectral file: paste its lines, nm and reflectance."
)
RATIO_INTRO = (
    "Only where this swatch is not in the ratio of your question: mass % of each pigment, instead of the "
    "load above."
)
GROUPS = ("more",)
WEIGHINGS = (
    ("before_g", "the stick before", "g"),
    ("after_g", "the stick after", "g"),
    ("area_cm2", "the area", "cm²"),
)
MUST = {"film": "How thick is it?", "read": "How was its colour read?", "colour": "Which colour?"}


def swatch_groups(
    trial: "ShadeTrial", saved: Swatch | None = None, start: Mapping[str, str] | None = None
) -> list[Group]:
    """Return what is asked; ``start`` fills in what a photo read: "read", "colour", "sd", "photo"."""
    begin = {**_saved_start(saved), **(start or {})}
    return [
        Group("swatch", _first_fields(trial, saved, begin)),
        _blend_group(trial, saved),
        Group("film", _film_fields(saved), "Film", WEIGHED_INTRO, more=True),
        Group("more", _rest(saved, begin), "And", more=True),
    ]


def _first_fields(trial: "ShadeTrial", saved: Swatch | None, begin: Mapping[str, str]) -> tuple[Field, ...]:
    load = f"{sum(saved.blend.values()):g}" if saved else ""
    over = (OWN if saved.backing_lab else saved.backing) if saved else "white card"
    film = MEASURED if saved and saved.film_um else THICK if saved else ""
    return (
        Field("load", "Load of pigment", "number", "%", "In the ratio of your question.", start=load),
        Field("backing", "Swatched over", "choice", choices=(*backing_names(), OWN), start=over),
        Field("film", "How thick", "choice", choices=FILM_CHOICES, start=film),
        Field("read", "How was its colour read?", "choice", choices=READINGS, big=True,
              start=begin.get("read", "")),
        Field("colour", "Its colour", "long", hint=COLOUR_HINT, start=begin.get("colour", "")),
    )  # fmt: skip


def _saved_start(saved: Swatch | None) -> dict[str, str]:
    if saved is None:
        return {}
    begin = {"photo": saved.photo, "read_by": saved.read_by}
    begin["sd"] = _shown_errors(saved.lab_sd)
    if saved.reflectance:
        lines = "\n".join(f"{nm}, {value:.5g}" for nm, value in saved.reflectance.items())
        return {**begin, "read": BY_SPECTRUM, "colour": lines}
    read = BY_PHOTO if saved.read_by.startswith("photo") else BY_LAB
    return {**begin, "read": read, "colour": _shown_colour(saved.lab or ())}


def _blend_group(trial: "ShadeTrial", saved: Swatch | None) -> Group:
    own = saved.blend if saved and not _in_ratio(trial, saved.blend) else {}
    names = tuple(dict.fromkeys((*trial.pigment_names, *own)))
    starts = tuple({"_row": name, "pct": f"{own[name]:g}" if name in own else ""} for name in names)
    field = Field("pct", "Of the product", "number", "%")
    return Group("blend", (field,), "Another ratio", RATIO_INTRO, names, starts, "Pigment", more=True)


def _in_ratio(trial: "ShadeTrial", blend: Mapping[str, float]) -> bool:
    wanted = trial.blend(sum(blend.values()))
    return all(abs(wanted.get(name, 0.0) - blend.get(name, 0.0)) < 1e-6 for name in {*wanted, *blend})


def _film_fields(saved: Swatch | None) -> tuple[Field, ...]:
    film = _as_shown(saved.film_um) if saved else ""
    return (
        Field("film_um", "Measured film", "number", "µm", start=film),
        Field("before_g", "Stick before", "number", "g"),
        Field("after_g", "Stick after", "number", "g"),
        Field("swipes", "Swipes", "number", start="20"),
        Field("area_cm2", "Area of a swipe", "number", "cm²"),
    )


def _rest(saved: Swatch | None, begin: Mapping[str, str]) -> tuple[Field, ...]:
    own = " ".join(f"{each:g}" for each in saved.backing_lab) if saved and saved.backing_lab else ""
    return (
        Field("own_lab", "L*a*b* of my own backing", start=own),
        Field("sd", "Standard error of L*a*b*", start=begin.get("sd", ""), placeholder="three numbers"),
        Field("read_by", "Read by", "show", start=begin.get("read_by", "")),
        *declared_fields(Swatch, ("swatched_at",), saved),
        Field("photo", "Photo", "photo", start=begin.get("photo", "")),
        *declared_fields(Swatch, ("batch", "remark"), saved, {"remark": "long"}),
    )


def read_swatch(
    values: Values, trial: "ShadeTrial", pressed_at: str
) -> tuple[dict[str, float], dict[str, Any]]:
    """Return the blend, and the other fields of a `Swatch` but its question.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    blend, fields = _read(values, trial, pressed_at, faults)
    asked = only(values, "swatch")
    if not blend:
        faults.found.setdefault("swatch//load", "How much pigment is in it?")
    for name, question in MUST.items():
        if not asked.get(name, "").strip():
            faults.found.setdefault(f"swatch//{name}", question)
    faults.stop()
    return blend, fields


def still_as_saved(saved: Swatch, fields: Mapping[str, Any]) -> dict[str, Any]:
    """Return the fields of a mended swatch; a film and a colour that stand there as they were shown are kept.

    The form shows them rounded, and shows neither how well the film was known nor all ways of reading.
    """
    after = dict(fields)
    if _as_shown(saved.film_um) == _as_shown(fields["film_um"]) and fields.get("film_sd") == MEASURED_SD:
        after |= {"film_um": saved.film_um, "film_sd": saved.film_sd}
    if saved.lab and fields.get("lab") and _shown_colour(saved.lab) == _shown_colour(fields["lab"]):
        after |= {"lab": saved.lab, "read_by": saved.read_by}
        if _shown_errors(saved.lab_sd) == _shown_errors(fields["lab_sd"]):
            after["lab_sd"] = saved.lab_sd
    return after


def _as_shown(film_um: float | None) -> str:
    return f"{film_um:g}" if film_um else ""


def _shown_colour(lab: Sequence[float]) -> str:
    return " ".join(f"{each:.2f}" for each in lab)


def _shown_errors(lab_sd: Sequence[float] | None) -> str:
    return _shown_colour(lab_sd or ())


def check_swatch(values: Values, trial: "ShadeTrial") -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, trial, NO_PRESS, faults)
    return faults.found


def _read(
    values: Values, trial: "ShadeTrial", at: str, faults: Faults
) -> tuple[dict[str, float], dict[str, Any]]:
    fields = read_fields(Swatch, values, GROUPS, at, faults)
    asked, more = only(values, "swatch"), only(values, "more")
    blend = _blend(values, trial, faults)
    density = _density(blend, trial.medium)
    fields |= _backing(asked.get("backing", ""), more.get("own_lab", ""), faults)
    fields |= _film(asked.get("film", ""), only(values, "film"), density, trial.question.step_g, faults)
    fields |= _colour(asked.get("read", ""), asked.get("colour", ""), more, faults)
    return blend, fields


def _density(blend: Mapping[str, float], base: Medium) -> float:
    """Return the density of the product [g/mL]: its pigments are heavier than its base."""
    own = default_pigments().only(list(blend))
    return float(density_of(list(blend.values()), own.density_g_ml, base))


def _blend(values: Values, trial: "ShadeTrial", faults: Faults) -> dict[str, float]:
    own = {row["_row"]: row["pct"] for row in values.get("blend", []) if row.get("pct", "").strip()}
    if own:
        read = {name: faults.read(f"blend/{name}/pct", _percent, text, name) for name, text in own.items()}
        blend = {name: percent for name, percent in read.items() if percent}
        faults.read(f"blend/{next(iter(own))}/pct", check_loads, list(blend.values()), list(blend))
        return blend
    text = only(values, "swatch").get("load", "").strip()
    load = faults.read("swatch//load", _percent, text, "the load") if text else None
    return trial.blend(load) if load else {}


def _percent(text: str, what: str) -> float:
    percent = read_number(text, what, "%")
    if not 0 <= percent <= 100:
        raise LabError(f"{what}: {percent:g} % cannot be; it is between 0 and 100.")
    return percent


def _backing(name: str, lab: str, faults: Faults) -> dict[str, Any]:
    if name != OWN:
        return {"backing": name or "white card", "backing_lab": None}
    read = faults.read("more//own_lab", read_lab, lab, "your own backing")
    return {"backing": "my own", "backing_lab": None if read is None else tuple(read.tolist())}


def _film(
    said: str, typed: Mapping[str, str], density: float, step_g: float, faults: Faults
) -> dict[str, Any]:
    if said in FILMS:
        return {"film_um": FILMS[said], "film_sd": GUESSED_SD}
    if said == MEASURED:
        um = faults.read("film//film_um", read_number, typed.get("film_um", ""), "the film", "µm")
        if um is not None and not 0 < um <= 2000:
            faults.found["film//film_um"] = f"A film of {um:g} µm cannot be. A swipe on lips is 3 to 25 µm."
        return {"film_um": um, "film_sd": MEASURED_SD}
    if said == WEIGHED:
        return _weighed(typed, density, step_g, faults)
    return {"film_um": None}


def _weighed(typed: Mapping[str, str], density: float, step_g: float, faults: Faults) -> dict[str, Any]:
    before, after, area = (
        faults.read(f"film//{name}", read_number, typed.get(name, ""), what, unit)
        for name, what, unit in WEIGHINGS
    )
    swipes = faults.read("film//swipes", whole_number, typed.get("swipes", ""), "swipes", 1, 1000)
    if None in (before, after, area, swipes):
        return {"film_um": None}
    film = faults.read("film//after_g", weighed_film, before, after, swipes, area, density, step_g)
    return {"film_um": film.um, "film_sd": film.sd_um / film.um} if film else {"film_um": None}


def _colour(how: str, text: str, more: Mapping[str, str], faults: Faults) -> dict[str, Any]:
    if not text.strip() or not how:
        return {}
    if how == BY_SPECTRUM:
        spectrum = faults.read("swatch//colour", read_spectrum, text)
        return {} if spectrum is None else _spectrum(spectrum)
    lab = faults.read("swatch//colour", read_srgb if how == BY_SCREEN else read_lab, text)
    typed = more.get("sd", "").strip()
    usual = (SCREEN_SD,) * 3 if how == BY_SCREEN else None
    sd = faults.read("more//sd", _three_errors, typed) if typed else usual
    read_by = READ_AS.get(how) or more.get("read_by", "").strip() or "photo, 24-patch chart"
    return {
        "lab": None if lab is None else tuple(lab.tolist()),
        "lab_sd": sd,
        "reflectance": None,
        "read_by": read_by,
    }


def _spectrum(spectrum: Spectrum) -> dict[str, Any]:
    """Return the fields of a spectrum: what was read, without the ends that were filled in."""
    told = zip(WAVELENGTHS, spectrum.reflectance, spectrum.read, strict=True)
    by_nm = {f"{nm:.0f}": round(float(value), 6) for nm, value, read in told if read}
    return {"lab": None, "lab_sd": None, "reflectance": by_nm, "read_by": READ_AS[BY_SPECTRUM]}


def _three_errors(text: str) -> tuple[float, ...]:
    numbers = tuple(read_number(each, "the standard error") for each in text.replace(";", " ").split())
    if len(numbers) != 3 or min(numbers) <= 0:
        raise LabError(
            "The standard error: three numbers more than 0, for L*, a* and b*, such as 0.5 0.6 0.6."
        )
    return numbers
