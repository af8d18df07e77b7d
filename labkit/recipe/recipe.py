"""A recipe: what goes in, in % of the finished product, whatever the size of the batch."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Any, Self, get_args

from labkit.errors import LabError, did_you_mean
from labkit.recipe.asked import read_above_0, read_band, read_count, read_name, read_process, read_real
from labkit.recipe.groups import BASE_GROUPS, Group, group_of, same_material

WHOLE = 0.005
"""Percents that miss 100 by no more than this are taken as whole: figures were rounded [%]."""
_PLACES = 9


@dataclass(frozen=True)
class Recipe:
    """A recipe, which never changes: a changed one is another, and says what it came from.

    Make it with `from_grams` or `from_percent`.

    Attributes
    ----------
    name : str
    weighed_g : mapping of str to float
        Grams by material, as given or scaled; their ratio is the recipe.
    process : mapping of str to float or str
        How it is made, such as {"pour_c": 68.0, "waiting_h": 24.0}; what is None is not said.
    groups : mapping of str to str
        "butter", "oil", "wax", "pigment" or "other", where the lab does not know it or is wrong.
    came_from : str
        `version` of the recipe that it was changed from; "" for a first one.

    Raises
    ------
    LabError
        For a name, grams, a figure of the process or a group that cannot be.
    """

    name: str
    weighed_g: Mapping[str, float]
    process: Mapping[str, float | str] = field(default_factory=dict)
    groups: Mapping[str, Group] = field(default_factory=dict)
    came_from: str = ""

    def __post_init__(self) -> None:
        process = {
            str(key): read_process(str(key), each) for key, each in self.process.items() if each is not None
        }
        self._keep("name", read_name(self.name, "A recipe"))
        self._keep("weighed_g", MappingProxyType(_read(self.weighed_g, "g")))
        self._keep("process", MappingProxyType(process))
        self._keep("groups", MappingProxyType(_read_groups(self.groups, self.weighed_g)))

    def _keep(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)

    def __hash__(self) -> int:
        return hash((self.name, self.version))

    def __reduce__(self) -> tuple[type["Recipe"], tuple[Any, ...]]:
        plain = (dict(each) for each in (self.weighed_g, self.process, self.groups))
        return type(self), (self.name, *plain, self.came_from)

    # ------------------------------------------------------------ making one

    @classmethod
    def from_grams(cls, name: str, grams: Mapping[str, Any], **more: Any) -> Self:
        """Return a recipe from grams by material: numbers, or as they are typed ("2,5 g").

        Raises
        ------
        LabError
            For no grams, a number that is none or is in another unit, or one material twice.

        Examples
        --------
        >>> Recipe.from_grams("base", {"castor oil": 30, "beeswax": "7,5 g"}).percent()
        {'castor oil': 80.0, 'beeswax': 20.0}
        """
        return cls(name, grams, **more)

    @classmethod
    def from_percent(
        cls, name: str, percent: Mapping[str, Any], *, rest: str = "", rescale: bool = False, **more: Any
    ) -> Self:
        """Return a recipe from % of the finished product.

        Parameters
        ----------
        rest : str, optional
            The material that takes what is missing to 100 %.
        rescale : bool
            Whether percents that add up to something else keep their ratio.

        Raises
        ------
        LabError
            As `from_grams`; and where they do not reach 100 % and nobody said what to do.

        Examples
        --------
        >>> Recipe.from_percent("base", {"castor oil": 0, "beeswax": 20}, rest="castor oil").grams(50)
        {'castor oil': 40.0, 'beeswax': 10.0}
        """
        read = _read(percent, "%", rest)
        if rest:
            read = _with_rest(read, rest)
        total = sum(read.values())
        if abs(total - 100.0) > WHOLE and not rescale:
            raise LabError(
                f"These make {total:.6g} %, not 100 %. Shall they be rescaled (rescale=True), or which line "
                f"is the rest (rest={next(iter(read))!r})?"
            )
        return cls(name, {each: 100.0 * part / total for each, part in read.items()}, **more)

    def changed(
        self,
        name: str = "",
        *,
        percent: Mapping[str, Any] | None = None,
        rest: str = "",
        rescale: bool = False,
        **more: Any,
    ) -> Self:
        """Return another recipe that came from this one.

        Parameters
        ----------
        percent : mapping of str to number, optional [% of the product]
            Lines that change or are new, the others as they are; 0 takes a line out.
        rest, rescale
            As in `from_percent`.
        **more
            Fields of the recipe: weighed_g (all of it), process, groups.

        Examples
        --------
        >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
        >>> base.changed("firmer", percent={"beeswax": 24}, rest="castor oil").percent()
        {'castor oil': 76.0, 'beeswax': 24.0}
        """
        if percent is not None:
            lines = _with_changes(self.percent(), percent)
            groups = {**self.groups, **more.pop("groups", {})}
            made = type(self).from_percent(
                name or self.name, lines, rest=rest, rescale=rescale,
                groups={each: group for each, group in groups.items() if each in lines},
            )  # fmt: skip
            more |= {"weighed_g": made.grams(self.total_g), "groups": made.groups}
        elif "weighed_g" in more:
            kept = {each: group for each, group in self.groups.items() if each in more["weighed_g"]}
            more = {"groups": kept, **more}
        return replace(self, name=name or self.name, came_from=self.version, **more)

    # ------------------------------------------------------------ reading it

    @property
    def total_g(self) -> float:
        """What its grams add up to."""
        return float(sum(self.weighed_g.values()))

    def percent(self) -> dict[str, float]:
        """Return % of the finished product by material, summing to 100."""
        total = self.total_g
        return {name: 100.0 * grams / total for name, grams in self.weighed_g.items()}

    def grams(self, batch_g: float | None = None) -> dict[str, float]:
        """Return grams by material for a batch; by default as they were given.

        Raises
        ------
        LabError
            For a batch that is not above 0 g.
        """
        batch = self.total_g if batch_g is None else read_above_0(batch_g, "the batch", "g")
        return {name: batch * grams / self.total_g for name, grams in self.weighed_g.items()}

    def scaled(
        self,
        batch_g: float | None = None,
        *,
        containers: int | None = None,
        fill_g: float | None = None,
        fill_ml: float | None = None,
        density_g_ml: float | None = None,
        loss: Any = 0.0,
    ) -> Self:
        """Return the same recipe for another batch: by mass, or by containers and what stays in the pan.

        Parameters
        ----------
        batch_g : float, optional [g]
        containers : int, optional
            How many to fill, of `fill_g` [g] each, or of `fill_ml` [mL] at `density_g_ml`.
        loss : float, or anything with share, low and high
            The share that ends in no container, 0 to below 1; see `labkit.recipe.to_make` for how sure it is.

        Examples
        --------
        >>> base = Recipe.from_percent("base", {"castor oil": 80, "beeswax": 20})
        >>> base.scaled(containers=20, fill_g=4.5, loss=0.1).total_g
        100.0
        """
        if (batch_g is None) == (containers is None):
            raise LabError("Scale by the grams of the batch, or by containers: give one of the two.")
        if containers is None:
            filled = read_above_0(batch_g, "the batch", "g")
        else:
            filled = filled_g(containers, fill_g, fill_ml, density_g_ml)
        return replace(self, weighed_g=self.grams(filled / (1.0 - read_band(loss).share)))

    def shares(self) -> dict[str, float]:
        """Return the mass fractions of butter, oil and wax among the three, summing to 1.

        Raises
        ------
        LabError
            For a material whose group is not known, or a recipe with none of the three.
        """
        found = dict.fromkeys(BASE_GROUPS, 0.0)
        for name, grams in self.weighed_g.items():
            group = self.group(name)
            if group in found:
                found[group] += grams
        total = sum(found.values())
        if not total > 0.0:
            raise LabError("There is no butter, oil or wax in this recipe.")
        return {group: grams / total for group, grams in found.items()}

    def group(self, name: str) -> Group:
        """Return what a material counts as; `LabError` where that is not known."""
        return self.groups.get(name) or group_of(name)

    def loads(self) -> dict[str, float]:
        """Return % of the finished product of each pigment."""
        return {name: each for name, each in self.percent().items() if self.group(name) == "pigment"}

    @property
    def version(self) -> str:
        """SHA-256 of what it is: its parts in %, its process and what it came from; not its name or size."""
        import rfc8785

        told: dict[str, Any] = {
            "percent": {name: round(each, _PLACES) for name, each in self.percent().items()},
            "process": dict(self.process),
            "came_from": self.came_from,
        }
        return hashlib.sha256(rfc8785.dumps(told)).hexdigest()


def _read(given: Mapping[str, Any], unit: str, may_be_nothing: str = "") -> dict[str, float]:
    what = "grams" if unit == "g" else "percents"
    if not isinstance(given, Mapping) or not given:
        raise LabError(f"Give {what} by material, such as {{'castor oil': 30, 'beeswax': 8}}.")
    read: dict[str, float] = {}
    for raw, value in given.items():
        name = read_name(raw, "A line")
        number = read_real(value, name, unit)
        if not number > 0.0 and not (
            number == 0.0 and may_be_nothing and same_material(name, may_be_nothing)
        ):
            raise LabError(f"{name}: {number:g} {unit} cannot be. Leave the line out.")
        if unit == "%" and number > 100.0:
            raise LabError(f"{name}: {number:g} % cannot be. If these are grams, use Recipe.from_grams.")
        if twin := next((each for each in read if same_material(each, name)), None):
            raise LabError(f"“{twin}” and “{name}” are one material: put them into one line.")
        read[name] = number
    return read


def _read_groups(groups: Mapping[str, Any], lines: Mapping[str, float]) -> dict[str, Group]:
    for name, group in groups.items():
        if name not in lines:
            raise LabError(f"In the groups: “{name}” is not in this recipe. {did_you_mean(name, lines)}")
        if group not in get_args(Group):
            raise LabError(f"{name}: “{group}” is no group. {did_you_mean(str(group), get_args(Group))}")
    return dict(groups)


def _with_rest(read: dict[str, float], rest: str) -> dict[str, float]:
    named = next((each for each in read if same_material(each, rest)), None)
    others = sum(each for name, each in read.items() if name != named)
    if others >= 100.0:
        raise LabError(f"The other lines make {others:.6g} % already: nothing is left for {rest}.")
    return {**read, named or rest: 100.0 - others}


def _with_changes(lines: dict[str, float], changes: Mapping[str, Any]) -> dict[str, float]:
    new = dict(lines)
    for name, value in changes.items():
        number = read_real(value, str(name), "%")
        line = next((each for each in new if same_material(each, name)), str(name).strip())
        new[line] = number
        if number == 0.0:
            del new[line]
    return new


def filled_g(containers: Any, fill_g: Any = None, fill_ml: Any = None, density_g_ml: Any = None) -> float:
    """Return what so many containers hold [g].

    >>> filled_g(10, fill_ml=5, density_g_ml=0.9)
    45.0
    """
    count = read_count(containers, "containers")
    if (fill_g is None) == (fill_ml is None):
        raise LabError("What goes into each: give grams (fill_g), or millilitres (fill_ml) and the density.")
    if fill_g is not None:
        return count * read_above_0(fill_g, "the fill", "g")
    if density_g_ml is None:
        raise LabError("A fill in mL needs the density of the product, in g/mL: weigh a full container once.")
    return count * read_above_0(fill_ml, "the fill", "mL") * read_above_0(density_g_ml, "the density", "g/mL")
