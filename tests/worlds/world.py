# ruff: noqa: E501
"""Random observers: rig, mount, air and target as plain numbers (arcsec, s, m, rad where named)."""

from dataclasses import dataclass

import numpy as np

KINDS = ("worm", "worn worm", "strain-wave", "friction", "encoder")


@dataclass(frozen=True)
class World:
    """One observer's truth. Angles in arcsec and times in s unless the name says otherwise."""

    seed: int
    kind: str
    focal_mm: float
    aperture_mm: float
    pitch_um: float
    colour: bool
    quantum_efficiency: float
    read_noise: float
    dark_current: float
    download: float
    blur: float
    centre_nm: float
    width_nm: float
    sky: float  # V mag/arcsec2
    latitude_deg: float
    declination_deg: float
    hour_angles_h: tuple[float, float]
    seeing: float  # median at the zenith, 500 nm
    spread: float  # of its logarithm, night to night
    polar_alt_arcmin: float
    polar_az_arcmin: float
    periodic: tuple[tuple[float, float], ...]  # period, zero-to-peak amplitude on the equator
    wander: float  # arcsec per root minute
    jitter: float
    settle: float
    gust_interval: float
    dither_interval: float
    guider: tuple[float, float, float] | None  # aperture mm, star's magnitude, latency s
    flexure: float  # guider against camera, arcsec per hour

    @property
    def scale(self) -> float:
        """Arcsec per pixel."""
        return 206.265 * self.pitch_um / self.focal_mm

    @property
    def sky_rate(self) -> float:
        """Electrons per second and pixel of sky and dark.

        Magnitude 0 is 0.996e8 photons/s/m2/nm in V and 0.702e8 in R (Bessell, Castelli & Plez 1998, table A2); the dark
        sky is redder by V - R = 0.9 (Benn & Ellison 1998, La Palma Technical Note 115: V 21.9, R 21.0).
        """
        area = np.pi / 4 * (self.aperture_mm / 1000)**2
        flux = 0.702e8 * 10**(0.4 * 0.9) if self.centre_nm > 600 else 0.996e8
        photons = flux * 10**(-0.4 * self.sky) * area * self.width_nm * self.scale**2
        return photons * self.quantum_efficiency * 0.9 * 0.95 + self.dark_current


def _periodic(kind: str, draw: np.random.Generator) -> tuple[tuple[float, float], ...]:
    """Harmonics of the worm (or of the wave gear) and one gear of 5 to 60 s."""
    period, low, high, gear = {"worm": (501, 2, 8, 0.5), "worn worm": (501, 8, 25, 1.5), "strain-wave": (410, 10, 35, 1.2),
                               "friction": (1200, 0.3, 2, 0.15), "encoder": (300, 0.02, 0.3, 0.1)}[kind]
    size = np.exp(draw.uniform(np.log(low), np.log(high)))
    terms = [(period / order, size * share) for order, share in ((1, 1), (2, draw.uniform(0, 0.4)), (3, draw.uniform(0, 0.2)))]
    terms.append((np.exp(draw.uniform(np.log(5), np.log(60))), gear * draw.uniform(0.1, 1)))
    return tuple((float(length), float(amplitude)) for length, amplitude in terms)


def draw_world(seed: int) -> World:
    """Return the world of a seed; the prior is wide, not a census (common practice, no source)."""
    draw = np.random.default_rng([seed, 11])
    kind = KINDS[seed % len(KINDS)]
    focal = float(np.exp(draw.uniform(np.log(135), np.log(2800))))
    aperture = float(np.clip(focal / draw.uniform(2.8, 9), 40, 400))
    narrow, colour = draw.random() < 0.35, draw.random() < 0.3
    latitude = float(draw.uniform(25, 58))
    declination = float(draw.uniform(max(-20, latitude - 65), 68))
    begin = float(draw.uniform(-4, -0.5))
    guided = draw.random() < 0.75
    off_axis = focal > 1500
    return World(
        seed=seed, kind=kind, focal_mm=focal, aperture_mm=aperture, pitch_um=float(draw.choice([3.0, 3.8, 4.6, 6, 9])),
        colour=colour, quantum_efficiency=float(draw.uniform(0.5, 0.9)), read_noise=float(draw.uniform(1.2, 8)),
        dark_current=float(draw.uniform(0, 0.01)), download=float(draw.uniform(0.5, 6)), blur=float(draw.uniform(0, 0.8)),
        centre_nm=656.3 if narrow else 530.0, width_nm=float(draw.uniform(3, 8)) if narrow else 90.0 if colour else 250.0,
        sky=float(draw.uniform(18.5, 21.8)), latitude_deg=latitude, declination_deg=declination,
        hour_angles_h=(begin, begin + float(draw.uniform(2.5, 5))), seeing=float(draw.uniform(1.2, 4)), spread=0.2,
        polar_alt_arcmin=float(draw.normal(0, 2.5)), polar_az_arcmin=float(draw.normal(0, 2.5)),
        periodic=_periodic(kind, draw), wander=float(np.exp(draw.uniform(np.log(0.03), np.log(0.6)))),
        jitter=float(np.exp(draw.uniform(np.log(0.05), np.log(0.9)))), settle=float(draw.uniform(5, 20)),
        gust_interval=float(np.exp(draw.uniform(np.log(0.7), np.log(6)))) * 3600, dither_interval=600.0,
        guider=(aperture if off_axis else 50.0, float(draw.uniform(7, 11)), round(float(draw.uniform(0.2, 1)), 1)) if guided else None,
        flexure=0.0 if off_axis else float(draw.uniform(0, 4)))
