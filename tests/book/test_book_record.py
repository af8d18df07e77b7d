"""What the records declare, and what is wrong in the maker's words."""

import subprocess
import sys
from datetime import datetime
from typing import Annotated, Literal

import pytest
from pydantic import Field

import labkit.book
from labkit.book import Record, RecordError, declarations, noted, record_type
from labkit.book.record import RESERVED, Withdrawal
from labkit.errors import LabError


class Everything(Record):
    """One field of each sort."""

    kind = "attic.everything"
    hours: float = noted("Hours since the pour", "h", "Stamped by itself.", ge=0, lt=1000)
    above: float = noted("Above", gt=1, default=2)
    step: float = noted("Step", "g", multiple_of=0.5, default=0.5)
    pieces: int = noted("Pieces", ge=1, default=1)
    word: Literal["soft", "hard"] = noted("Word", default="soft")
    name: str = noted("Name", min_length=1, max_length=5, default="x")
    code: str = noted("Code", min_length=2, pattern="^[a-z]+$", default="xx")
    cold: bool = noted("In the cold", default=False)
    when: datetime | None = noted("When", default=None)
    words: list[str] = noted("Words", default_factory=list)
    weighed_g: dict[str, Annotated[float, Field(ge=0)]] = noted("Weighed", "g", default_factory=dict)
    plain: float | None = None


GOOD = {"hours": 2}


@pytest.mark.parametrize(
    ("path", "value", "message"),
    [
        ("hours", -1, "Hours since the pour: must be at least 0 h; found -1"),
        ("hours", 1000.0, "Hours since the pour: must be less than 1000 h; found 1000"),
        ("hours", "2,5", "Hours since the pour: must be a number; found “2,5”"),
        ("hours", None, "Hours since the pour: must be a number; found nothing"),
        ("hours", float("nan"), "Hours since the pour: must be a number; found nan"),
        ("above", 1, "Above: must be more than 1; found 1"),
        ("step", 0.7, "Step: must be a multiple of 0.5 g; found 0.7"),
        ("pieces", 1.5, "Pieces: must be a whole number; found 1.5"),
        ("word", "sofft", "Word: must be 'soft' or 'hard'; found “sofft”"),
        ("name", "", "Name: must not be empty"),
        ("name", "x" * 9, "Name: must have at most 5 characters; found 9"),
        ("name", 5, "Name: must be a text; found 5"),
        ("code", "x", "Code: must have at least 2 characters; found 1"),
        ("code", "<b>", "Code: is not written as expected; found “<b>”"),
        ("cold", "perhaps", "In the cold: must be yes or no; found “perhaps”"),
        ("when", "later", "When: must be a date and time; found “later”"),
        ("words", "soft", "Words: must be a list; found “soft”"),
        ("weighed_g", 3, "Weighed: must be a table of names and values; found 3"),
        ("hour", 2, "“hour” is not logged here. Did you mean “hours”?"),
    ],
)
def test_messages(path, value, message):
    with pytest.raises(RecordError) as caught:
        Everything.of({**GOOD, path: value})
    assert caught.value.fields == {path: message}
    assert str(caught.value) == message


def test_message_inside_a_mapping_names_the_part():
    with pytest.raises(RecordError) as caught:
        Everything.of({**GOOD, "weighed_g": {"wax": -3.5}})
    assert caught.value.fields == {"weighed_g.wax": "Weighed, wax: must be at least 0 g; found -3.5"}


def test_all_that_is_wrong_is_told_at_once():
    with pytest.raises(RecordError) as caught:
        Everything.of({"pieces": 0, "cold": "perhaps"})
    assert caught.value.fields["hours"] == "Hours since the pour: is missing; fill it in"
    assert list(caught.value.fields) == ["hours", "pieces", "cold"]
    assert len(str(caught.value).splitlines()) == 3


def test_own_check_of_a_record_speaks_for_itself(kiln):
    class Checked(kiln):
        kind = "kiln.checked"

        def model_post_init(self, context):
            if self.hottest_c > 100:
                raise ValueError("The kiln only reaches 100 °C.")

    with pytest.raises(RecordError, match=r"^The kiln only reaches 100 °C\.$"):
        Checked.of({"hottest_c": 120})


def test_declarations_are_read_back():
    fields = declarations(Everything)
    assert list(fields) == list(Everything.model_fields)
    hours = fields["hours"]
    assert (hours.label, hours.unit, hours.hint) == ("Hours since the pour", "h", "Stamped by itself.")
    assert (hours.type, hours.many, hours.required, hours.limits) == (
        float,
        "one",
        True,
        {"ge": 0, "lt": 1000},
    )
    assert fields["word"].choices == ("soft", "hard")
    assert fields["word"].default == "soft"
    assert fields["when"].type is datetime
    assert not fields["when"].required
    assert (fields["weighed_g"].many, fields["weighed_g"].type) == ("mapping", float)
    assert fields["weighed_g"].limits == {"ge": 0}
    assert fields["weighed_g"].default == {}
    assert (fields["words"].many, fields["words"].type, fields["words"].default) == ("list", str, [])
    assert fields["code"].limits == {"min_length": 2, "pattern": "^[a-z]+$"}
    assert fields["plain"].label == "Plain"
    assert fields["plain"].type is float


@pytest.mark.parametrize("name", RESERVED)
def test_a_field_cannot_be_called_like_a_column_of_every_frame(name):
    with pytest.raises(TypeError, match=f"“{name}” already"):
        type("Bad", (Record,), {"__annotations__": {name: str}, "__module__": __name__})


def test_records_are_found_by_their_kind(kiln):
    assert record_type("kiln.firing") is kiln
    assert record_type("book.withdrawal") is Withdrawal
    for unknown in ("kiln.glaze", "attic.box", "book", "Book.withdrawal", "os.path", "book.record.x", "..x"):
        assert record_type(unknown) is None


def test_a_room_that_is_broken_is_not_passed_over(monkeypatch, tmp_path):
    """A room whose record needs a missing package must not look like an unknown kind."""
    (tmp_path / "shed").mkdir()
    (tmp_path / "shed" / "__init__.py").write_text("")
    (tmp_path / "shed" / "record.py").write_text("import a_package_that_is_not_there")
    monkeypatch.setattr("labkit.__path__", [*sys.modules["labkit"].__path__, str(tmp_path)])
    with pytest.raises(ModuleNotFoundError, match="a_package_that_is_not_there"):
        record_type("shed.tool")
    for name in ("labkit.shed", "labkit.shed.record"):
        sys.modules.pop(name, None)


def test_record_of_another_kind(kiln):
    with pytest.raises(LabError, match=r"A attic\.everything was given where a kiln\.firing is kept"):
        kiln.of(Everything(hours=1))


def test_record_cannot_be_changed():
    with pytest.raises(ValueError, match="frozen"):
        Everything(hours=1).hours = 2


@pytest.mark.parametrize("module", ["labkit.book", "labkit.book.record", "labkit.book.entry"])
def test_declaring_loads_no_database_and_no_table(module):
    heavy = ("sqlalchemy", "pandas", "numpy", "PIL")
    code = f"import sys, {module}; print([name for name in {heavy} if name in sys.modules])"
    assert subprocess.check_output([sys.executable, "-c", code], text=True).strip() == "[]"


def test_every_listed_name_is_there():
    for name in labkit.book.__all__:
        assert getattr(labkit.book, name).__name__ == name
    assert dir(labkit.book) == labkit.book.__all__
    with pytest.raises(AttributeError, match="no attribute 'Nothing'"):
        labkit.book.Nothing  # noqa: B018
