"""Frames drawn by GalSim, an independent image simulator: stars that are trailed, tilted, comatic or turning."""

from dataclasses import dataclass

import galsim
import numpy as np
from scipy.ndimage import map_coordinates

BACKGROUND = 1000.0
PHASES = 8  # sub-pixel places per axis at which a star of one shape is drawn
PROFILES = {
    "air": lambda fwhm: galsim.Kolmogorov(fwhm=fwhm), "gauss": lambda fwhm: galsim.Gaussian(fwhm=fwhm),
    "moffat": lambda fwhm: galsim.Moffat(beta=3.5, fwhm=fwhm),
}


@dataclass(frozen=True, kw_only=True)
class Sky:
    """What is on a frame; lengths in pixels, angles in degrees from +x towards +y."""

    fwhm: float
    trail: float = 0.0
    angle: float = 0.0
    stars: int = 300
    size: int = 512
    profile: str = "air"
    tilt: float = 0.0  # ellipticity at the right edge's corner, along 23 deg
    coma: float = 0.0  # ellipticity at the corners, outward
    turn: float = 0.0  # rad, of the field about its centre while it drifts
    noise: float = 10.0
    flux: tuple[float, float] = (3e3, 1e5)
    seed: int = 0

    def motion(self, x, y):
        """Return the trail (complex, pixels) of a star at a place."""
        middle = (self.size - 1) / 2
        return self.trail * np.exp(1j * np.radians(self.angle)) + 1j * self.turn * (x - middle + 1j * (y - middle))

    def star(self, x, y):
        """Return the profile of a star at a place, without the pixel."""
        middle, corner = (self.size - 1) / 2, self.size / np.sqrt(2)
        z = ((x - middle) + 1j * (y - middle)) / corner
        shape = self.tilt * z.real * np.exp(2j * np.radians(23)) + self.coma * z**2
        profile = PROFILES[self.profile](self.fwhm)
        if shape:
            profile = profile.shear(e1=shape.real, e2=shape.imag)
        motion = self.motion(x, y)
        if abs(motion) > 1e-6:
            line = galsim.Box(abs(motion), 1e-3).rotate(np.angle(motion) * galsim.radians)
            profile = galsim.Convolve(profile, line)
        return profile

    @property
    def varies(self):
        return bool(self.tilt or self.coma or self.turn)


def draw(sky):
    """Return a frame (size, size) float32 and its truth (n, 3): x, y, flux. Photon noise counts one electron a unit."""
    random = np.random.default_rng(sky.seed)
    half = int(4.5 * (sky.fwhm + 0.6 * abs(sky.motion(0, 0)))) + 5
    wide = np.zeros((sky.size + 4 * half, sky.size + 4 * half))
    places = random.uniform(2, sky.size - 3, (sky.stars, 2))
    flux = sky.flux[0] * (sky.flux[1] / sky.flux[0]) ** (random.uniform(size=sky.stars) ** 2)
    places = np.round(places * PHASES) / PHASES
    stamps = {}
    for (x, y), light in zip(places, flux, strict=True):
        column, row = int(np.floor(x)), int(np.floor(y))
        phase = (x - column, y - row)
        key = (x, y) if sky.varies else phase
        if key not in stamps:
            stamps[key] = draw_stamp(sky.star(x, y), phase, half)
        wide[row + half: row + 3 * half + 1, column + half: column + 3 * half + 1] += light * stamps[key]
    image = wide[2 * half: 2 * half + sky.size, 2 * half: 2 * half + sky.size]
    image = image + random.normal(size=image.shape) * np.hypot(sky.noise, np.sqrt(np.maximum(image, 0))) + BACKGROUND
    return image.astype(np.float32), np.column_stack([places, flux])


def draw_stamp(profile, phase, half):
    """Return a star of unit light as the pixels record it, (2 half + 1) squared."""
    side = 2 * half + 1
    return profile.drawImage(nx=side, ny=side, scale=1.0, offset=phase, method="auto").array


def true_distortion(sky, x=None, y=None):
    """Return the complex distortion of a star's noiseless profile, pixel included, by `galsim.hsm`."""
    middle = (sky.size - 1) / 2
    star = galsim.Convolve(sky.star(middle if x is None else x, middle if y is None else y), galsim.Pixel(1.0))
    side = int(10 * (sky.fwhm + abs(sky.motion(0, 0)))) * 2 + 41
    shape = galsim.hsm.FindAdaptiveMom(star.drawImage(nx=side, ny=side, scale=0.25, method="no_pixel")).observed_shape
    return shape.e1 + 1j * shape.e2  # of hsm: (a2 - b2)/(a2 + b2)


def true_fwhm(sky):
    """Return the geometric mean of the half-maximum widths along and across, pixel included, of a fine drawing."""
    fine, middle = 0.05 * max(1.0, sky.fwhm / 3), (sky.size - 1) / 2  # within 1e-4 of a drawing finer by 2.5
    star = galsim.Convolve(sky.star(middle, middle), galsim.Pixel(1.0))
    side = int(2.2 * (sky.fwhm + sky.trail + 1) / fine) | 1
    image, centre, widths = star.drawImage(nx=side, ny=side, scale=fine, method="no_pixel").array, side // 2, []
    for angle in np.radians([sky.angle, sky.angle + 90]):
        r = np.arange(0, centre - 2, 0.5)
        light = map_coordinates(image, [centre + r * np.sin(angle), centre + r * np.cos(angle)], order=3)
        below = np.flatnonzero(light < image.max() / 2)[0]
        part = (light[below - 1] - image.max() / 2) / (light[below - 1] - light[below])
        widths.append(2 * fine * (r[below - 1] + 0.5 * part))
    return float(np.sqrt(np.prod(widths)))


def mean_distortion(sky):
    """Return the mean of `true_distortion` over the field."""
    if not sky.varies:
        return true_distortion(sky)
    grid = (np.arange(6) + 0.5) / 6 * sky.size - 0.5
    return np.mean([true_distortion(sky, x, y) for x in grid for y in grid])


def elongation(distortion):
    """Return 1 - b/a."""
    size = abs(distortion)
    return 1 - np.sqrt((1 - size) / (1 + size))
