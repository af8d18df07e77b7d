"""Pigments corrected by a maker's own swatches, and what the swatches taught."""

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from labkit.shade.fit_swatches import Fit, fit
from labkit.shade.medium import USUAL, Medium
from labkit.shade.one_fact import check_they_differ
from labkit.shade.pigments import Pigments, default_pigments
from labkit.shade.swatch_optics import SwatchOptics
from labkit.shade.swatches import Swatches, read_swatches

if TYPE_CHECKING:
    import pandas as pd

OWN = "your swatches"
_BOTH = ("absorption", "scattering")
_ENOUGH = 1 / 3
"""Share of the variance of log k or log s that must be gone for a pigment's optics to rest on swatches."""
_KNOWN, _OPEN = 0.5, 0.25
"""Share of a standard deviation that is gone where something is known, and where it is not."""
_NINETY = 1.645


def calibrate(
    swatches: "pd.DataFrame", pigments: Pigments | None = None, medium: Medium | None = None
) -> Pigments:
    """Correct pigments by swatches.

    What is not known of the pigments is a set of smooth deviations of log k and log s (`Pigments.modes`):
    a level of each, which is the one number that a colour tells best, and its shape. A reading of L*a*b* can
    move them all a little, for three numbers also tell on which side an absorption edge lies; what it cannot
    tell stays as uncertain as it was. The answer is the most likely set of deviations and the uncertainty
    that is left around it (Gauss–Newton, Laplace), with each weighed film's error as one more unknown. One
    swatch helps; a swatch that lies far from all that the others and the start lead one to expect counts
    less (`labkit.shade.swatch_check`).

    Parameters
    ----------
    swatches
        A table as `labkit.shade.swatches.read_swatches` takes it.
    pigments
        What to start from: the defaults, or what earlier swatches gave. Give each swatch once.
    medium
        The base; the usual one where None.

    Returns
    -------
    Pigments
        All pigments of the start. The basis of a pigment is "your swatches" where they take away a third or
        more of the variance of its log k or of its log s.

    Raises
    ------
    LabError
        Where the table cannot be read, and where three or more swatches are one fact: of one blend, and by
        load, film and backing all alike, so that absorption and scattering cannot be told apart.

    >>> import pandas as pd
    >>> thick = {"red iron oxide": [10.0], "film_um": ["masstone"]}
    >>> calibrate(pd.DataFrame({**thick, "L": [38.0], "a": [30.0], "b": [22.0]})).names[0]
    'red iron oxide'
    """
    start = pigments or default_pigments()
    optics = swatch_optics(swatches, start, medium or USUAL)
    check_they_differ(optics)
    return corrected(start, optics.swatches, fit(optics))


def swatch_optics(swatches: "pd.DataFrame", start: Pigments, medium: Medium) -> SwatchOptics:
    """Return what the swatches in a table would read, by the pigments in them alone."""
    read = read_swatches(swatches, start)
    return SwatchOptics(read, start.only(read.pigments), medium)


def corrected(start: Pigments, swatches: Swatches, found: Fit) -> Pigments:
    """Return the pigments as a fit leaves them."""
    at = [start.names.index(name) for name in swatches.pigments]
    told = np.abs(start.modes[:, at]).max((1, 2, 3), initial=0) > 0
    modes = start.modes.copy()
    modes[told] = np.tensordot(np.linalg.cholesky(found.covariance).T, start.modes[told], 1)
    log_ks = start.log_ks + np.tensordot(found.mean, start.modes[told], 1)
    gone = (1 - _variance(modes) / _variance(start.modes)).max(1)
    basis = [OWN if share >= _ENOUGH else old for share, old in zip(gone, start.basis, strict=True)]
    return replace(start, log_ks=log_ks, modes=modes, basis=tuple(basis))


def what_was_learned(before: Pigments, after: Pigments, swatches: "pd.DataFrame") -> "pd.DataFrame":
    """Tell what swatches taught about each pigment in them.

    Parameters
    ----------
    before, after
        What `calibrate` started from and what it returned.
    swatches
        The table that it was given.

    Returns
    -------
    DataFrame
        A row for each pigment of the table: "pigment"; "swatches" that hold it; by how much absorption was
        multiplied, over all wavelengths, with its 90 % interval ("absorption", "absorption_low",
        "absorption_high"), and the share of its uncertainty (standard deviation) that is gone
        ("absorption_gone"); the same of scattering; "basis"; and a "sentence" that also says what is not
        learned, and which swatch would teach it.
    """
    import pandas as pd

    read = read_swatches(swatches, before)
    counts = (read.loads > 0).sum(0)
    return pd.DataFrame([
        _lesson(before, after, name, int(count)) for name, count in zip(read.pigments, counts, strict=True)
    ])  # fmt: skip


def _lesson(before: Pigments, after: Pigments, name: str, count: int) -> dict[str, Any]:
    at = before.names.index(name)
    row: dict[str, Any] = {"pigment": name, "swatches": count}
    moved = (after.log_ks[at] - before.log_ks[at]).mean(1)
    spread = np.sqrt((after.modes[:, at].mean(2) ** 2).sum(0))
    gone = 1 - np.sqrt(_variance(after.modes)[at] / _variance(before.modes)[at])
    for i, what in enumerate(_BOTH):
        limits = np.exp(moved[i] + np.array([0, -1, 1]) * _NINETY * spread[i])
        row[what], row[f"{what}_low"], row[f"{what}_high"] = limits.tolist()
        row[f"{what}_gone"] = float(gone[i])
    row["basis"] = after.basis[at]
    row["sentence"] = _sentence(row, _not_learned(before.modes[:, at], after.modes[:, at], count))
    return row


def _variance(modes: np.ndarray) -> np.ndarray:
    """Return the variances of each pigment's log k and log s, over all wavelengths, shape (p, 2)."""
    return np.maximum((modes**2).sum(0).mean(2), 1e-300)


def _sentence(row: dict[str, Any], missing: str) -> str:
    told = ", ".join(
        f"{what} × {row[what]:.2f} (90 %: {row[f'{what}_low']:.2f} to {row[f'{what}_high']:.2f}; "
        f"{row[f'{what}_gone']:.0%} of its uncertainty is gone)"
        for what in _BOTH
    )
    return f"{row['pigment']}: {told}. {missing}".strip()


def _not_learned(before: np.ndarray, after: np.ndarray, count: int) -> str:
    """Return what swatches leave open of one pigment, from its modes of shape (m, 2, 36), and the cure."""
    if not count:
        return "No swatch holds it."
    absorption, scattering, ratio = 1 - _level_sds(after) / _level_sds(before)
    either = max(absorption, scattering)
    if max(either, ratio) < _OPEN:
        return (
            "The swatches say little of it: log a thick film of it alone, and a thin one over a black card."
        )
    if ratio >= _KNOWN and either < _KNOWN:
        return (
            "Absorption and scattering are known against one another only, neither alone: add a film so thin "
            "that its backing shows, over a black card or a white card."
        )
    return ""


def _level_sds(modes: np.ndarray) -> np.ndarray:
    """Return the standard deviations, over all wavelengths, of log k, of log s and of their difference."""
    k, s = modes.mean(2).T
    return np.maximum(np.linalg.norm(np.stack([k, s, k - s]), axis=1), 1e-150)
