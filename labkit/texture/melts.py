"""A trial's stock melts: what of each goes into a pour, and what that pour then holds."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from labkit.errors import LabError, did_you_mean
from labkit.texture.record import HELD, PlannedPour, Pour, StockMelt
from labkit.texture.stock import MOST_STOCKS, Stock, stock_grams, stocks_region
from labkit.texture.weigh import Weighing

LEAST_G = 0.0005
"""Less than this beside the stocks is rounding."""
TAKEN_BACK = "of a stock that was taken back"


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
            grams = {part: total * shares[part] for part in parts}
            found.append(Stock(melt.name, grams, self._lines(melt)))
        return found

    def _lines(self, melt: StockMelt) -> dict[str, int]:
        """Return how many ingredients of each part were weighed."""
        weighed = [each.part for each in self.weighing.question.usual if melt.weighed_g.get(each.name)]
        return dict(Counter(weighed))

    def check(self, name: str, weighed_g: Mapping[str, float]) -> None:
        """Raise `LabError` for one stock too many, a name that is taken, an ingredient held or strange."""
        if len(self.melts) >= MOST_STOCKS:
            raise LabError(
                f"A trial pours from {MOST_STOCKS} stocks at most, and you have {len(self.melts)}. "
                "Take one back first, under “Your book”."
            )
        self._check_name(name)
        self.weighing.check(weighed_g)
        held = [each.name for each in self.weighing.question.usual if each.part == HELD]
        if inside := [each for each in held if weighed_g.get(each)]:
            raise LabError(
                f"“{inside[0]}” is held constant: weigh it into each pour, and keep stocks to what is varied."
            )

    def _check_name(self, name: str) -> None:
        if name.casefold() in [each.casefold() for each in self.names]:
            raise LabError(
                f"There is a stock “{name}” already. Give this one another name, or take that one back."
            )
        if name.casefold() in [each.name.casefold() for each in self.weighing.question.usual]:
            raise LabError(f"“{name}” is an ingredient. Give the stock another name, such as “soft”.")

    def planned(self, pour: PlannedPour) -> dict[str, float]:
        """Return the grams of each stock for a planned pour, by the stock's name.

        Raises
        ------
        LabError
            For fewer than two stocks, and for a composition that they cannot give: the nearest is named.
        """
        question = self.weighing.question
        return stock_grams(pour.shares, self.stocks, self.weighing.base_g, question.step_g).grams

    def nearest(self, pour: PlannedPour) -> tuple[dict[str, float], str]:
        """Return the grams of each stock that come nearest to a planned pour, and what is wrong with them.

        No grams where these stocks give none: of one alone, of some that are all alike or too small.
        """
        question, why = self.weighing.question, ""
        try:
            return self.planned(pour), why
        except LabError as error:
            why = str(error)
        try:
            near = stocks_region(self.stocks, question.parts).nearest(pour.shares)
            grams = stock_grams(dict(near), self.stocks, self.weighing.base_g, question.step_g).grams
        except LabError as error:
            return {}, " ".join(dict.fromkeys([why, str(error)]))
        return grams, f"{why} The grams here are for the nearest."

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
        """Return grams of stocks by name, from a record; of those that were taken back together."""
        found: dict[str, float] = {}
        for entry, grams in stocks_g.items():
            name = self.melts[entry].name if entry in self.melts else TAKEN_BACK
            found[name] = found.get(name, 0.0) + grams
        return found
