"""An invented batch that tests share."""

from datetime import datetime, timedelta

from labkit.batch.record import Added
from labkit.batch.trial import start_batch
from labkit.times import now

RECIPE = [
    {"name": "castor oil", "grams": 55.0, "kind": "oil"},
    {"name": "shea butter", "grams": 22.0, "kind": "butter", "melts_c": (32.0, 45.0)},
    {"name": "beeswax", "grams": 15.0, "kind": "wax", "melts_c": (61.0, 66.0)},
    {"name": "red iron oxide", "grams": 6.0, "kind": "powder"},
    {"name": "titanium dioxide", "grams": 2.0, "kind": "powder"},
]


def ago(minutes: float) -> datetime:
    """Return a time so many minutes ago."""
    return now() - timedelta(minutes=minutes)


def weighed(book, **question):
    """Return a batch whose pot holds its recipe, weighed in an hour ago."""
    batch = start_batch(book, RECIPE, "Rosewood", **question)
    for at, line in enumerate(RECIPE):
        batch = batch.log(
            Added, ingredient=line["name"], grams=line["grams"], added_at=ago(60 - at), lot=f"lot {at}"
        )
    return batch
