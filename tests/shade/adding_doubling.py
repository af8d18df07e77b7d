"""The reading of a film over a backing by adding–doubling (`iadpython`), which follows all directions."""

from functools import cache

import iadpython as iad
import numpy as np
from iadpython.combine import _add_boundary_config_b, add_layers_basic

from labkit.shade.film_colour import inside
from labkit.shade.medium import USUAL


def read_film(K, S, film_um, backing, g=0.0, medium=USUAL, quad_pts=4):
    """Return the reflectance, specular excluded, lit along the normal and seen from everywhere, shape (36,).

    K = 2 μa and S = ¾ μs(1 − g): the usual convention between two fluxes and transport. The backing is
    Lambertian; its reflectance in air is turned into that in the base by Saunderson's correction.
    """
    absorbed, scattered = K / 2, S * 4 / 3 / (1 - g)
    thickness = (absorbed + scattered) * min(film_um, 1e4)
    albedo = scattered / (absorbed + scattered)
    below = inside(backing, medium)
    return np.array(
        [_read(*each, g, medium.index, quad_pts) for each in zip(albedo, thickness, below, strict=True)]
    )


def _read(albedo, thickness, below, g, index, quad_pts):
    film = _film(g, index, quad_pts)
    film.a, film.b = albedo, thickness
    R, T = iad.simple_layer_matrices(film)
    nothing = np.zeros_like(R)
    R, _ = add_layers_basic(film, np.full_like(R, below), nothing, R, R, T, T)
    R, _ = _add_boundary_config_b(film, R, nothing, *iad.start.boundary_layer(film, top=True))
    seen = film.nu > film.nu_c()
    return film.twonuw[seen] @ R[seen, -1] - ((index - 1) / (index + 1)) ** 2


@cache
def _film(g, index, quad_pts):
    """Return a film whose directions are already chosen: that takes longer than all the rest."""
    return iad.Sample(g=g, n=index, n_above=index, quad_pts=quad_pts)
