"""Streak photos with a known truth: everything here is invented."""

import io
from dataclasses import dataclass, field

import numpy as np
from PIL import Image
from scipy import ndimage

from labkit.colour.cie import colour_science, delta_e00, lab_of_srgb

MELT = np.array([45.0, 42.0, 24.0])
PIGMENTS = {
    "yellow": np.array([66.0, 20.0, 62.0]),
    "blue": np.array([33.0, 20.0, -52.0]),
    "white": np.array([96.0, 0.0, 2.0]),
    "red": np.array([40.0, 62.0, 44.0]),
}
GREY = np.array([60.0, 0.0, 1.0])


def srgb_of(lab):
    """Return sRGB of CIELAB by colour-science alone."""
    colour = colour_science()
    return np.clip(colour.XYZ_to_sRGB(colour.Lab_to_XYZ(lab)), 0, 1)


@dataclass
class Streaks:
    """Parallel streaks of one pigment: at an angle, so wide, so far apart (px), and how far on the way."""

    pigment: str
    angle: float = 30.0
    wide: float = 16.0
    apart: float = 120.0
    amount: float = 0.35
    offset: float = 0.0


@dataclass
class Scene:
    """A photo and the truth about it."""

    size: tuple[int, int] = (600, 800)
    streaks: list[Streaks] = field(default_factory=list)
    gradient: float = 0.0  # of the light, from one side to the other
    tilt: float = 25.0
    ridges: float = 0.0
    ridge_px: float = 10.0
    glare: int = 0
    noise: float = 0.0  # levels of 255
    blur: float = 0.8
    pan: bool = False
    card: bool = False
    light: tuple[float, float, float] = (1.0, 1.0, 1.0)
    seed: int = 0
    melt: np.ndarray = field(default_factory=MELT.copy)

    def grid(self):
        high, wide = self.size
        return np.mgrid[0:high, 0:wide].astype(float)

    def bands(self, each):
        """Whether a point is in a streak; the angle is counter-clockwise as seen, rows go down."""
        y, x = self.grid()
        turn = np.radians(each.angle)
        across = x * np.sin(turn) + y * np.cos(turn) + each.offset
        return np.mod(across, each.apart) < each.wide

    def lab(self):
        lab = np.broadcast_to(self.melt, (*self.size, 3)).copy()
        for each in self.streaks:
            inside = self.bands(each)
            lab[inside] = self.melt + each.amount * (PIGMENTS[each.pigment] - self.melt)
        return lab

    def pan_mask(self):
        y, x = self.grid()
        high, wide = self.size
        return np.hypot(y - high / 2, x - wide * 0.46) < 0.42 * high

    def card_mask(self):
        y, x = self.grid()
        return (x > 0.86 * self.size[1]) & (y < 0.3 * self.size[0])

    def area(self):
        return self.pan_mask() if self.pan else np.ones(self.size, bool)

    def share_over(self, limit, found=None):
        """The true share that is off the melt by more than a limit: of the pan, or of what was seen."""
        area = self.area() if found is None else self.looked_at(found)
        found = 0.0
        taken = np.zeros(self.size, bool)
        for each in reversed(self.streaks):
            inside = self.bands(each) & ~taken & area
            taken |= inside
            off = delta_e00(self.melt, self.melt + each.amount * (PIGMENTS[each.pigment] - self.melt))
            found += inside.sum() * float(off > limit)
        return found / area.sum()

    def looked_at(self, found):
        seen, factor = found.area & ~found.glare, found.picture.full_size[0] / found.area.shape[1]
        y, x = (each.astype(int) for each in self.grid())
        factor *= self.size[1] / found.picture.full_size[0]
        row, column = (y / factor).astype(int), (x / factor).astype(int)
        return seen[np.minimum(row, seen.shape[0] - 1), np.minimum(column, seen.shape[1] - 1)]

    def srgb(self):
        rng = np.random.default_rng(self.seed)
        colour = colour_science()
        lab = self.lab()
        unique, back = np.unique(lab.reshape(-1, 3), axis=0, return_inverse=True)
        linear = colour.cctf_decoding(srgb_of(unique), function="sRGB")[back.ravel()].reshape(lab.shape)
        if self.pan:
            linear[~self.pan_mask()] = colour.cctf_decoding(srgb_of(GREY), function="sRGB")
        if self.card:
            linear[self.card_mask()] = 0.9
        y, x = self.grid()
        turn = np.radians(self.tilt)
        along = (x * np.cos(turn) + y * np.sin(turn)) / max(self.size) - 0.5
        linear *= (1 + self.gradient * along)[..., None]
        if self.ridges:
            lit = 1 + self.ridges * np.sin(2 * np.pi * (y + 0.2 * x) / self.ridge_px)
            linear *= np.where(self.card_mask() if self.card else False, 1.0, lit)[..., None]
        for spot in range(self.glare):
            cy, cx = (0.3 + 0.35 * spot) * self.size[0], (0.35 + 0.2 * spot) * self.size[1]
            near = np.exp(-(((y - cy) / 20) ** 2 + ((x - cx) / 40) ** 2))
            linear += 1.6 * near[..., None]
        linear *= np.array(self.light)
        linear = ndimage.gaussian_filter(linear, (self.blur, self.blur, 0)) if self.blur else linear
        srgb = colour.cctf_encoding(np.clip(linear, 0, 1), function="sRGB")
        return np.clip(srgb + rng.normal(0, self.noise / 255, srgb.shape), 0, 1)

    def levels(self):
        return np.rint(255 * self.srgb()).astype(np.uint8)

    def jpeg(self, quality=60, times=1):
        image = Image.fromarray(self.levels())
        if times > 1:
            image = image.resize((image.width * times, image.height * times), Image.Resampling.BICUBIC)
        out = io.BytesIO()
        image.save(out, "JPEG", quality=quality)
        return out.getvalue()


def angle_between(first, second):
    """Degrees between two runs."""
    off = abs(first - second) % 180
    return min(off, 180 - off)


__all__ = ["GREY", "MELT", "PIGMENTS", "Scene", "Streaks", "angle_between", "lab_of_srgb", "srgb_of"]
