"""Cameras to test with: published sensitivities and lights, from colour-science's own data."""

import numpy as np

from labkit.colour.cie import colour_science, lab_of_xyz, xyz_of_lab

CHART_SPECTRA = "babel_average"  # reflectances of thirty 24-patch charts, averaged
LIGHTS = ("D65", "D50", "A", "FL2", "LED-B3")
OBSERVER = "CIE 1931 2 Degree Standard Observer"


def _on_steps(distribution):
    return distribution.copy().align(colour_science().SpectralShape(400, 700, 10)).values


def nanometres():
    return np.arange(400.0, 701.0, 10.0)


def chart_reflectance():
    return np.array([_on_steps(each) for each in colour_science().SDS_COLOURCHECKERS[CHART_SPECTRA].values()])


def lip_reflectance(rng, count):
    """Invented films: an edge between green and red, and a little blue; not taken from any product."""
    nm = nanometres()
    edge, width = rng.uniform(540, 620, (count, 1)), rng.uniform(8, 30, (count, 1))
    low = rng.uniform(0.03, 0.3, (count, 1))
    high = rng.uniform(np.maximum(low, 0.2), 0.8)
    blue = rng.uniform(0, 0.15, (count, 1)) * np.exp(-(((nm - 440) / 40) ** 2))
    return low + (high - low) / (1 + np.exp(-(nm - edge) / width)) + blue


def lab_in_daylight(reflectance):
    daylight, observer = (
        _on_steps(colour_science().SDS_ILLUMINANTS["D65"]),
        _on_steps(colour_science().MSDS_CMFS[OBSERVER]),
    )
    return lab_of_xyz(reflectance * daylight @ observer / (daylight @ observer[:, 1]))


def cameras():
    return [_on_steps(each) for each in colour_science().MSDS_CAMERA_SENSITIVITIES.values()]


def srgb_by(camera, light, reflectance, exposure=0.85, flare=0.0, tone=None):
    """White-balanced, brought near sRGB by a matrix made for daylight, exposed, toned, in 8 bits."""
    lit, daylight = (
        _on_steps(colour_science().SDS_ILLUMINANTS[light]),
        _on_steps(colour_science().SDS_ILLUMINANTS["D65"]),
    )

    def sensed(these, under):
        return these * under @ camera / (under @ camera)

    wanted = xyz_to_srgb(lab_in_daylight(chart_reflectance()))
    matrix = np.linalg.lstsq(sensed(chart_reflectance(), daylight), wanted, rcond=None)[0]
    linear = exposure * ((1 - flare) * sensed(reflectance, lit) @ matrix + flare)
    return np.rint((tone or encode)(np.clip(linear, 0, 1)) * 255).astype(np.uint8)


def xyz_to_srgb(lab):
    return xyz_of_lab(lab) @ np.asarray(colour_science().RGB_COLOURSPACES["sRGB"].matrix_XYZ_to_RGB).T


def encode(linear):
    return colour_science().cctf_encoding(linear, function="sRGB")


def soft_curve(linear):
    """The curve of sRGB with more contrast in the middle, as phones make it."""
    plain = encode(linear)
    return plain + 0.375 * plain * (1 - plain) * (plain - 0.35)


TONES = (encode, lambda linear: linear ** (1 / 2.0), lambda linear: linear ** (1 / 2.6), soft_curve)
