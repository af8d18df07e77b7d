"""May this recipe be sold there? Every colourant of it, in every wanted market and use."""

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from labkit.errors import LabError
from labkit.materials import Colourant
from labkit.rules.asked import read_market, read_use
from labkit.rules.citations import rule_link
from labkit.rules.lines import Line, Named, read_lines
from labkit.rules.papers import papers_for
from labkit.rules.purity import in_words
from labkit.rules.ruling import Ruling, permitted

if TYPE_CHECKING:
    from pandas import DataFrame

    from labkit.materials.own_values import Own

COLUMNS = (
    "colourant", "ci", "percent", "market", "use", "verdict", "status", "limit_percent", "counted_percent",
    "why", "citation", "link", "recorded", "how", "impurities", "papers",
)  # fmt: skip


class Verdict(NamedTuple):
    """What a rule means for this recipe, and why.

    "allowed", "only if certified", "over the limit", "not allowed" or "unknown".
    """

    words: str
    why: str


def permit_recipe(
    recipe: Named,
    markets: str | Iterable[str] = ("US", "EU", "UK"),
    uses: str | Iterable[str] = "lips",
    own: "Own" = None,
) -> "DataFrame":
    """Return one row a colourant, market and use: what the rule says, and what it means at this share.

    A limit counts a dye together with its lakes, lakes by their weight, which is the safe side. What is
    not recorded is "unknown", never "allowed". Other ingredients are not judged. Information only, not
    legal advice: show `labkit.rules.CAUTION` beside it.

    Parameters
    ----------
    recipe
        Anything with `.name` and `.percent()`.
    markets, uses : str or iterable of str
        "US", "EU", "UK", "CA", "JP"; "lips", "eye area", "face"; or in plain words.
    own : mapping or DataFrame, optional
        The maker's own materials, with what a mixture is made of.

    Returns
    -------
    DataFrame
        colourant, ci, percent, market, use, verdict, status, limit_percent, counted_percent, why, citation,
        link, recorded, how, impurities (of the United States listing), papers; percents are mass % of the
        finished product.

    Raises
    ------
    LabError
        Where a line, a market or a use is not known; of a trade name the CI number is asked.

    Examples
    --------
    >>> from labkit.rules.lines import Plain
    >>> rose = Plain("rose", {"castor oil": 90, "ultramarine": 10})
    >>> permit_recipe(rose)[["market", "verdict"]].to_numpy().tolist()
    [['US', 'not allowed'], ['EU', 'allowed'], ['UK', 'allowed']]
    """
    import pandas as pd

    where = [read_market(each) for each in _each(markets, "markets")]
    what = [read_use(each) for each in _each(uses, "uses")]
    colours = _merged([each for each in read_lines(recipe, own) if each.material.colourant])
    rows = [
        _row(line, permitted(_colourant(line), market, use), colours)
        for line in colours
        for market in where
        for use in what
    ]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def verdict(ruling: Ruling, counted_percent: float) -> Verdict:
    """Return what a ruling means where so much of the finished product is that colour.

    >>> verdict(permitted("D&C Red No. 33", "US"), 3.5).words
    'over the limit'
    """
    limit = ruling.limit_percent
    if limit is not None and counted_percent > limit + 1e-9:
        words = "over the limit"
        return Verdict(words, f"This recipe has {counted_percent:.3g} %, and at most {limit:g} % may be.")
    meant = {"certified only": "only if certified", "limited": "allowed"}
    within = "" if limit is None else f"This recipe has {counted_percent:.3g} %, within {limit:g} %."
    return Verdict(meant.get(ruling.status, ruling.status), within)


def counted_percent(name: str, form_of: str, colours: Sequence[tuple[Colourant, float]]) -> float:
    """Return the share [mass %] of a colourant with its forms: a dye with its lakes."""
    parent = form_of or name
    return sum(percent for each, percent in colours if (each.form_of or each.name) == parent)


def _row(line: Line, ruling: Ruling, colours: Sequence[Line]) -> dict[str, object]:
    colourant = _colourant(line)
    shares = [(_colourant(each), each.percent) for each in colours]
    counted = counted_percent(colourant.name, colourant.form_of, shares)
    meant = verdict(ruling, counted)
    return {
        "colourant": colourant.name,
        "ci": colourant.ci,
        "percent": line.percent,
        "market": ruling.market,
        "use": ruling.use,
        "verdict": meant.words,
        "status": ruling.status,
        "limit_percent": ruling.limit_percent,
        "counted_percent": counted,
        "why": " ".join(each for each in (meant.why, ruling.why) if each),
        "citation": ruling.citation,
        "link": rule_link(ruling.citation),
        "recorded": ruling.recorded,
        "how": ruling.how,
        "impurities": in_words(colourant.name),
        "papers": papers_for(line.material, ruling.market),
    }


def _merged(lines: Iterable[Line]) -> list[Line]:
    """Return one line a material, the shares of the same material added."""
    found: dict[str, Line] = {}
    for each in lines:
        name = each.material.name
        before = found[name].percent if name in found else 0.0
        found[name] = found.get(name, each)._replace(percent=before + each.percent)
    return list(found.values())


def _colourant(line: Line) -> Colourant:
    assert line.material.colourant is not None
    return line.material.colourant


def _each(asked: str | Iterable[str], what: str) -> list[str]:
    found = [asked] if isinstance(asked, str) else list(dict.fromkeys(asked))
    if not found:
        raise LabError(f"{what}: give at least one.")
    return found
