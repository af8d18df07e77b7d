"""Names of people: kept in the book beside its entries, hashed nowhere, never handed on."""

from typing import TYPE_CHECKING

from labkit.book.canonical import plain
from labkit.book.entry import new_maker
from labkit.errors import LabError

if TYPE_CHECKING:
    from labkit.book.book import TrialBook


def person_id(book: "TrialBook", name: str) -> str:
    """Return the id that stands for a person in entries; a new one where nobody has that name yet.

    Raises
    ------
    LabError
        For a name that cannot be kept.
    """
    tidy = " ".join(str(plain(name, "name")).split())
    if not tidy:
        raise LabError("A person needs a name, or a letter that stands for it.")
    known = {called.casefold(): id for id, called in book.people().items()}
    id = known.get(tidy.casefold()) or new_maker()
    book.name_person(tidy, id)
    return id
