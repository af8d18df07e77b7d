"""Ids of a demo book's own days."""

from datetime import datetime
from uuid import UUID

import numpy as np


def id_at(when: datetime, rng: np.random.Generator) -> str:
    """Return a version 7 id (RFC 9562) of that time."""
    stamp = int(when.timestamp() * 1000).to_bytes(6, "big")
    tail = bytearray(rng.bytes(10))
    tail[0], tail[2] = 0x70 | tail[0] & 0x0F, 0x80 | tail[2] & 0x3F
    return str(UUID(bytes=stamp + bytes(tail)))
