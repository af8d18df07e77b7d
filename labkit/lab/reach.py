"""From where a lab is reached: by default from this computer alone."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path


@dataclass(frozen=True)
class Reach:
    """From where a lab is reached.

    Attributes
    ----------
    host
        The address that it listens on, and no other.
    options
        What the server is told beside that.
    told
        What a person has to know, in sentences.
    certificate
        Of a lab that is reached over HTTPS.
    """

    host: str
    options: Mapping[str, object] = field(default_factory=dict)
    told: tuple[str, ...] = ()
    certificate: Path | None = None


HERE_ALONE = Reach("127.0.0.1")
