"""Side rules such as "wax <= 0.5*butter", read into numbers."""

import ast
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from labkit.errors import LabError, did_you_mean

Floats = NDArray[np.float64]

_LONGEST = 400  # characters
_DECIMAL_COMMA = re.compile(r"\d,\d")
_QUOTED = re.compile(r"`([^`]*)`")
_LONE_EQUALS = re.compile(r"(?<![<>=!])=(?!=)")
_TYPED = str.maketrans({"≤": "<=", "≥": ">=", "\u2212": "-", "·": "*", "×": "*"})
_SWAPPED = re.compile(r"=\s*[<>]")


class RegionError(LabError):
    """Bounds or rules that cannot be; says which, so that a form can mark their cells.

    Attributes
    ----------
    parts : tuple of str
        The parts whose low or high is meant; none where it is about a rule alone.
    rule : str or None
        The rule as it was given, or the first of several.

    Examples
    --------
    >>> RegionError("wax: its low is above its high.", parts=("wax",)).parts
    ('wax',)
    """

    def __init__(self, message: str, *, parts: tuple[str, ...] = (), rule: str | None = None) -> None:
        super().__init__(message)
        self.parts, self.rule = parts, rule


@dataclass(frozen=True)
class Rule:
    """One linear side rule: the sum of ``coefficients * shares`` is at most ``limit``."""

    text: str
    coefficients: tuple[float, ...]
    limit: float
    given: str = field(default="", compare=False, repr=False)
    """The line that it was read from, a whole chain."""

    def eased(self, by: float) -> str:
        """Return the rule as it reads when it allows `by` more.

        >>> Rule("wax >= 0.3", (-1.0,), -0.3).eased(0.1)
        'wax >= 0.3 - 0.1'
        """
        return f"{self.text} {'-' if '>' in self.text else '+'} {by:g}"


def parse_rule(text: str, parts: Sequence[str]) -> tuple[Rule, ...]:
    """Read one rule; a chain such as "0.1 <= wax <= 0.3" gives one `Rule` a link.

    A rule is linear in the parts: + and -, times or divided by a number, brackets,
    numbers on both sides, <= or >=. A name with spaces stands in backticks.

    Raises
    ------
    RegionError
        Where a name is no part, the rule is not linear, has another sign than <=
        or >=, or cannot be read: says what to write instead.

    >>> parse_rule("`shea butter` >= 2*wax - 0.1", ["shea butter", "wax"])
    (Rule(text='`shea butter` >= 2*wax - 0.1', coefficients=(-1.0, 2.0), limit=0.1),)
    >>> parse_rule("wax/oil <= 0.3", ["oil", "wax"])
    Traceback (most recent call last):
    labkit.texture.rules.RegionError: The rule “wax/oil <= 0.3” divides by a part, and rules must be linear. \
Write “wax <= 0.3 * oil”.
    """
    reader = _Reader(text, tuple(parts))
    tree = reader.tree()
    links = list(pairwise([tree.left, *tree.comparators]))
    rules = []
    for (left, right), sign in zip(links, tree.ops, strict=True):
        link = f"{reader.show(left)} {_SIGNS[type(sign)]} {reader.show(right)}"
        shown = text.strip() if len(links) == 1 else link
        rules.append(reader.rule(left, sign, right, shown))
    return tuple(rules)


_SIGNS: dict[type[ast.cmpop], str] = {ast.LtE: "<=", ast.GtE: ">="}


@dataclass
class _Reader:
    """One rule on its way from text to numbers: the last number of a form is its constant."""

    text: str
    parts: tuple[str, ...]
    stand_ins: dict[str, str] = field(default_factory=dict)

    def error(self, what: str) -> RegionError:
        return RegionError(f"The rule “{self.text.strip()}” {what}", rule=self.text)

    def tree(self) -> ast.Compare:
        plain = self._replace_quoted(self._first_look())
        try:
            tree = ast.parse(plain.strip(), mode="eval").body
        except (SyntaxError, ValueError, RecursionError, MemoryError):
            raise self.error(f"cannot be read. {self._spelling_hint()}") from None
        if not isinstance(tree, ast.Compare):
            raise self.error('compares nothing. Write it with <= or >=, such as "wax <= 0.3".')
        for sign in tree.ops:
            self._check_sign(sign)
        return tree

    def _first_look(self) -> str:
        if len(self.text) > _LONGEST:
            said = f"The rule “{self.text[:40]}…” has more than {_LONGEST} characters. Split it."
            raise RegionError(said, rule=self.text)
        text = self._typed_signs()
        bare = _QUOTED.sub("x", text)
        if "%" in bare:
            raise self.error("has a % sign. Shares run from 0 to 1: for 20 % write 0.2.")
        if _DECIMAL_COMMA.search(bare):
            raise self.error("has a comma in a number. Write numbers with a point, such as 0.5.")
        if _SWAPPED.search(bare):
            raise self.error("has its sign turned round. Write <= or >=.")
        if _LONE_EQUALS.search(bare):
            raise self.error(_NO_EQUALS)
        return text

    def _typed_signs(self) -> str:
        """Return the rule with the signs that Python knows, names in backticks untouched."""
        pieces = self.text.split("`")
        pieces[::2] = [piece.translate(_TYPED) for piece in pieces[::2]]
        return "`".join(pieces)

    def _replace_quoted(self, text: str) -> str:
        stem = "q"
        while stem in text or any(stem in part for part in self.parts):
            stem += "q"

        def stand_in(match: re.Match[str]) -> str:
            name = self._known(match[1])
            key = f"{stem}{self.parts.index(name)}"
            self.stand_ins[key] = name
            return f" {key} "

        return _QUOTED.sub(stand_in, text)

    def _known(self, name: str) -> str:
        if name in self.stand_ins:
            return self.stand_ins[name]
        for part in self.parts:
            if name == part or name == unicodedata.normalize("NFKC", part):
                return part
        raise self.error(f"names “{name}”, which is not one of the parts. {did_you_mean(name, self.parts)}")

    def _spelling_hint(self) -> str:
        bare = _QUOTED.sub("x", self.text)
        for part in sorted(self.parts, key=len, reverse=True):
            if not part.isidentifier() and part in bare:
                return f"Put names with spaces or signs between backticks: `{part}`."
        return 'Write it like "wax <= 0.5*butter" or "0.8*butter + wax >= 0.4".'

    def _check_sign(self, sign: ast.cmpop) -> None:
        if isinstance(sign, ast.Lt | ast.Gt):
            asked, right = ("<", "<=") if isinstance(sign, ast.Lt) else (">", ">=")
            raise self.error(f"has “{asked}”. Write “{right}”: on a scale the two are the same.")
        if isinstance(sign, ast.Eq):
            raise self.error(_NO_EQUALS)
        if type(sign) not in _SIGNS:
            raise self.error("compares with something else than <= or >=.")

    def show(self, node: ast.expr) -> str:
        """Return a piece of the rule as it was typed, names in their backticks."""
        shown = ast.unparse(node)
        for key, name in self.stand_ins.items():
            shown = re.sub(rf"\b{key}\b", lambda _, name=name: f"`{name}`", shown)  # type: ignore[misc]
        return shown

    def rule(self, left: ast.expr, sign: ast.cmpop, right: ast.expr, shown: str) -> Rule:
        self._refuse_ratio(left, sign, right)
        form = self.form(left) - self.form(right)
        if isinstance(sign, ast.GtE):
            form = -form
        coefficients, limit = form[:-1], -float(form[-1]) + 0.0
        if not np.isfinite(form).all():
            raise self.error("has a number that is too large.")
        if not coefficients.any():
            raise self.error("says nothing about any part: the parts in it cancel, or there is none.")
        self._ask_percent(coefficients, limit)
        return Rule(shown, tuple(float(each) + 0.0 for each in coefficients), limit, self.text)

    def _refuse_ratio(self, left: ast.expr, sign: ast.cmpop, right: ast.expr) -> None:
        flipped = ast.GtE() if isinstance(sign, ast.LtE) else ast.LtE()
        for ratio, number, way in ((left, right, sign), (right, left, flipped)):
            if not (isinstance(ratio, ast.BinOp) and isinstance(ratio.op, ast.Div)):
                continue
            if self.form(ratio.right)[:-1].any() and not self.form(number)[:-1].any():
                mended = ast.BinOp(number, ast.Mult(), ratio.right)
                line = f"{self.show(ratio.left)} {_SIGNS[type(way)]} {self.show(mended)}"
                raise self.error(f"divides by a part, and rules must be linear. Write “{line}”.")

    def _ask_percent(self, coefficients: Floats, limit: float) -> None:
        always, never = coefficients.max() <= limit, coefficients.min() > limit
        if abs(limit) > max(1.0, 1.2 * np.abs(coefficients).max()) and (always or never):
            raise self.error(
                f"compares shares, which run from 0 to 1, with {abs(limit):g}. "
                f"If {abs(limit):g} % is meant, write {abs(limit) / 100:g}."
            )

    def form(self, node: ast.expr) -> Floats:
        """Return the coefficients and the constant of a linear expression."""
        match node:
            case ast.Constant(value=bool() | str() | bytes() | complex() | None):
                raise self.error("has something that is neither part nor number. Names need no quotes.")
            case ast.Constant(value=int() | float() as value):
                return self._constant(value)
            case ast.Name(id=name):
                return np.eye(len(self.parts) + 1)[self.parts.index(self._known(name))]
            case ast.UnaryOp(op=ast.USub(), operand=inner):
                return -self.form(inner)
            case ast.UnaryOp(op=ast.UAdd(), operand=inner):
                return self.form(inner)
            case ast.BinOp(left=left, op=op, right=right):
                return self._combine(self.form(left), op, self.form(right))
        raise self.error("may hold only parts, numbers, + - * / and brackets.")

    def _constant(self, value: float) -> Floats:
        try:
            return np.append(np.zeros(len(self.parts)), float(value))
        except OverflowError:
            raise self.error("has a number that is too large.") from None

    def _combine(self, left: Floats, op: ast.operator, right: Floats) -> Floats:
        with np.errstate(over="ignore", invalid="ignore"):
            match op:
                case ast.Add():
                    return left + right
                case ast.Sub():
                    return left - right
                case ast.Mult() if not right[:-1].any():
                    return left * right[-1]
                case ast.Mult() if not left[:-1].any():
                    return left[-1] * right
                case ast.Div() if not right[:-1].any():
                    return self._divide(left, float(right[-1]))
        if isinstance(op, ast.Mult):
            raise self.error("multiplies two parts, and rules must be linear: a part times a number.")
        if isinstance(op, ast.Div):
            raise self.error("divides by a part, and rules must be linear: multiply both sides by it.")
        raise self.error("may hold only parts, numbers, + - * / and brackets.")

    def _divide(self, form: Floats, number: float) -> Floats:
        if number == 0:
            raise self.error("divides by 0.")
        return form / number


_NO_EQUALS = "has “=”. Write <= or >=; to hold a part still, give it the same low and high."
