"""Regret of the first set-up: 1 - what it brings / the best of all set-ups, each as advised, in the same world.

    python tests/worlds/set_ups.py --worlds 100 --seed 1 [--detail]

Each is followed with its way, its length and the guide loop that it names. Three telescopes and two cameras on one
mount under one sky, for faint stars, or for detail over a galaxy that takes some of them a mosaic. The truth is
simulated by code that imports nothing of the planner: squared signal-to-noise per hour on the clock, of a star or of a
pattern; over the panels that the answer names. Masses and sensors' sizes, which order what is equal, are drawn too.
"""

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from astropy import units as u

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from worlds.advice import band_of, rig_of
from worlds.motion import guided_track
from worlds.simulate import method_yield, nights_of
from worlds.world import World, draw_world

from planner.rig import Camera, Equipment, Site
from planner.session.match.combinations import weigh_combinations
from planner.session.match.set_ups import set_ups
from planner.visibility.target import Target

TELESCOPES, CAMERAS = 3, 2
PERIOD, SIZE = 6.0, (60.0, 25.0)  # arcsec, arcmin


@dataclass(frozen=True)
class Choice:
    """What each set-up brings in a world, by name, and the first one by the width of the band of equals."""

    world: World
    rates: dict[str, float]
    first: dict[float, str]

    def regret(self, as_good: float) -> float:
        """Return the share of the best rate that the first choice forgoes."""
        return 1 - self.rates[self.first[as_good]] / max(self.rates.values())


def owned(world: World) -> dict[str, World]:
    """Return one world a set-up: the same mount, sky and guide scope, other optics and sensors."""
    draw = np.random.default_rng([world.seed, 21])
    parts = [draw_world(100000 + 10 * world.seed + one) for one in range(max(TELESCOPES, CAMERAS))]
    declination = float(np.clip(world.declination_deg, world.latitude_deg - 40, world.latitude_deg + 40))
    places = np.deg2rad([world.latitude_deg, declination])
    reach = np.arccos(np.clip((0.5 - np.sin(places).prod()) / np.cos(places).prod(), -1, 1))  # 30 deg of altitude
    half = min(3.0, float(np.rad2deg(reach)) / 15)
    guider = None if world.guider is None else (50.0, float(draw.uniform(7, 11)), world.guider[2])
    same = replace(world, colour=False, guider=guider, declination_deg=declination, hour_angles_h=(-half, half))
    return {f"t{a}, c{b}": replace(
        same, focal_mm=parts[a].focal_mm, aperture_mm=parts[a].aperture_mm, blur=parts[a].blur,
        pitch_um=parts[b].pitch_um, quantum_efficiency=parts[b].quantum_efficiency, read_noise=parts[b].read_noise,
        dark_current=parts[b].dark_current, download=parts[b].download)
        for a in range(TELESCOPES) for b in range(CAMERAS)}


def _sensor(camera: Camera, width_mm: float) -> Camera:
    """Return a camera with a sensor of a width, three to two; its pixels stay."""
    columns = int(width_mm / camera.pixel_pitch.to_value(u.mm))
    return replace(camera, columns=columns, rows=columns * 2 // 3)


def judge(world: World, *, nights: int = 6, subs: int = 180, detail: bool = False) -> Choice:
    """Return what the first choice of a world brings and what the others would have."""
    worlds = owned(world)
    rigs = {name: rig_of(one) for name, one in worlds.items()}
    some = next(iter(worlds.values()))
    bodies = np.random.default_rng([world.seed, 22])
    telescopes = {name[:2]: replace(rig.telescope, name=name[:2], mass=bodies.uniform(2, 4) * u.kg * float(
        (rig.telescope.aperture / (100 * u.mm)).to_value(u.one))**2) for name, rig in rigs.items()}
    cameras = {name[4:]: replace(_sensor(rig.camera, bodies.uniform(11, 36)), name=name[4:],
                                 mass=bodies.uniform(0.4, 1.8) * u.kg) for name, rig in rigs.items()}
    rig = next(iter(rigs.values()))
    site = Site(name="site", latitude=some.latitude_deg * u.deg, longitude=0 * u.deg, seeing=some.seeing * u.arcsec,
                sky_brightness=some.sky * u.mag / u.arcsec**2, seeing_spread=some.spread,
                disturbance_interval=some.gust_interval / 3600 * u.h)
    gear = Equipment(sites=(site,), telescopes=tuple(telescopes.values()), reducers=(), cameras=tuple(cameras.values()),
                     filters=rig.filters, mounts=(rig.mount,), guiders=() if rig.guider is None else (rig.guider,),
                     rigs=(rig,))
    major, minor = SIZE * u.arcmin if detail else (None, None)
    target = Target(name="target", kind="galaxy" if detail else "open cluster", ra=0 * u.deg,
                    dec=some.declination_deg * u.deg, size_major=major, size_minor=minor)
    asked = weigh_combinations(gear, rig, site, band_of(some), target=target, binnings=(1,),
                               period=PERIOD * u.arcsec)
    ranked = {band: set_ups(asked, as_good=band) for band in (0.0, 0.1)}
    median, track, _ = nights_of(some, nights)
    rates = {}
    for row in ranked[0.0]:
        one, length, followed = worlds[row.name], np.array([float(row.sub_exposure.to_value(u.s))]), track
        if row.method == "guided":
            loop = row.loop.exposure.to_value(u.s), row.loop.gain
            followed = guided_track(some, track, median, loop, np.random.default_rng([world.seed, 16]))
        brought = method_yield(one, followed, median, length, subs, np.random.default_rng([world.seed, 13]),
                               period=PERIOD if detail else None)
        light = (one.aperture_mm**2 * one.quantum_efficiency)**2 / row.choice.framing.panels
        rates[row.name] = float(brought.rate[0]) * light
    return Choice(some, rates, {band: rows[0].name for band, rows in ranked.items()})


def main() -> None:
    """Print the regret over worlds and the worst five."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--detail", action="store_true")
    asked = parser.parse_args()
    found = [judge(draw_world(1000 * asked.seed + one), detail=asked.detail) for one in range(asked.worlds)]
    found = [one for one in found if max(one.rates.values()) > 0]
    for band in (0.0, 0.1):
        lost = 100 * np.array([one.regret(band) for one in found])
        print(f"equal within {band:.0%}: median {np.median(lost):.1f} %, 95 % {np.percentile(lost, 95):.1f} %, worst "
              f"{lost.max():.1f} %; at most 5 % in {(lost <= 5).mean():.0%} of {len(lost)} worlds")
    for one in sorted(found, key=lambda one: -one.regret(0.0))[:5]:
        print(one.world.seed, one.world.kind, one.first[0.0], {name: f"{rate:.3g}" for name, rate in one.rates.items()})


if __name__ == "__main__":
    main()
