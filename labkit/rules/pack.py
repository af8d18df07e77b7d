"""What is on the pack beside the ingredients."""

import math
from dataclasses import dataclass
from datetime import date

from labkit.errors import LabError
from labkit.rules.keeping import months_after

G_PER_OZ = 28.349523125
"""The avoirdupois ounce, exactly (NIST Handbook 44, appendix C)."""
EU_SMALLEST_G = 5.0
LONG_LASTING_MONTHS = 30


@dataclass(frozen=True)
class Pack:
    """What the maker knows of a pack; what is not known is None or "", and the label says that it is missing.

    Attributes
    ----------
    net_g : float or None [g]
        Net content.
    batch : str
        Batch code.
    made : datetime.date or None
        When it was made.
    durable_months : int or None
        How long it stays as it should, unopened, by the maker's own stability test.
    opened_months : int or None
        How long it may be used once it is open.
    function : str
        What it is.
    responsible : str
        Name and address of who answers for it.
    cautions : tuple of str
        Precautions, as the safety assessment gives them.

    Raises
    ------
    LabError
        For a content or a time that cannot be.
    """

    net_g: float | None = None
    batch: str = ""
    made: date | None = None
    durable_months: int | None = None
    opened_months: int | None = None
    function: str = "Lip colour"
    responsible: str = ""
    cautions: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.net_g is not None and not (math.isfinite(self.net_g) and self.net_g > 0):
            raise LabError(f"net content: {self.net_g:g} g cannot be. Give grams above 0, such as 4.2.")
        for what, months in (("durable", self.durable_months), ("once open", self.opened_months)):
            if months is not None and not (months > 0 and months == int(months)):
                raise LabError(f"{what}: {months:g} months cannot be. Give whole months, such as 12.")

    def net_content(self, market: str) -> str:
        """Return the net content as a market writes it, never more than there is; "" where it is not known.

        Both ounces and grams in the United States (21 CFR 701.13), grams in Europe (Article 19(1)(b)).

        >>> Pack(net_g=4.25).net_content("US"), Pack(net_g=4.25).net_content("EU")
        ('Net Wt. 0.14 oz (4.2 g)', '4.2 g')
        """
        if self.net_g is None:
            return ""
        grams = f"{_down(self.net_g, 1 if self.net_g < 10 else 0):g} g"
        return f"Net Wt. {_down(self.net_g / G_PER_OZ, 2):g} oz ({grams})" if market == "US" else grams

    def durability(self) -> str:
        """Return what Article 19(1)(c) asks: up to 30 months a date, else the time after opening; or "".

        >>> from datetime import date
        >>> Pack(made=date(2026, 11, 27), durable_months=18).durability()
        'Best used before the end of 05/2028'
        >>> Pack(durable_months=36, opened_months=12).durability()
        '12M (in the open jar of Annex VII)'
        """
        if self.durable_months is None:
            return ""
        if self.durable_months > LONG_LASTING_MONTHS:
            return f"{self.opened_months}M (in the open jar of Annex VII)" if self.opened_months else ""
        if self.made is None:
            return ""
        return f"Best used before the end of {months_after(self.made, self.durable_months):%m/%Y}"


def _down(value: float, places: int) -> float:
    return math.floor(value * 10**places + 1e-9) / 10**places
