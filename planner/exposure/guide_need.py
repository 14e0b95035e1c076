"""Guide or not: the best unguided speed against the best guided one, why, and what would change it."""

from dataclasses import dataclass, replace
from functools import partial
from typing import Annotated, Literal

import numpy as np
from astropy import units as u

from planner.exposure.cause_budget import AIR, growing, guided_budget, largest_cause, ordered, unguided_budget
from planner.exposure.changes import Change, Purpose, Search, changes_of
from planner.exposure.guide_star import GuideStar, expected_star
from planner.exposure.guided_share import EVEN, guided_share
from planner.exposure.reasons import percent, reasons_of
from planner.exposure.repair import Repair, first_repair
from planner.exposure.scene import STILL, Scene
from planner.exposure.share_grid import kept_share
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import StarMotion, guided_motion, unguided_motion
from planner.exposure.sub_exposure import (
    FINE,
    SubExposure,
    named,
    perfect_speed,
    speed_curve,
    still_share,
    sub_exposure_of,
)
from planner.fields import Key
from planner.rig import Guider
from planner.tracking import BudgetTerm, GuideLoop

Verdict = Literal["unguided", "either", "guided", "neither"]
EITHER = 0.05  # unguided and guided this close are the same
# Less than this share of what a perfect mount would give: neither way is good. Common practice, no source.
NEITHER = 0.50
ROUGH, FAR_BEHIND = (3, 34), 0.85  # middles and phases of a rough look, whose best speed is right within 7 %
NO_GUIDING = Purpose("make guiding unnecessary", "guiding stays unnecessary")
HALF_WAY = Purpose(f"bring unguided subs to {percent(NEITHER)} of a perfect mount",
                   f"unguided subs keep {percent(NEITHER)} of a perfect mount")
# A plain guide scope on the telescope, for a rig that has none (common practice, no source).
PLAIN_GUIDER = Guider(name="guide scope", aperture=50 * u.mm, focal_length=200 * u.mm, pixel_pitch=3 * u.um,
                      columns=2000, rows=1200, quantum_efficiency=0.7, read_noise=3 * u.electron)


@dataclass(frozen=True, kw_only=True)
class GuideNeed:
    """The verdict with everything behind it."""

    verdict: Annotated[Verdict, "null where the target never stands high enough"]
    unguided: Annotated[SubExposure, "one sub-exposure without guiding"]
    guided: Annotated[SubExposure | None, "and with it; null without a guider, or a guide star to expect"]
    perfect_speed: float  # of the same camera and sky on a mount that moves no star
    budget: tuple[BudgetTerm, ...]  # unguided motion within one sub of `budget_exposure`
    budget_exposure: u.Quantity[u.s]
    better_budget: tuple[BudgetTerm, ...]  # what moves the star in a recommended sub of the better way
    repair: Repair | None  # the cause to repair first, where neither way is good and one brings something
    changes: tuple[Change, ...]
    reasons: tuple[str, ...]  # plain sentences
    guide_star: GuideStar | None
    loop: Annotated[GuideLoop | None, "best guide exposure and gain on that star", Key("guide_loop")]
    air_keeps: float  # share of the subs that a perfect mount would keep under this air
    with_guider: float | None  # best speed with a plain guide scope over that without; None: the rig has a guider

    @property
    def largest_motion(self) -> str:
        """The cause, the air apart, that moves the star most in a recommended sub; empty if nothing does."""
        return largest_cause(self.better_budget, without=AIR)

    @property
    def without_guider(self) -> float | None:
        """Best speed without guiding over the best with it; None for a rig that cannot guide."""
        return None if self.guided is None or not _best(self.guided) > 0 else _best(self.unguided) / _best(self.guided)

    @property
    def guider_is_enough(self) -> bool:
        """Whether a plain guide scope would lift a rig without a guider out of "neither"."""
        return (self.with_guider or 0.0) * _best(self.unguided) >= NEITHER * self.perfect_speed

    @property
    def repair_is_enough(self) -> bool:
        """Whether the repair of one cause would lift the rig out of "neither"."""
        return self.repair is not None and self.repair.speed >= NEITHER * self.perfect_speed

    @property
    def better(self) -> SubExposure:
        """The sub-exposure of the method that the verdict names; where the two are even, without a loop."""
        if self.guided is None or self.verdict == "unguided":
            return self.unguided
        return self.guided if self.guided.speed > (1 + EVEN) * self.unguided.speed else self.unguided


def guide_need(scene: Scene, *, guide_star: GuideStar | None = None,
               galactic_latitude: u.Quantity[u.deg] = 90 * u.deg,
               star_magnitudes: u.Quantity[u.mag] | None = None, with_changes: bool = True,
               with_reasons: bool = True, start: GuideLoop | None = None, near: GuideLoop | None = None,
               ) -> GuideNeed:
    """Return whether to guide, and what would change that.

    Parameters
    ----------
    scene : Scene
        From `observing_scene`; without a guider in its rig only the unguided way is judged.
    guide_star : GuideStar, optional
        A real star in the guider's field; if absent, the one to expect with 90 % probability.
    galactic_latitude : Quantity [deg], scalar
        For the star to expect; the pole, where stars are fewest, if absent.
    star_magnitudes : Quantity [mag], shape (n,), optional
        Of the stars in the main camera's field, to count those that saturate.
    with_changes : bool
        Whether to look for what would change the verdict: it takes as long as all the rest.
    with_reasons : bool
        Whether to say what moves the star. Without it only the steps of the ladder are worked out: budgets, reasons and
        causes are empty, the plateau is rough, and the perfect speed is that of stars that nothing spoils where that is
        enough for the verdict.
    start, near : GuideLoop, optional
        As in `guided_share`.

    Returns
    -------
    GuideNeed
        `unguided` or `guided`: faster by more than 5 %. `either`: within 5 %. `neither`: the better of both stays under
        half of what a perfect mount would give (common practice, no source).
    """
    motion = unguided_motion(scene)
    if guide_star is None and scene.rig.guider is not None:
        guide_star = expected_star(scene.rig.guider, galactic_latitude)
    guided, loop, left = _guided(scene, motion, guide_star, star_magnitudes, with_reasons, start, near)
    if not with_reasons:
        return _plain_need(scene, _unguided(scene, motion, guided, star_magnitudes), guided, guide_star, loop)
    unguided = sub_exposure_of(scene, speed_curve(scene, kept_share(scene, motion), FINE),
                               star_magnitudes=star_magnitudes)
    budget = unguided_budget(scene, motion, unguided.longest)
    unguided = named(unguided, growing(budget))
    guided = guided if guided is None else named(guided, growing(left))
    # Where the air draws stars out, motion across it can round them: no mount is better than the best there is.
    still = still_share(scene)
    perfect = max(perfect_speed(scene, still), _best(unguided), 0.0 if guided is None else _best(guided))
    verdict = verdict_of(_best(unguided), None if guided is None else _best(guided), perfect)
    repair = None
    if verdict == "neither" and perfect > 0:
        repair = first_repair(scene, max(_best(unguided), 0.0 if guided is None else _best(guided)),
                              partial(_best_speed, guide_star, loop))
    rival = None if guided is None or verdict == "neither" else partial(_guided_speed, guide_star, loop)
    changes = () if not with_changes or not perfect > 0 else _changes(
        Search(scene, motion, _best(unguided), rival), verdict, unguided, guided, perfect,
        refraction="refraction" in ordered(budget)[:2])
    need = GuideNeed(
        verdict=verdict, unguided=unguided, guided=guided, perfect_speed=perfect, budget=budget,
        budget_exposure=unguided.longest, better_budget=(), repair=repair, changes=changes,
        reasons=(), guide_star=guide_star, loop=loop,
        air_keeps=_air_keeps(scene, unguided.recommended),
        with_guider=_with_guider(scene, motion, unguided, galactic_latitude))
    return replace(need, reasons=reasons_of(need, neither=NEITHER, gusts=scene.site.disturbance_interval,
                                           narrow=scene.band.origin.narrow),
                   better_budget=better_budget_at(scene, need, need.better.recommended))


def better_budget_at(scene: Scene, need: GuideNeed, exposure: u.Quantity[u.s]) -> tuple[BudgetTerm, ...]:
    """Return what moves the star within one sub of a length [s], scalar, of the way that the verdict names."""
    if need.better is not need.guided or need.loop is None or need.guide_star is None:
        return unguided_budget(scene, unguided_motion(scene), exposure)
    held = guided_motion(scene, need.loop, guide_star_offset=need.guide_star.offset)
    return guided_budget(scene, held, need.loop, exposure)


def _best(sub: SubExposure) -> float:
    """Return the best speed of a way, not rounded down by the ladder's preference for short subs."""
    return float(sub.ladder.speed.max())


def verdict_of(alone: float, guided: float | None, perfect: float) -> Verdict:
    """Return the verdict from the best speeds: unguided, guided (None: it cannot be) and on a mount without motion."""
    held = 0.0 if guided is None else guided
    if not max(alone, held) > 0 or max(alone, held) < NEITHER * perfect:
        return "neither"
    if guided is None:
        return "unguided"
    if abs(alone - held) <= EITHER * max(alone, held):
        return "either"
    return "unguided" if alone > held else "guided"


def _guided(scene: Scene, motion: StarMotion, star: GuideStar | None, star_magnitudes: u.Quantity | None,
            with_reasons: bool, start: GuideLoop | None, near: GuideLoop | None,
            ) -> tuple[SubExposure | None, GuideLoop | None, tuple[BudgetTerm, ...]]:
    """Return the guided way: its sub-exposure, its loop and what is left; nothing where it cannot be."""
    found = guided_share(scene, motion, star, nodes=None if with_reasons else SUB_LADDER, start=start, near=near)
    if found is None:
        return None, None, ()
    curve = speed_curve(scene, found.shares, FINE) if with_reasons else found.ladder
    guided = sub_exposure_of(scene, curve, star_magnitudes=star_magnitudes)
    left = guided_budget(scene, found.motion, found.loop, guided.longest) if with_reasons else ()
    return guided, found.loop, left


def _unguided(scene: Scene, motion: StarMotion, guided: SubExposure | None, star_magnitudes: u.Quantity | None
              ) -> SubExposure:
    """Return the unguided way on the ladder; roughly, where a rough look leaves it far behind the guided one."""
    if guided is not None:
        shares = kept_share(scene, motion, nodes=SUB_LADDER, middles=ROUGH[0], phases=ROUGH[1])
        curve = speed_curve(scene, shares, SUB_LADDER.value)
        if curve.speed.max() < FAR_BEHIND * _best(guided):
            return sub_exposure_of(scene, curve, star_magnitudes=star_magnitudes)
    curve = speed_curve(scene, kept_share(scene, motion, nodes=SUB_LADDER), SUB_LADDER.value)
    return sub_exposure_of(scene, curve, star_magnitudes=star_magnitudes)


def _plain_need(scene: Scene, unguided: SubExposure, guided: SubExposure | None, star: GuideStar | None,
                loop: GuideLoop | None) -> GuideNeed:
    """Return the verdict without its reasons; the air is asked only where the verdict hangs on it."""
    best, held = _best(unguided), None if guided is None else _best(guided)
    perfect = float(speed_curve(scene, None, FINE).speed.max())
    if verdict_of(best, held, perfect) == "neither":
        perfect = max(perfect_speed(scene), best, held or 0.0)
    return GuideNeed(
        verdict=verdict_of(best, held, perfect), unguided=unguided, guided=guided, perfect_speed=perfect, budget=(),
        budget_exposure=unguided.longest, better_budget=(), repair=None, changes=(), reasons=(), guide_star=star,
        loop=loop, air_keeps=np.nan, with_guider=None)


def _air_keeps(scene: Scene, length: u.Quantity) -> float:
    """Return the share of subs of a length that a perfect mount would keep of the stars."""
    return float(still_share(replace(scene, motion=STILL)).at(length.to_value(u.s).reshape(1))[0][0])


def _with_guider(scene: Scene, motion: StarMotion, unguided: SubExposure, galactic_latitude: u.Quantity
                 ) -> float | None:
    """Return how many times faster a plain guide scope would make a rig that has no guider."""
    if scene.rig.guider is not None or not _best(unguided) > 0:
        return None
    guided = replace(scene, rig=replace(scene.rig, guider=PLAIN_GUIDER))
    star = expected_star(PLAIN_GUIDER, galactic_latitude)
    return max(_guided_speed(star, None, guided, motion) / _best(unguided), 1.0)


def _guided_speed(star: GuideStar | None, near: GuideLoop | None, scene: Scene, motion: StarMotion) -> float:
    """Return the best guided speed of a scene, with a loop that served a scene like it."""
    found = guided_share(scene, motion, star, near=near)
    return 0.0 if found is None else float(found.ladder.speed.max())


def _best_speed(star: GuideStar | None, near: GuideLoop | None, scene: Scene) -> float:
    motion = unguided_motion(scene)
    alone = float(speed_curve(scene, kept_share(scene, motion), SUB_LADDER.value).speed.max())
    return max(alone, _guided_speed(star, near, scene, motion))


def _changes(search: Search, verdict: Verdict, unguided: SubExposure, guided: SubExposure | None, perfect: float, *,
             refraction: bool) -> tuple[Change, ...]:
    """Return what would turn the verdict, by its kind."""
    if guided is None or verdict == "neither":
        goal, share, purpose = NEITHER * perfect, None, HALF_WAY
    else:
        goal, share, purpose = (1 - EITHER) * _best(guided), 1 - EITHER, NO_GUIDING
    found = changes_of(search, goal, share=share, reached=_best(unguided) >= goal, purpose=purpose,
                       refraction=refraction)
    return found if guided is None else (*found, _length_change(unguided, guided))


def _length_change(unguided: SubExposure, guided: SubExposure) -> Change:
    """Return the longest sub-exposure at which unguided is as good as guided, and what so short a sub costs."""
    length = unguided.curve.exposure
    missed = np.flatnonzero(unguided.curve.speed < (1 - EITHER) * guided.curve.speed)
    if missed.size == 0:
        return Change(what="sub-exposure", present=unguided.recommended, needed=length[-1],
                      sentence="At every length unguided subs are as good as guided ones.")
    if missed[0] == 0:
        return Change(what="sub-exposure", present=unguided.recommended, needed=None,
                      sentence="At no length are unguided subs as good as guided ones.")
    needed, share = length[missed[0] - 1], _best(unguided) / _best(guided)
    return Change(what="sub-exposure", present=unguided.recommended, needed=needed,
                  sentence=f"Subs up to {needed.value:.0f} s are as good unguided as guided"
                           + (f"; the best unguided length brings {percent(share)} of the best guided speed."
                              if share < 1 else "."))
