"""A trial's stock melts: what of each goes into a pour, and what that pour then holds."""

from collections.abc import Mapping
from dataclasses import dataclass

from labkit.errors import LabError, did_you_mean
from labkit.texture.record import HELD, PlannedPour, Pour, StockMelt
from labkit.texture.stock import Stock, stock_grams, stocks_region
from labkit.texture.weigh import Weighing

LEAST_G = 0.0005
"""Less than this beside the stocks is rounding."""


@dataclass(frozen=True)
class Melts:
    """Stock melts of one trial, by their entries in the book.

    Attributes
    ----------
    weighing : Weighing
    melts : mapping of entry to StockMelt
    """

    weighing: Weighing
    melts: Mapping[str, StockMelt]

    @property
    def names(self) -> list[str]:
        """What the stocks are called, the oldest first."""
        return [melt.name for melt in self.melts.values()]

    @property
    def stocks(self) -> list[Stock]:
        """The stocks as masses of the varied parts."""
        parts = self.weighing.question.parts
        found = []
        for melt in self.melts.values():
            total = sum(melt.weighed_g.values())
            shares = self.weighing.shares(melt.weighed_g)
            found.append(Stock(melt.name, {part: total * shares[part] for part in parts}))
        return found

    def check(self, name: str, weighed_g: Mapping[str, float]) -> None:
        """Raise `LabError` for a name that is taken, or an ingredient that is held constant or strange."""
        if name.casefold() in [each.casefold() for each in self.names]:
            raise LabError(f"There is a stock “{name}” already. Give this one another name.")
        self.weighing.check(weighed_g)
        held = [each.name for each in self.weighing.question.usual if each.part == HELD]
        if inside := [each for each in held if weighed_g.get(each)]:
            raise LabError(
                f"“{inside[0]}” is held constant: weigh it into each pour, and keep stocks to what is varied."
            )

    def planned(self, pour: PlannedPour) -> dict[str, float]:
        """Return the grams of each stock for a planned pour, by the stock's name.

        Raises
        ------
        LabError
            For fewer than two stocks, and for a composition that they cannot give: the nearest is named.
        """
        question = self.weighing.question
        return stock_grams(pour.shares, self.stocks, self.weighing.base_g, question.step_g).grams

    def nearest(self, pour: PlannedPour) -> dict[str, float]:
        """Return the grams of each stock that come nearest to a planned pour, by the stock's name."""
        question = self.weighing.question
        near = stocks_region(self.stocks, question.parts).nearest(pour.shares)
        return stock_grams(dict(near), self.stocks, self.weighing.base_g, question.step_g).grams

    def ingredients(self, stocks_g: Mapping[str, float], beside_g: Mapping[str, float]) -> dict[str, float]:
        """Return grams of each ingredient from grams of stocks, by name, and what was weighed beside them.

        Raises
        ------
        LabError
            For a stock that this trial does not have.
        """
        named = {melt.name: melt for melt in self.melts.values()}
        total = {each.name: float(beside_g.get(each.name, 0.0)) for each in self.weighing.question.usual}
        for name, grams in stocks_g.items():
            if name not in named:
                raise LabError(f"There is no stock “{name}”. {did_you_mean(name, named)}")
            melt = named[name].weighed_g
            for ingredient, weighed in melt.items():
                total[ingredient] += grams * weighed / sum(melt.values())
        return {name: round(grams, 6) for name, grams in total.items() if grams}

    def beside(self, pour: Pour) -> dict[str, float]:
        """Return grams of each ingredient that a pour holds beside what came from stocks."""
        from_stocks = self.ingredients(self.by_name(pour.stocks_g), {})
        left = {name: grams - from_stocks.get(name, 0.0) for name, grams in pour.weighed_g.items()}
        return {name: round(grams, 4) for name, grams in left.items() if grams > LEAST_G}

    def entries(self, stocks_g: Mapping[str, float]) -> dict[str, float]:
        """Return grams of stocks by their entries, for the record."""
        by_name = {melt.name: entry for entry, melt in self.melts.items()}
        return {by_name[name]: grams for name, grams in stocks_g.items() if grams}

    def by_name(self, stocks_g: Mapping[str, float]) -> dict[str, float]:
        """Return grams of stocks by name, from a record; a stock that was taken back keeps its entry."""
        return {
            self.melts[entry].name if entry in self.melts else entry: grams
            for entry, grams in stocks_g.items()
        }
