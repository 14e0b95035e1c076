"""How much a measurement is worth: the advice of a measured mount against that of the true one, mounts of every class.

The mounts are simulated in time by `measure.closed_loop`, which imports nothing of the planner: ``python
tests/worlds/measured.py [mounts] [first] [images]`` prints each miss with what following it loses on the true mount,
then the share of mounts whose verdict is the true mount's and whose length lies within one step of its ladder. With
`images` the test frames are drawn star by star along the mount's path, measured and matched. Two seconds of CPU a
mount, 13 with `images`.
"""

import sys
from collections import defaultdict
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from astropy import units as u

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from measure import closed_loop
from worlds.advice import band_of, followed, rig_of
from worlds.world import draw_world

from planner.errors import InvalidInputError
from planner.exposure.guide_need import GuideNeed, guide_need
from planner.exposure.guide_star import GuideStar
from planner.exposure.scene import observing_scene
from planner.exposure.speed import SUB_LADDER
from planner.files.equipment.drive_classes import DRIVE_CLASSES
from planner.measure.drift.doubts import doubts_of
from planner.measure.drift.model import DriftLog
from planner.measure.drift.report import analyse_drift
from planner.measure.frame.series import drift_log_of, frame_offsets
from planner.measure.frame.sky_trail import Orientation
from planner.measure.polar.alignment import alignment_from_positions
from planner.measure.posterior.mount import measured_mount
from planner.measure.stars.star_field import measure_frame
from planner.rig import Mount, PeriodicTerm, Rig, Site

# Standard deviations of natural logarithms about the class: common practice, no source.
SPREAD = {"amplitude": 0.5, "period": 0.15, "jitter": 0.4, "wander": 0.5}
POLAR_ARCMIN = 2.5
ROOT_MINUTE = u.arcsec / u.min**0.5
# Name: minutes, seconds from row to row, seconds averaged into a row, centroid error of one second (arcsec).
FRAMES = "20 frames of 30 s"
LOGS = {FRAMES: (10, 30, 30), "10 min of 1 s": (10, 1, 1), "60 min of 2 s": (60, 2, 1)}
CENTROID = 0.3
SOLVED = 5  # positions about the polar axis, each good to some arcsec
SOLUTION = 2.0
# Test frames: stars, pixels a side, arcsec a pixel, FWHM of the still star (arcsec), electrons of the faintest.
STARS, SIDE, SCALE, STILL, FAINTEST = 20, 220, 1.2, 2.8, 3e4
LABEL = "{:26s}"


def class_mount(name: str) -> Mount:
    """Return the class as the equipment file would start a mount from it."""
    figures = DRIVE_CLASSES[name]
    return Mount(
        name="mount", drive_class=name, jitter=u.Quantity(figures["jitter"]),
        wander=float(figures["wander"].split()[0]) * ROOT_MINUTE, rate_error_ppm=figures["rate_error_ppm"],
        encoder_counts=figures.get("encoder_counts"),
        periodic=tuple(PeriodicTerm(period=u.Quantity(term["period"]), amplitude=u.Quantity(term["amplitude"]))
                       for term in figures["periodic"]))


def true_mount(name: str, draw: np.random.Generator) -> Mount:
    """Return one mount of a class."""
    start = class_mount(name)

    def factor(key: str) -> float:
        return float(np.exp(SPREAD[key] * draw.normal()))

    slow = factor("period")
    return replace(
        start, drive_class=None, jitter=start.jitter * factor("jitter"), wander=start.wander * factor("wander"),
        rate_error_ppm=float(start.rate_error_ppm * draw.normal()),
        polar_altitude_error=POLAR_ARCMIN * draw.normal() * u.arcmin,
        polar_azimuth_error=POLAR_ARCMIN * draw.normal() * u.arcmin,
        periodic=tuple(PeriodicTerm(period=term.period * slow, amplitude=term.amplitude * factor("amplitude"))
                       for term in start.periodic))


def paths_of(mount: Mount, seed: int, latitude: float, minutes: float) -> tuple[np.random.Generator, list[np.ndarray]]:
    """Return where an unguided star goes each second at 10 deg of declination, from an hour east of the meridian."""
    draw = np.random.default_rng(seed)
    time = np.arange(0, minutes * 60, 1.0)
    faults = {"altitude": mount.axis["polar_altitude_error"].value, "azimuth": mount.axis["polar_azimuth_error"].value,
              "rate": "sidereal", "ppm": mount.rate_error_ppm, "flexure_ra": 0.0, "flexure_dec": 0.0}
    paths = closed_loop.smooth_path(faults, latitude=np.radians(latitude), declination=np.radians(10.0),
                                    hour_angle=np.radians(-15.0), time=time, air=1.0)
    drive = sum(term.amplitude.value * np.sin(2 * np.pi * (time / term.period.value + draw.uniform()))
                for term in mount.periodic)
    walk = mount.wander.value / np.sqrt(60)
    return draw, [path + extra + np.cumsum(walk * draw.normal(size=time.size))
                  for path, extra in zip(paths, (drive * np.cos(np.radians(10.0)), 0), strict=True)]


def log_of(mount: Mount, seed: int, latitude: float, shape: tuple[float, float, float]) -> DriftLog:
    """Return an unguided log of that star."""
    minutes, step, expose = shape
    draw, paths = paths_of(mount, seed, latitude, minutes)
    axes = []
    for path in paths:
        seen = path + np.hypot(mount.jitter.value, CENTROID) * draw.normal(size=path.size)
        whole = path.size // int(step) * int(step)
        axes.append(seen[:whole].reshape(-1, int(step))[:, :int(expose)].mean(axis=1))
    return DriftLog(time=(np.arange(axes[0].size) * step + expose / 2) * u.s, ra=axes[0] * u.arcsec,
                    dec=axes[1] * u.arcsec, declination=10 * u.deg, hour_angle=-15 * u.deg,
                    latitude=latitude * u.deg, exposure=expose * u.s)


def frames_log(mount: Mount, seed: int, latitude: float, shape: tuple[float, float, float]) -> DriftLog:
    """Return the log of drawn test frames: stars trailed along the path second by second, measured and matched."""
    minutes, step, expose = shape
    draw, paths = paths_of(mount, seed, latitude, minutes)
    places = draw.uniform(0, SIDE, (STARS, 2))
    light = FAINTEST * 10 ** draw.uniform(0, 1.5, STARS)
    blur = STILL / SCALE / 2.3548
    fields = []
    for first in range(0, minutes * 60, step):
        path = np.stack(paths, axis=1)[first:first + expose] / SCALE
        path = path + np.hypot(mount.jitter.value, CENTROID) / SCALE * draw.normal(size=path.shape)
        fields.append(measure_frame(_drawn(draw, places, light, path, blur)))
    offsets = frame_offsets([field.stars for field in fields], (SIDE, SIDE))
    return drift_log_of(offsets, (np.arange(len(fields)) * step + expose / 2) * u.s, Orientation(SCALE * np.eye(2)),
                        declination=10 * u.deg, hour_angle=-15 * u.deg, latitude=latitude * u.deg,
                        exposure=expose * u.s)


def _drawn(draw, places, light, path, blur):
    """Return a frame (SIDE, SIDE): each star the mean of Gaussians along the path, photon and read noise on top."""
    pixels = np.arange(SIDE)
    image = np.zeros((SIDE, SIDE))
    for (x, y), electrons in zip(places, light, strict=True):
        columns, rows = (np.exp(-0.5 * ((pixels - place - path[:, axis, None]) / blur) ** 2)
                         for axis, place in enumerate((x, y)))
        image += electrons / (2 * np.pi * blur**2) / len(path) * rows.T @ columns
    return (draw.poisson(image + 300) + 3 * draw.normal(size=image.shape)).astype(np.float32)


def solved_axis(true: Mount, start: Mount, seed: int, latitude: float) -> Mount:
    """Return the mount whose polar axis was measured from five solved positions, with its errors."""
    faults = {"altitude": true.polar_altitude_error.value, "azimuth": true.polar_azimuth_error.value}
    text = closed_loop.solved_positions(faults, seed, latitude=latitude, declination=30.0, air=1.0, error=SOLUTION,
                                        hour_angles=np.linspace(-60, 20, SOLVED))
    hour, dec = np.array([line.split(",") for line in text.split("\n")[2:-1]], float).T
    found = alignment_from_positions(hour * u.deg, dec * u.deg, latitude=latitude * u.deg)
    return replace(start, polar_altitude_error=found.altitude_error, polar_azimuth_error=found.azimuth_error,
                   errors={"polar_altitude_error": found.altitude_uncertainty,
                           "polar_azimuth_error": found.azimuth_uncertainty})


def need_of(world, rig: Rig, mount: Mount) -> GuideNeed:
    """Return the verdict for a world on a mount."""
    site = Site(name="site", latitude=world.latitude_deg * u.deg, longitude=0 * u.deg, seeing=world.seeing * u.arcsec,
                sky_brightness=world.sky * u.mag / u.arcsec**2)
    scene = observing_scene(replace(rig, mount=mount), site, band_of(world), declination=world.declination_deg * u.deg,
                            hour_angle=np.linspace(*world.hour_angles_h, 16) * u.hourangle)
    star = None
    if world.guider:
        star = GuideStar(magnitude=world.guider[1] * u.mag, offset=[0.2, 0.2] * u.deg, source="catalogue")
    return guide_need(scene, guide_star=star, with_reasons=False)


@dataclass(frozen=True)
class Outcome:
    """An advice beside that of the true mount."""

    same: bool  # the verdict, and the length within one step of the ladder
    words: str
    loss: float  # share of the true mount's best speed that following it costs


def outcome_of(need: GuideNeed, true: GuideNeed) -> Outcome:
    """Return what an advice is worth on the true mount."""
    rungs = [int(np.argmin(np.abs(SUB_LADDER.value - followed(one)[1]))) for one in (need, true)]
    speeds = {"unguided": true.unguided.ladder.speed, "guided": (true.guided or true.unguided).ladder.speed}
    way, length = followed(need)
    best = max(curve.max() for curve in speeds.values())
    return Outcome(same=need.verdict == true.verdict and abs(rungs[0] - rungs[1]) <= 1,
                   words=f"{need.verdict} {length:g} s for {true.verdict} {followed(true)[1]:g} s",
                   loss=float(1 - speeds[way][rungs[0]] / best))


def known_after(begin: Mount, log: DriftLog, noise: u.Quantity, axis_known: bool) -> Mount:
    """Return the mount as a log leaves it; as it was, where the log is refused."""
    try:
        report = analyse_drift(log)
    except InvalidInputError:
        return begin
    return measured_mount(begin, report, {}, keep_axis=axis_known, doubts=doubts_of(report, begin),
                          centroid_noise=noise).mount


def one_mount(seed: int, images: bool = False) -> dict[str, Outcome]:
    """Return what each measurement's advice is worth; "axis" is with five solved positions beforehand."""
    draw = np.random.default_rng([seed, 13])
    name = list(DRIVE_CLASSES)[seed % len(DRIVE_CLASSES)]
    world, true = draw_world(1000 + seed), true_mount(name, draw)
    rig, start = rig_of(world), class_mount(name)
    goal = need_of(world, rig, true)
    logs = {label: (frames_log if images and label == FRAMES else log_of)(true, seed, world.latitude_deg, shape)
            for label, shape in LOGS.items()}
    results = {}
    for known, begin in (("", start), (", axis", solved_axis(true, start, seed, world.latitude_deg))):
        results[f"class alone{known}"] = outcome_of(need_of(world, rig, begin), goal)
        for label, log in logs.items():
            noise = CENTROID / np.sqrt(LOGS[label][2]) * u.arcsec
            results[label + known] = outcome_of(need_of(world, rig, known_after(begin, log, noise, bool(known))), goal)
    return results


def table(seeds, images: bool = False) -> dict[str, dict[str, list[Outcome]]]:
    """Return the outcomes of each measurement by class; misses are printed as they come."""
    outcomes: dict[str, dict[str, list[Outcome]]] = defaultdict(lambda: defaultdict(list))
    for seed in seeds:
        name = list(DRIVE_CLASSES)[seed % len(DRIVE_CLASSES)]
        for label, outcome in one_mount(seed, images).items():
            outcomes[label][name].append(outcome)
            if not outcome.same:
                print(f"{seed:5d} {name:22s} {LABEL.format(label)} {outcome.words}: loses {outcome.loss:.1%}",
                      flush=True)
    return outcomes


if __name__ == "__main__":
    numbers = [int(word) for word in sys.argv[1:] if word.isdigit()]
    number, first = (*numbers, *(40, 0)[len(numbers):])[:2]
    for label, rows in table(range(first, first + number), "images" in sys.argv).items():
        every = [one for row in rows.values() for one in row]
        right, losses = sum(one.same for one in every), [one.loss for one in every]
        print(f"{LABEL.format(label)} {right:3d} of {len(every)} = {right / len(every):4.0%}, loses "
              f"{np.mean(losses):.1%}, at most {max(losses):.1%}   "
              + ", ".join(f"{name} {sum(one.same for one in row)}/{len(row)}" for name, row in rows.items()))
