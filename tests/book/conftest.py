"""Books in every place where a book may lie, and a room that only these tests have."""

import os
import sys
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from types import ModuleType
from typing import Literal
from uuid import uuid4

import pytest
from pydantic import Field
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from labkit.book import Record, TrialBook, noted

POSTGRES = os.environ.get("LABKIT_TEST_POSTGRES", "")


class Firing(Record):
    """One firing of an invented kiln."""

    kind = "kiln.firing"
    schema_version = 2

    hottest_c: float = noted("Hottest temperature", "°C", "As the cone showed it.", ge=0, le=150)
    weighed_g: dict[str, float] = noted("Weighed", "g", default_factory=dict)
    shelf: Literal["top", "middle", "bottom"] = noted("Shelf", default="top")
    pots: int | None = noted("Pots", default=None, ge=1)
    opened_at: datetime | None = noted("Opened", default=None)
    remark: str = noted("Remark", default="", max_length=200)

    @classmethod
    def lift(cls, payload: dict, schema: int) -> dict:
        """Schema 1 had Fahrenheit."""
        assert schema == 1
        fahrenheit = payload.pop("hottest_f")
        return {**payload, "hottest_c": (fahrenheit - 32) / 1.8}


class Weighing(Record):
    """A record with every clash that column names can have."""

    kind = "kiln.weighing"
    schema_version = 3

    clay_g: float = noted("Clay", "g")
    planned_g: dict[str, float] = noted("Planned", "g")
    weighed_g: dict[str, float] = Field(title="Weighed")


@pytest.fixture(autouse=True)
def kiln(monkeypatch: pytest.MonkeyPatch) -> type[Firing]:
    """A room called kiln, with two kinds of entry."""
    room, record = ModuleType("labkit.kiln"), ModuleType("labkit.kiln.record")
    record.Firing, record.Weighing = Firing, Weighing
    monkeypatch.setitem(sys.modules, "labkit.kiln", room)
    monkeypatch.setitem(sys.modules, "labkit.kiln.record", record)
    return Firing


@pytest.fixture(params=["sqlite", "postgresql"])
def new_place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], str]]:
    """A function that gives a new place for a book at each call."""
    if request.param == "sqlite":
        yield lambda: str(tmp_path / f"{uuid4().hex}.db")
        return
    if not POSTGRES:
        pytest.skip("no PostgreSQL: set LABKIT_TEST_POSTGRES to the URL of an empty one")
    yield from _schemas()


def _schemas() -> Iterator[Callable[[], str]]:
    engine, made = create_engine(POSTGRES, isolation_level="AUTOCOMMIT"), []

    def new() -> str:
        made.append(f"labkit_{uuid4().hex}")
        with engine.connect() as connection:
            connection.execute(text(f"CREATE SCHEMA {made[-1]}"))
        url = make_url(POSTGRES).update_query_dict({"options": f"-csearch_path={made[-1]}"})
        return url.render_as_string(hide_password=False)

    try:
        yield new
    finally:
        with engine.connect() as connection:
            for name in made:
                connection.execute(text(f"DROP SCHEMA {name} CASCADE"))
        engine.dispose()


@pytest.fixture
def new_book(new_place: Callable[[], str], tmp_path: Path) -> Iterator[Callable[[], TrialBook]]:
    """A function that opens a new, empty book at each call."""
    books: list[TrialBook] = []

    def new() -> TrialBook:
        books.append(TrialBook(new_place(), photos=tmp_path / "photos"))
        return books[-1]

    yield new
    for each in books:
        each.close()


@pytest.fixture
def book(new_book: Callable[[], TrialBook]) -> TrialBook:
    """A new, empty book."""
    return new_book()
