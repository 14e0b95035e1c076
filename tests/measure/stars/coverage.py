"""How often the stated errors of FWHM and elongation hold, by regime: python tests/measure/stars/coverage.py 200.

Frames are drawn by GalSim, an independent image simulator; the truth is a fine drawing of the same star. A share of 68
percent within one sigma is what the errors state. A regime in which frames are refused says so.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parents[3])]

from measure.frame_sim import Sky, draw, elongation, true_distortion, true_fwhm

from planner.measure.stars.star_field import measure_frame

PROFILES = ("air", "gauss", "moffat")


@dataclass(frozen=True)
class Regime:
    """A kind of frame: widths and trails in pixels of the camera, one colour of a mosaic or none."""

    fwhm: tuple[float, float]
    trail: tuple[float, float] = (0.0, 0.0)  # in FWHM
    colour: str = ""
    size: int = 400
    stars: int = 200
    flux: tuple[float, float] = (3e3, 1e5)

    def sky(self, number, seed):
        random = np.random.default_rng([seed, number])
        fwhm = round(random.uniform(*self.fwhm), 1)
        return Sky(fwhm=fwhm, trail=round(fwhm * random.uniform(*self.trail), 1), angle=10.0 * random.integers(18),
                   stars=self.stars, size=self.size, flux=self.flux, profile=PROFILES[number % 3],
                   seed=int(random.integers(1 << 30)))


REGIMES = {
    "mono 1.0": Regime((1.0, 1.0)), "mono 1.0-1.4": Regime((1.0, 1.4)), "mono 1.5-2": Regime((1.5, 2.0)),
    "mono 2-3": Regime((2.0, 3.0)), "mono 3-5": Regime((3.0, 5.0), size=500),
    "mono 5-9": Regime((5.0, 9.0), size=700, stars=150, flux=(1e4, 3e5)),
    "mono 9-15": Regime((9.0, 15.0), size=900, stars=120, flux=(3e4, 1e6)),
    "trailed": Regime((1.5, 4.0), (0.3, 1.5), size=500), "trailed sharp": Regime((1.0, 1.4), (0.3, 1.2)),
    "green 1.8-2": Regime((1.8, 2.0), colour="green"), "green 2-3": Regime((2.0, 3.0), colour="green"),
    "green 3-6": Regime((3.0, 6.0), colour="green", size=600), "red 2.4-3": Regime((2.4, 3.0), colour="red"),
    "red 3-6": Regime((3.0, 6.0), colour="red", size=600), "crowded": Regime((2.5, 3.5), stars=1000),
    "very crowded": Regime((2.5, 3.5), stars=2000), "crowded, deep": Regime((2.5, 3.0), stars=2000, flux=(3e2, 1e5)),
}
REFUSED = {"mono 0.5": Regime((0.5, 0.5)), "green 1.0": Regime((1.0, 1.0), colour="green"),
           "red 1.6": Regime((1.6, 1.6), colour="red")}


def measured(sky, colour):
    """Return what is measured on a frame: all pixels, or one colour of RGGB."""
    image = draw(sky)[0]
    if not colour:
        return measure_frame(image)
    if colour == "red":
        return measure_frame(image[::2, ::2], pixel_step=2)
    return measure_frame(image[::2, 1::2], pixel_step=2, second=(image[1::2, ::2], -1, 1))


def deviations(regime, count, seed=0):
    """Return (value - truth)/error of FWHM and elongation, (k, 2), of those not refused, and relative errors (k,)."""
    rows, truths = [], {}
    for number in range(count):
        sky = regime.sky(number, seed)
        found = measured(sky, regime.colour)
        if found.parts is None:
            continue
        key = sky.fwhm, sky.trail, sky.angle, sky.profile
        if key not in truths:
            truths[key] = true_fwhm(sky), elongation(true_distortion(sky))
        width, shape = truths[key]
        rows.append(((found.fwhm.value - width) / found.fwhm_error.value,
                     (found.elongation - shape) / found.elongation_error, found.fwhm.value / width - 1))
    table = np.array(rows).reshape(-1, 3)
    return table[:, :2], table[:, 2]


if __name__ == "__main__":
    count, names = int(sys.argv[1]), sys.argv[2:] or [*REGIMES, *REFUSED]
    for name in names:
        z, away = deviations({**REGIMES, **REFUSED}[name], count, seed=1)
        words = "" if not len(z) else (
            f"within 1 sigma: FWHM {np.mean(np.abs(z[:, 0]) < 1):.0%}, elongation {np.mean(np.abs(z[:, 1]) < 1):.0%}; "
            f"FWHM off by {np.mean(away):+.2%}, rms {np.std(away):.2%}, at most {np.max(np.abs(away)):.1%}; "
            f"z {z[:, 0].mean():+.2f} rms {z[:, 0].std():.2f}")
        print(f"{name:14} measured {len(z)} of {count} {words}", flush=True)
