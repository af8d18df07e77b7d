"""The invented recipe and day that tests of several rooms share."""

from datetime import UTC, datetime

USUAL = {"shea butter": 12.0, "cocoa butter": 6.0, "castor oil": 20.0, "beeswax": 6.0, "red iron oxide": 4.0}
MONDAY = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
