"""How far the colour of a batch strays, from few forecasts."""

from collections.abc import Sequence

import numpy as np

from labkit.recipe.handed import Colour, known_colour

_NODES = (0.001, 0.16, 0.84, 0.999)


class ColourNear:
    """The colour of blends near one blend: each pigment's own curve, and their changes added up.

    The curve of a pigment goes through five forecasts (piecewise cubic and monotone between them, Fritsch and
    Carlson 1980, SIAM Journal on Numerical Analysis 17, 238); what pigments do to one another beyond that is
    left out, which is of second order in the errors.

    Parameters
    ----------
    colour : callable
        As `labkit.recipe.weigh_out` takes it.
    names : sequence of str
        Of the pigments.
    loads : ndarray, shape (pigments,) [% of the product]
        Of the blend.
    drawn : ndarray, shape (draws, pigments)
        Loads that occur.
    """

    def __init__(self, colour: Colour, names: Sequence[str], loads: np.ndarray, drawn: np.ndarray) -> None:
        self._colour, self._names, self._loads = colour, list(names), loads
        self.lab = self._forecast(loads)
        self._nodes = [self._curve(at, drawn[:, at]) for at in range(len(self._names))]

    def _forecast(self, loads: np.ndarray) -> np.ndarray:
        return known_colour(self._colour, dict(zip(self._names, loads.tolist(), strict=True)))

    def _curve(self, at: int, drawn: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        nodes = np.unique([*np.quantile(drawn, _NODES), self._loads[at]])
        rows = [np.where(np.arange(len(self._loads)) == at, node, self._loads) for node in nodes]
        return nodes, np.array([self._forecast(row) for row in rows])

    def of(self, loads: np.ndarray) -> np.ndarray:
        """Return the CIELAB of blends, shapes (..., pigments) and (..., 3)."""
        from scipy.interpolate import PchipInterpolator

        total = np.broadcast_to(self.lab, (*loads.shape[:-1], 3)).copy()
        for at, (nodes, labs) in enumerate(self._nodes):
            if len(nodes) > 1:
                inside = np.clip(loads[..., at], nodes[0], nodes[-1])
                total += PchipInterpolator(nodes, labs)(inside) - self.lab
        return total
