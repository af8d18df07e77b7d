"""The part of the panel that takes the readings of a logging thermometer from its file."""

import re
from datetime import datetime, timedelta
from typing import Any

import ipywidgets

from labkit.batch.desk import Desk
from labkit.batch.record import Readings
from labkit.batch.thermometer import ThermometerLog, TimeUnit, Unit, dated, read_thermometer
from labkit.batch.trial import BatchTrial
from labkit.ui.form import Field, Group, Press, Saved, Values
from labkit.ui.parts import sentences
from labkit.ui.reading import NO_PRESS, Faults, declared_fields, only, read_fields

INTRO = (
    "The CSV file as the thermometer writes it, whatever the order of its columns, decimal point or comma. "
    "Choose it or paste its lines, and say when the first reading was, unless the file's own clock is right."
)
AS_IT_SAYS = "as the file says"
UNITS: dict[str, Unit | None] = {AS_IT_SAYS: None, "°C": "°C", "°F": "°F"}
TIME_UNITS: dict[str, TimeUnit | None] = {AS_IT_SAYS: None, "seconds": "s", "minutes": "min", "hours": "h"}


class FilePart(ipywidgets.VBox):
    """A file button that fills the form below it, and the form."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.button = ipywidgets.FileUpload(accept=".csv,.txt,text/csv", description="Choose the file")
        self.button.observe(self._chosen, "value")
        self.form = desk.form("file", self._pressed, check_file, "Take these readings")
        super().__init__([ipywidgets.HTML(sentences([INTRO], first=False)), self.button, self.form])

    def offer(self, trial: BatchTrial) -> None:
        """Ask for a file of this day."""
        self.form.ask(file_groups(), trial.entry)

    def _chosen(self, change: dict[str, tuple[dict[str, Any], ...]]) -> None:
        if not change["new"]:
            return
        with self._desk.guard:
            file = change["new"][0]
            text = bytes(file["content"]).decode("utf-8-sig", errors="replace")
            self.form.fill({"lines": text, "file": str(file["name"])})

    def _pressed(self, press: Press) -> Saved:
        fields, log = read_file(press.values, press.at)
        self._desk.trial(press.key).log_file(log, id=press.id, **fields)
        said = f"Saved: {len(log.celsius)} readings over {log.minutes[-1] - log.minutes[0]:.0f} min."
        return self._desk.saved(" ".join((said, *log.notes)), press.key)


def file_groups() -> list[Group]:
    """Return what is asked of a thermometer's file."""
    fields = (
        Field("lines", "Its lines", "long", hint="time;temperature"),
        *declared_fields(Readings, ("began_at",)),
        Field("unit", "It shows", "choice", choices=tuple(UNITS), start=AS_IT_SAYS),
        Field("time_unit", "Its time counts", "choice", choices=tuple(TIME_UNITS), start=AS_IT_SAYS),
        Field("file", "File"),
    )
    return [Group("file", fields)]


def read_file(values: Values, pressed_at: str) -> tuple[dict[str, Any], ThermometerLog]:
    """Return the time of the first reading and the file's name, and the readings.

    Where no time is given, the clock in the file counts (of today, where it names no day); without one, its
    last reading is that of the press.

    Raises
    ------
    FormError
        With a message at each place that is missing or wrong.
    """
    faults = Faults()
    fields, log = _read(values, pressed_at, faults)
    if log is None:
        faults.found.setdefault("file//lines", "Choose the file, or paste its lines.")
    faults.stop()
    assert log is not None
    if not only(values, "file").get("began_at", ""):
        fields["began_at"] = _began(log, fields["began_at"])
    return fields, log


def check_file(values: Values) -> dict[str, str]:
    """Return what is wrong with what was typed so far."""
    faults = Faults()
    _read(values, NO_PRESS, faults)
    return faults.found


def _read(values: Values, at: str, faults: Faults) -> tuple[dict[str, Any], ThermometerLog | None]:
    fields = read_fields(Readings, values, ("file",), at, faults)
    asked = only(values, "file")
    text = asked.get("lines", "").strip()
    unit = asked.get("unit", "")
    log = faults.read("file//lines", _log, text, unit, asked.get("time_unit", "")) if text else None
    return {name: fields[name] for name in ("began_at", "file") if name in fields}, log


def _log(text: str, unit: str, time_unit: str) -> ThermometerLog:
    return read_thermometer(text, UNITS.get(unit), TIME_UNITS.get(time_unit))


def _began(log: ThermometerLog, pressed: datetime) -> datetime:
    """Return when the first reading was: as the file says, else counted back from the press."""
    day = dated(log.started)
    if day is not None:
        return day.astimezone()
    clock = re.match(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", log.started.strip())
    if clock is None:
        return pressed - timedelta(minutes=float(log.minutes[-1] - log.minutes[0]))
    hour, minute, second = (int(each or 0) for each in clock.groups())
    today = pressed.astimezone().replace(hour=hour, minute=minute, second=second, microsecond=0)
    return today if today <= pressed else today - timedelta(days=1)
