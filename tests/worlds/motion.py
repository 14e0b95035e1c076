# ruff: noqa: E501
"""Where the star goes: the sky by rigid rotations, the drive in time, and a guide loop that sees it through the air."""

import numpy as np
from worlds.world import World

SIDEREAL = 15.04107  # arcsec/s
TICK = 0.1  # s: a fifth of the shortest guide exposure


def _turn(axis: int, angle: float) -> np.ndarray:
    c, s = np.cos(angle), np.sin(angle)
    first, second = [(1, 2), (2, 0), (0, 1)][axis]
    matrix = np.eye(3)
    matrix[first, first] = matrix[second, second] = c
    matrix[first, second], matrix[second, first] = -s, s
    return matrix


def sky(world: World, seconds: np.ndarray) -> dict[str, np.ndarray]:
    """Return drift on a mount that turns evenly (arcsec, east and north), altitude and parallactic angle (rad).

    The target's unit vector in the frame of meridian, west and pole is lifted by refraction, 58.3 arcsec tan z, and turned
    into the frame of the misaligned axis.
    """
    hour = np.deg2rad(world.hour_angles_h[0] * 15 + seconds * SIDEREAL / 3600)
    dec, latitude = np.deg2rad(world.declination_deg), np.deg2rad(world.latitude_deg)
    true = np.stack([np.cos(dec) * np.cos(hour), np.cos(dec) * np.sin(hour), np.full_like(hour, np.sin(dec))])
    zenith = np.array([np.cos(latitude), 0, np.sin(latitude)])
    cosine = zenith @ true
    distance = np.arccos(cosine)
    upward = (zenith[:, None] - cosine * true) / np.sin(distance)
    lifted = true + upward * np.deg2rad(58.3 / 3600) * np.tan(distance)
    north = (np.array([0, 0, 1])[:, None] - np.sin(dec) * true) / np.cos(dec)
    east = np.cross(true.T, north.T).T  # the frame is left-handed
    # The horizon's frame: south, west, zenith. Positive errors: axis too high, axis east of the pole.
    altitude = np.deg2rad(world.polar_alt_arcmin / 60)
    azimuth = np.deg2rad(world.polar_az_arcmin / 60)
    tilt = _turn(1, latitude - np.pi / 2)
    seen = _turn(1, -altitude) @ tilt.T @ _turn(2, -azimuth) @ tilt @ lifted
    along = -(np.unwrap(np.arctan2(seen[1], seen[0])) - hour) * np.cos(np.arcsin(seen[2]))
    return {"drift": np.stack([along, np.arcsin(seen[2])], axis=-1) * 206265, "altitude": np.pi / 2 - distance,
            "parallactic": np.arctan2((upward * east).sum(axis=0), (upward * north).sum(axis=0))}


def mount_track(world: World, nights: int, draw: np.random.Generator) -> np.ndarray:
    """Return the unguided star (nights, ticks, 2) [arcsec], jitter apart: sky, harmonics, gear and random walk."""
    ticks = int((world.hour_angles_h[1] - world.hour_angles_h[0]) * 3600 / TICK)
    time = np.arange(ticks) * TICK
    track = np.repeat(sky(world, time)["drift"][None], nights, axis=0)
    for period, amplitude in world.periodic:
        phase = draw.uniform(0, 2 * np.pi, (nights, 1))
        track[..., 0] += amplitude * np.cos(np.deg2rad(world.declination_deg)) * np.sin(2 * np.pi * time / period + phase)
    steps = draw.normal(0, world.wander * np.sqrt(TICK / 60), track.shape)
    return track + np.cumsum(steps, axis=1)


def _seen_by_air(aperture: float, exposure: float, cycle: float, seeing: np.ndarray, draw: np.random.Generator) -> np.ndarray:
    """Return, for widths (nights, rounds, 1) [arcsec], centroid motion of the air per guide exposure: 0.18 lambda^2 r0^(-5/3) D^(-1/3) per axis, outer scale 25 m.

    Variance of image motion and its spectrum, (f^2 + (wind / outer scale)^2)^(-1/3), bending to f^(-11/3) from wind / (pi D)
    (Martin 1987; Sasiela; from memory). An exposure is a box whose power transfer is sinc²; what is faster than half a
    cycle folds back, as it does in any row of samples.
    """
    r0 = 0.976 * 500e-9 / np.deg2rad(seeing / 3600)
    full = 0.18 * (500e-9)**2 * r0**(-5 / 3) * aperture**(-1 / 3) * (1 - 1.5 * (aperture / 25)**(1 / 3))
    bend = 10 / (np.pi * aperture)

    def spectrum(frequency: np.ndarray) -> np.ndarray:
        return (frequency**2 + (10 / 25)**2)**(-1 / 3) * np.where(frequency < bend, 1, (bend / np.maximum(frequency, bend))**3)

    every = np.geomspace(1e-4, 300 * bend, 4000)
    total = np.trapezoid(spectrum(every) * every, np.log(every))
    rounds = seeing.shape[1]
    aliases = abs(np.fft.rfftfreq(rounds, cycle)[:, None] + np.arange(-60, 61) / cycle)
    power = (spectrum(aliases) * np.sinc(aliases * exposure)**2).sum(axis=1) / total / (2 * cycle)
    white = np.fft.rfft(draw.normal(size=(len(seeing), rounds, 2)), axis=1)
    return np.fft.irfft(white * np.sqrt(power)[:, None], rounds, axis=1) * np.sqrt(np.maximum(full, 0)) * 206265


def guided_track(world: World, track: np.ndarray, seeing: np.ndarray, setting: tuple[float, float],
                 draw: np.random.Generator) -> np.ndarray:
    """Return the star under a proportional loop of (exposure, gain), acting one latency after each exposure."""
    aperture, magnitude, latency = world.guider
    expose = max(1, round(setting[0] / TICK))
    cycle = expose + max(1, round(latency / TICK))
    rounds = track.shape[1] // cycle
    photons = 2e10 * 10**(-0.4 * magnitude) * np.pi / 4 * (aperture / 1000)**2 * 0.5 * setting[0]
    low = np.sin(sky(world, np.arange(rounds) * cycle * TICK)["altitude"])**-0.6  # the air is thicker there
    width = (seeing[:, None] * low)[..., None]
    noise = _seen_by_air(aperture / 1000, expose * TICK, cycle * TICK, width, draw)
    noise += draw.normal(size=noise.shape) * width / 2.355 / np.sqrt(photons)
    raw = track[:, :rounds * cycle].reshape(len(track), rounds, cycle, 2)
    seen = raw[:, :, :expose].mean(axis=2) + noise
    correction = np.zeros((len(track), rounds, 2))
    level = seen[:, 0].copy()
    for k in range(rounds):
        correction[:, k] = level
        level = level + setting[1] * (seen[:, k] - level)
    guided = (raw - correction[:, :, None]).reshape(len(track), rounds * cycle, 2)
    way = creep_way(world)
    creep = np.arange(rounds * cycle) * TICK / 3600 * world.flexure
    return guided + creep[:, None] * (np.cos(way), np.sin(way))


def creep_way(world: World) -> float:
    """Return where the guider creeps to [rad], from east to north."""
    return float(np.random.default_rng([world.seed, 17]).uniform(0, 2 * np.pi))


def best_guided(world: World, track: np.ndarray, seeing: np.ndarray, draw: np.random.Generator) -> np.ndarray:
    """Return the guided track of the setting with the least rms within 5 minutes, of those an observer would try."""
    best, least = None, np.inf
    for setting in ((0.5, 0.4), (0.5, 0.7), (1, 0.4), (1, 0.8), (2, 0.7), (4, 0.7)):
        guided = guided_track(world, track, seeing, setting, draw)
        span = round(300 / TICK)
        length = guided.shape[1] // span * span
        rms = guided[:, :length].reshape(len(track), -1, span, 2).std(axis=2).mean()
        if rms < least:
            best, least = guided, rms
    return best
