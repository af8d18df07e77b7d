"""A book on a server: who may read alone, reads; and is told so where they would write."""

from uuid import uuid4

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.engine import make_url

from labkit.book import TrialBook
from labkit.errors import LabError
from labkit.share import bundle, verify
from tests.book.conftest import POSTGRES

from .conftest import BOX, NAME, filled

pytestmark = pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL: set LABKIT_TEST_POSTGRES")


@pytest.fixture
def places():
    """The URL of one book for its owner, and for a role that may read alone."""
    engine, name = create_engine(POSTGRES, isolation_level="AUTOCOMMIT"), f"labkit_{uuid4().hex}"
    url = make_url(POSTGRES).update_query_dict({"options": f"-csearch_path={name}"})
    reader = url.set(username=name, password="invented")
    with engine.connect() as connection:
        for order in (f"CREATE SCHEMA {name}", f"CREATE ROLE {name} LOGIN PASSWORD 'invented'"):
            connection.execute(text(order))
    owned = url.render_as_string(hide_password=False)
    TrialBook(owned).close()
    with engine.connect() as connection:
        for order in (
            f"GRANT USAGE ON SCHEMA {name} TO {name}",
            f"GRANT SELECT ON ALL TABLES IN SCHEMA {name} TO {name}",
        ):
            connection.execute(text(order))
    yield owned, reader.render_as_string(hide_password=False)
    with engine.connect() as connection:
        connection.execute(text(f"DROP SCHEMA {name} CASCADE"))
        connection.execute(text(f"DROP OWNED BY {name}"))
        connection.execute(text(f"DROP ROLE {name}"))
    engine.dispose()


def test_a_reader_reads_and_hands_on_and_cannot_write(places, tmp_path):
    owned, read = places
    with TrialBook(owned, photos=tmp_path / "photos") as mine:
        filled(mine)
        with TrialBook(read, photos=tmp_path / "photos") as theirs:
            assert theirs.entries() == mine.entries()
            assert theirs.check() == []
            bundle(theirs, NAME, to=tmp_path / "x.zip")
            assert verify(tmp_path / "x.zip").ok
            for write in (
                lambda: theirs.append(BOX, {}, trial=NAME),
                lambda: theirs.keep_draft("note", {"word": "soft"}),
                lambda: theirs.name_person("Somebody"),
            ):
                with pytest.raises(
                    LabError, match=r"may read this book and not write in it: nothing was saved\."
                ):
                    write()
        assert len(mine.entries()) == 3
