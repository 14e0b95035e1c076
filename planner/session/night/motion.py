"""What the mount does to the stars of each target: the share of subs kept, by length and hour, unguided and guided.

Computed over the target's hours of the night, once for all filters through which the air draws stars out alike: by
itself the width of a star changes by 4 % from the middle of the visible to its ends. What else depends on filter, sky
and Moon (`planner.exposure.speed`) is put on top for every slot. Over the whole window it is an advice's kept share:
hours in which the air alone makes stars too wide against the window's typical hour bring nothing.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from astropy import units as u

from planner.checks import given
from planner.exposure.guide_star import GuideStar
from planner.exposure.guided_share import EVEN, guided_share, share_with
from planner.exposure.kept_share import KeptShare
from planner.exposure.light.photons import LightPath
from planner.exposure.scene import Scene, observing_scene, over_window
from planner.exposure.share_grid import kept_share, not_too_wide, still_growth
from planner.exposure.speed import SUB_LADDER
from planner.exposure.star_motion import unguided_motion
from planner.optics import sigma_from_fwhm
from planner.rig import Filter, Rig, Site
from planner.session.advice.guide_star import NearbyStars, guide_star
from planner.sky.dispersion import dispersion
from planner.tracking import GuideLoop
from planner.visibility.target import Target

GOOD = 1 - EVEN  # of a perfect mount: guiding could not win by more than what counts as equal
ALIKE, AIRMASS, LOW = 0.07, 2.0, 30 * u.deg
PIECES = 48  # of the window, in which shares are told apart
MIDDLES = (np.arange(PIECES) + 0.5) / PIECES


@dataclass(frozen=True, kw_only=True)
class MountMotion:
    """Shares over SUB_LADDER and the target's window; methods are unguided, and guided where it is worth trying."""

    scene: Scene
    kept: np.ndarray  # (methods, lengths, PIECES), share of subs that stay round and small, but for the air
    light: np.ndarray  # (methods, lengths, PIECES), noise-equivalent area without motion over that with it
    air: np.ndarray  # (PIECES,), share in which the air alone makes no star too wide
    star: GuideStar | None
    loop: GuideLoop | None  # of the guided way

    @property
    def too_wide_below(self) -> u.Quantity[u.deg] | None:
        """Return the altitude below which the air alone makes most subs too wide; None where it does nowhere."""
        wide = self.air < 0.5
        altitude = self.scene.altitude
        return np.interp(MIDDLES, np.linspace(0, 1, altitude.size), altitude)[wide].max() if wide.any() else None

    def at(self, hour_angle: u.Quantity[u.deg]) -> tuple[np.ndarray, np.ndarray]:
        """Return the kept share, air included, and the light at hour angles (k,), (methods, lengths, k) each."""
        place = self._place(hour_angle)
        return _along(self.kept * self.air, place), _along(self.light, place)

    def air_at(self, hour_angle: u.Quantity[u.deg]) -> np.ndarray:
        """Return the share in which the air alone makes no star too wide at hour angles (k,)."""
        return _along(self.air, self._place(hour_angle))

    def _place(self, hour_angle: u.Quantity[u.deg]) -> np.ndarray:
        """Return where in the window hour angles are, from 0 to 1."""
        known = self.scene.hour_angle.to_value(u.deg)
        middle = (known[0] + known[-1]) / 2
        return np.interp((hour_angle.to_value(u.deg) - middle + 180) % 360 - 180 + middle, known,
                         np.linspace(0, 1, known.size))


def stand_ins(rig: Rig, site: Site) -> dict[str, Filter]:
    """Return the filter through which the stars of each of a rig's filters are judged, by name: one for all alike.

    The air draws stars out through the one as through the other where that differs, at airmass 2, by less than `ALIKE`
    of a still star's variance.
    """
    wide = np.hypot(site.seeing * AIRMASS**0.6, rig.telescope.field_blur)
    drawn = {band.name: float((_drawn_out(rig, site, band) / sigma_from_fwhm(wide) ** 2).to_value(u.one))
             for band in rig.filters}
    found: dict[str, Filter] = {}
    left = sorted(rig.filters, key=lambda band: drawn[band.name])
    while left:
        alike = [band for band in left if drawn[band.name] - drawn[left[0].name] < ALIKE]
        left = left[len(alike):]
        middle = (drawn[alike[0].name] + drawn[alike[-1].name]) / 2
        stands = min(alike, key=lambda band: abs(drawn[band.name] - middle))
        found |= dict.fromkeys((band.name for band in alike), stands)
    return found


def mount_motions(target: Target, rig: Rig, site: Site, through: Mapping[str, Filter], bands: Collection[Filter],
                  hour_angle: u.Quantity[u.deg], stars: NearbyStars | None = None) -> dict[str, MountMotion]:
    """Return what the mount does to a target's stars through each filter, by name: the same for all that are alike.

    `through`: from `stand_ins`. `bands`: the rig's. The rest as for `mount_motion`.
    """
    found: dict[str, MountMotion] = {}
    for stands in dict.fromkeys(through[band.name] for band in bands):
        like = next(iter(found.values()), None)
        found[stands.name] = mount_motion(target, rig, site, stands, hour_angle, stars, like)
    return {band.name: found[through[band.name].name] for band in bands}


def _drawn_out(rig: Rig, site: Site, band: Filter) -> u.Quantity[u.arcsec**2]:
    """Return the variance of a star along the vertical by the air's dispersion within a filter, at airmass 2."""
    light = LightPath(rig, band, site).recorded
    ends = light.centre - light.width / 2, light.centre + light.width / 2
    length = dispersion(LOW, shortest=ends[0], longest=ends[1], pressure=site.station_pressure,
                        temperature=site.temperature)
    return length**2 / 12  # as of even light


def mount_motion(target: Target, rig: Rig, site: Site, band: Filter, hour_angle: u.Quantity[u.deg],
                 stars: NearbyStars | None = None, like: MountMotion | None = None) -> MountMotion:
    """Return what the mount does to a target's stars over its hours of the night.

    `band`: the filter, or what stands for it in `stand_ins`. `hour_angle` (h,): evenly spread over the window, target
    above the horizon. `stars`: catalogue stars around the target, for the guide star. `like`: that of the same hours
    through another filter; the guide star and the loop are its.
    """
    scene = observing_scene(rig, site, band, declination=target.dec, hour_angle=hour_angle, motion=target.motion)
    motion = unguided_motion(scene)
    # At the ladder's lengths alone: an advice's within 0.02, for a third of the work.
    shares = [_over_pieces(scene, kept_share(scene, motion, nodes=SUB_LADDER))]
    star = guided = None
    if rig.guider is not None and (shares[0][0] * shares[0][1]).mean(axis=1)[_useful()].min() < GOOD:
        star = guide_star(rig, target, stars) if like is None or like.star is None else like.star
        guided = (guided_share(scene, motion, star, nodes=SUB_LADDER) if like is None or like.loop is None
                  else share_with(scene, given(star), like.loop, nodes=SUB_LADDER))
    if guided is not None:
        shares.append(_over_pieces(scene, guided.shares))
    kept, light = (np.array([share[part] for share in shares]) for part in (0, 1))
    return MountMotion(scene=scene, kept=kept, light=light, star=star,
                       loop=None if guided is None else guided.loop,
                       air=np.broadcast_to(not_too_wide(scene, PIECES + 1), PIECES))


def _useful() -> np.ndarray:
    """Return the lengths that any filter could ask for: from a minute up to ten."""
    return (SUB_LADDER.value >= 60) & (SUB_LADDER.value <= 600)


def _over_pieces(scene: Scene, shares: KeptShare) -> tuple[np.ndarray, np.ndarray]:
    """Return kept share and light in each piece of the window, (lengths, PIECES), beside a still star in that hour."""
    kept, light = (_along(part, MIDDLES) for part in shares.by_hour(SUB_LADDER.to_value(u.s)))
    shown = 1 / still_growth(scene, PIECES + 1)[:, 0]  # a star low down is wide, moved or not: the plan counts that
    return kept, light * over_window(shown) / np.interp(MIDDLES, np.linspace(0, 1, shown.size), shown)


def _along(values: np.ndarray, place: np.ndarray) -> np.ndarray:
    """Return what holds in even cells of a window (…, c) at places in it from 0 to 1, (…, k)."""
    at = np.clip(place * values.shape[-1] - 0.5, 0, values.shape[-1] - 1)
    below = np.minimum(at.astype(int), max(values.shape[-1] - 2, 0))
    part = at - below
    return values[..., below] * (1 - part) + values[..., np.minimum(below + 1, values.shape[-1] - 1)] * part
