"""The guided way: the loop that serves the subs best, and the share of them that it keeps.

The smallest residual is a good setting, not always the best: what stretches a star, and what a short sub meets of a
slow error, count as well. Where it leaves something to gain, other settings are tried by the speed of their subs.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from astropy import units as u

from planner.exposure.guide_star import GuideStar, loops_on_star
from planner.exposure.kept_share import KeptShare
from planner.exposure.scene import Scene, over_window
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER, SpeedCurve
from planner.exposure.star_motion import StarMotion, guided_motion
from planner.exposure.sub_exposure import speed_curve
from planner.tracking import GuideLoop, GuideLoops

NEAR = 0.97  # of the speed of stars that only the air and jitter move: no setting has more to give
EVEN = 0.01  # so little more is none: a small residual forgives figures of the mount that are wrong
ROUGH_MIDDLES, ROUGH_PHASES = 3, 89  # with the ladder's own lengths: between fewer, what is lost in a step is missed
FIRST_EXPOSURES, FIRST_GAINS = (0, 2, 5, 6), (2, 5, 8, 11)  # places in the grid from which the search starts
STEPS, ROUNDS = ((0, 1), (0, -1), (1, 0), (-1, 0)), 4  # to neighbours, and how many at most


@dataclass(frozen=True)
class Guided:
    """Guiding with one loop."""

    scene: Scene
    loop: GuideLoop
    motion: StarMotion
    shares: KeptShare

    @cached_property
    def ladder(self) -> SpeedCurve:
        """Speed at the steps of `SUB_LADDER`."""
        return speed_curve(self.scene, self.shares, SUB_LADDER.value)


def guided_share(scene: Scene, unguided: StarMotion, star: GuideStar | None, *,
                 nodes: u.Quantity[u.s] | None = None, near: GuideLoop | None = None,
                 start: GuideLoop | None = None) -> Guided | None:
    """Return the best guiding on a star, its kept share at nodes as in `kept_share`; None where it cannot be guided.

    With a loop `near`, its setting is the only one that is tried beside that of the smallest residual. With a loop
    `start`, that served another camera, the search begins there.
    """
    if scene.rig.guider is None or star is None or not np.isfinite(star.magnitude.value):
        return None
    loops = loops_on_star(scene, star, unguided)
    first = share_with(scene, star, loops.best(), nodes=nodes)
    reached = first.ladder.speed.max()
    if reached >= NEAR * _best_speed(scene, None) * _most_light(scene, first.loop) * first.shares.air.mean():
        return first
    setting = _Search(scene, star, loops, first.motion).best(start) if near is None else loops.like(near)
    if (setting.exposure, setting.gain) == (first.loop.exposure, first.loop.gain):
        return first
    other = share_with(scene, star, setting, nodes=nodes, like=first.motion)
    return other if other.ladder.speed.max() > (1 + EVEN) * reached else first


def share_with(scene: Scene, star: GuideStar, loop: GuideLoop, *, nodes: u.Quantity[u.s] | None = None,
               like: StarMotion | None = None) -> Guided:
    """Return guiding on a star with a loop that is set, its kept share at nodes; `like` as in `guided_motion`."""
    held = guided_motion(scene, loop, guide_star_offset=star.offset, like=like)
    return Guided(scene, loop, held, kept_share(scene, held, nodes=nodes))


def _best_speed(scene: Scene, shares: KeptShare | None) -> float:
    return float(speed_curve(scene, shares, SUB_LADDER.value).speed.max())


def _most_light(scene: Scene, loop: GuideLoop) -> float:
    """Return the light of a star that only dispersion and the mount's jitter draw out: what no setting changes."""
    jitter = np.array([row.rms.to_value(u.arcsec) for row in loop.terms if row.term == "jitter"])
    across, along = np.sort(jitter**2 + over_window(scene.dispersed[:2]).to_value(u.arcsec**2)) * u.arcsec**2
    moved = scene.response.at(along, across, 0.0).noise_equivalent_area
    return scene.response.still_area / float(moved.to_value(u.arcsec**2))


@dataclass(frozen=True)
class _Search:
    """Settings of a loop by the speed of their subs, roughly."""

    scene: Scene
    star: GuideStar
    loops: GuideLoops
    like: StarMotion  # with any of the settings

    @cached_property
    def known(self) -> dict[tuple[int, int], float]:
        """Speeds found so far, by place in the grid."""
        return {}

    def best(self, start: GuideLoop | None) -> GuideLoop:
        """Return the best setting that steps to better neighbours lead to, from `start` or two of a coarse grid."""
        if start is not None:
            return self.loops.at(*self._climbed(self.loops.place(start)))
        first = sorted(((i, j) for i in FIRST_EXPOSURES for j in FIRST_GAINS), key=self.speed)
        return self.loops.at(*max(map(self._climbed, first[-2:]), key=self.speed))

    def _climbed(self, place: tuple[int, int]) -> tuple[int, int]:
        """Return where steps to the best neighbour end."""
        for _ in range(ROUNDS):
            better = max(((place[0] + i, place[1] + j) for i, j in STEPS), key=self.speed)
            if self.speed(better) <= self.speed(place):
                break
            place = better
        return place

    def speed(self, place: tuple[int, int]) -> float:
        """Return the best speed of a setting; none off the grid or where the gain could not double."""
        rows, columns = self.loops.stable.shape
        if not (0 <= place[0] < rows and 0 <= place[1] < columns and self.loops.stable[place]):
            return -1.0
        if place not in self.known:
            held = guided_motion(self.scene, self.loops.at(*place), guide_star_offset=self.star.offset,
                                 like=self.like)
            self.known[place] = _best_speed(self.scene, kept_share(
                self.scene, held, nodes=SUB_LADDER, middles=ROUGH_MIDDLES, phases=ROUGH_PHASES))
        return self.known[place]
