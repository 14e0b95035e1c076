"""Both ways of working at every length, draw by draw: what no draw changes is worked out once, in plain floats.

A draw turns the polar axis, scales the drive, the walk and the jitter, widens the still star and brightens the sky.
Exposures in time, drive phases, walks and overheads stay; the guide loop stays as set for the inputs as they stand.
"""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from astropy import units as u

from planner.exposure.guide_need import NEITHER, GuideNeed
from planner.exposure.guide_star import GuideStar
from planner.exposure.kept_share import KeptShare
from planner.exposure.light.noise import PIXEL_RATE, dark_rate
from planner.exposure.light.saturation import saturation_limit
from planner.exposure.scene import Scene
from planner.exposure.share_grid import share_grid, share_on
from planner.exposure.speed import SUB_LADDER, speed_losses
from planner.exposure.star_motion import (
    QUICK,
    StarMotion,
    air_blur,
    guided_motion,
    left_in_subs,
    middle_hour_angles,
    track_place,
    unguided_motion,
)
from planner.exposure.sub_exposure import perfect_speed
from planner.exposure.uncertainty.inputs import POLAR, Draw, OpenInput
from planner.tracking import GuideLoop
from planner.tracking.drift import SmoothTrack, guided_track_kernel, mount_geometry, smooth_track_kernel
from planner.tracking.moments.drive_moments import Drive, KnownDrive, Turns
from planner.tracking.moments.window_moments import ExposureGrid, smooth_series
from planner.tracking.mount_frame import Array, MountGeometry, refraction_pair
from planner.tracking.own_motion import moving_on
from planner.tracking.polar_axis import pole_turn

LADDER_S = SUB_LADDER.to_value(u.s)
NODES = np.geomspace(LADDER_S[0], LADDER_S[-1], 19) * u.s
MIDDLES, PHASES = 4, 89
# Standard deviations of the seeing's logarithm, and what each stands for: a rule of Gauss and Hermite.
SEEINGS = (np.array([-2.857, -1.3556, 0.0, 1.3556, 2.857]), np.array([0.01126, 0.22208, 0.53332, 0.22208, 0.01126]))


@dataclass(frozen=True)
class Drawn:
    """What both ways bring in one draw."""

    speeds: Array  # (2, lengths)
    shares: tuple[KeptShare, KeptShare | None]
    perfect: float  # best speed of a mount that moves no star
    background: float  # over that of the inputs as they stand

    def kept_at_first(self, way: int, exposure_s: float) -> float:
        """Return the share of the window's first subs that a way keeps, none too wide for its place in the sky."""
        shares = self.shares[way]
        if shares is None:
            return 0.0
        first = replace(shares, log_margin=shares.log_margin[:, :2], light=shares.light[:, :2], air=np.ones(1))
        return float(first.at(np.array([exposure_s]))[0][0])


class Ways:
    """Both ways of a scene with its verdict, to be asked for any draw of what is open."""

    def __init__(self, scene: Scene, need: GuideNeed) -> None:
        self.scene, self.light, self.frame = scene, _Light(scene), _Frame(scene)
        self.one_night = replace(scene.site, seeing_spread=0.0)  # a draw of the seeing has that of its night
        self.terms = [term for term in scene.rig.mount.periodic if term.amplitude > 0]  # in the order of the loop
        mount = scene.rig.mount
        self.jitter, self.sway = (value.to_value(u.arcsec) for value in (mount.jitter, scene.rig.sway))
        self.walk = float(mount.wander.to_value(u.arcsec / u.s**0.5))
        self.alone = _Exposures(scene, replace(unguided_motion(scene), axis_drift=np.zeros(2) * u.arcsec / u.s))
        self.held = (None if need.loop is None or need.guide_star is None
                     else _Held(scene, need.loop, need.guide_star))
        self.air_share = min(float((scene.seeing_fwhm / scene.response.still.fwhm).to_value(u.one)) ** 2, 1.0)
        self.exact = np.ones((2, LADDER_S.size))  # of the draws by which it is found
        self.exact = self._exact(need)

    def at(self, draw: Draw) -> Drawn:
        """Return both ways at every length in a draw."""
        scene, response = self.scene, self.scene.response
        wider = self._wider(draw)
        sky, read_noise = draw.factor("sky"), draw.factor("read noise")
        still = self.light.speed(sky, read_noise) / wider
        place = self.one_night if any(item.name == "seeing" for item in draw.inputs) else scene.site
        one = replace(scene, site=place,
                      response=replace(response, still_variance=response.still_variance * wider))
        speeds, both = np.zeros((2, LADDER_S.size)), self._shares(one, draw)
        for way, shares in enumerate(both):
            if shares is not None:
                kept, light = shares.at(LADDER_S)
                speeds[way] = still * kept * light * self.exact[way]
        perfect = float(still.max())
        if speeds.max() < NEITHER * perfect:  # elsewhere the air does not decide
            perfect = perfect_speed(replace(one, sky_rate=scene.sky_rate * sky,
                                            read_noise=scene.read_noise * read_noise)) / wider
        return Drawn(speeds, both, perfect, self.light.background(sky) / self.light.background(1.0))

    def _wider(self, draw: Draw) -> float:
        """Return the variance of a draw's still star over that of the inputs as they stand."""
        return 1 + self.air_share * (draw.factor("seeing") ** 2 - 1)

    def _exact(self, need: GuideNeed) -> Array:
        """Return the verdict's speeds over those of few exposures on the nights' seeing, (2, lengths), 0.5 to 2.

        The few exposures are the same in all draws, and so is most of what they get wrong: a control variate.
        """
        nights = OpenInput(name="seeing", figure="seeing", spread=self.scene.site.seeing_spread, assumed=False)
        coarse = np.zeros((2, LADDER_S.size))
        for off, share in zip(*SEEINGS, strict=True):
            draw = Draw((nights,), np.array([off]))
            coarse += share * self._wider(draw) * self.at(draw).speeds
        exact = np.array([coarse[way] if sub is None else sub.ladder.speed
                          for way, sub in enumerate((need.unguided, need.guided))])
        ratio = np.divide(exact, coarse, out=np.ones_like(exact), where=(coarse > 0) & (exact > 0))
        return np.clip(ratio, 0.5, 2.0)

    def _shares(self, one: Scene, draw: Draw) -> tuple[KeptShare, KeptShare | None]:
        """Return the kept share of both ways, on the still star of a draw."""
        factors = np.array([draw.amplitude_factor(term) for term in self.terms])
        geometry = self.frame.geometry(draw)
        jitter = np.hypot(self.jitter * draw.factor("jitter"), self.sway)
        alone = self.alone.shares(
            one, self.frame.unguided(geometry), factors, jitter_arcsec=np.full(2, jitter),
            walk_arcsec=self.walk * draw.factor("wander"),
            slow=np.full(2, (self.sway / jitter) ** 2 if self.sway > 0 else 0.0))
        return alone, None if self.held is None else self.held.shares(one, draw, factors, self.frame, geometry)


class _Light:
    """What a camera makes of sky and clock at every length."""

    def __init__(self, scene: Scene) -> None:
        rig, rates = scene.rig, (scene.signal_rate, scene.sky_rate, scene.dark_rate)
        self.signal, self.sky, self.dark = (float(rate.to_value(PIXEL_RATE)) for rate in rates)
        self.read_noise = float(scene.read_noise.to_value(u.electron))
        self.overhead_s = rig.overhead(SUB_LADDER).to_value(u.s)
        self.interval_s = scene.site.disturbance_interval.to_value(u.s)
        self.well = float(saturation_limit(rig.camera).to_value(u.electron))
        self.pixel = self.sky / rig.binning**2, float(dark_rate(rig.camera).to_value(PIXEL_RATE))

    def background(self, sky: float) -> float:
        """Return source, sky (times a factor) and dark current."""
        return self.signal + sky * self.sky + self.dark

    def speed(self, sky: float, read_noise: float) -> Array:
        """Return the speed of a mount that moves no star, with sky and read noise times factors."""
        losses = speed_losses(LADDER_S, self.overhead_s, self.background(sky), read_noise * self.read_noise,
                              self.interval_s)
        unfilled = LADDER_S * (sky * self.pixel[0] + self.pixel[1]) < self.well
        return np.prod(losses, axis=0) * unfilled


class _Frame:
    """Where target, air and mount stand: the star's path for any polar axis."""

    def __init__(self, scene: Scene) -> None:
        place, mount = track_place(scene), scene.rig.mount
        self.motion = scene.motion
        self.latitude, self.declination, self.hours = (
            place[name].to_value(u.rad) for name in ("latitude", "declination", "hour_angle"))
        self.upright = mount_geometry(place["latitude"], 0 * u.deg, 0 * u.deg, place["pointing_terms"], "east")
        self.air = refraction_pair(*(place[name] for name in ("pressure", "temperature", "wavelength")))
        self.axis = {name: mount.axis[key].to_value(u.arcmin) for name, key in POLAR.items()}
        self.rate = mount.rate, mount.rate_error_ppm
        self.flexure = tuple(creep.to_value(u.arcsec / u.s) for creep in (mount.flexure_ra, mount.flexure_dec))

    def geometry(self, draw: Draw) -> MountGeometry:
        """Return the mount with the polar axis of a draw."""
        altitude, azimuth = (np.radians((value + draw.shift(name)) / 60) for name, value in self.axis.items())
        return replace(self.upright, pole=pole_turn(self.latitude, altitude, azimuth))

    def unguided(self, geometry: MountGeometry) -> SmoothTrack:
        """Return where the star drifts on the drive alone."""
        return moving_on(smooth_track_kernel(geometry, self.latitude, self.declination, self.hours, *self.rate,
                                             self.air, self.flexure), self.motion)

    def guided(self, geometry: MountGeometry, offset_rad: Array) -> SmoothTrack:
        """Return where it drifts while a guide star at an offset is held."""
        return moving_on(guided_track_kernel(geometry, self.declination, self.hours, offset_rad, self.air), self.motion)


class _Held:
    """The guided way: the loop as set for the inputs as they stand, each of its terms scaled by a draw."""

    def __init__(self, scene: Scene, loop: GuideLoop, star: GuideStar) -> None:
        self.scene, self.loop, self.offset = scene, loop, star.offset.to_value(u.rad)
        self.motion = guided_motion(scene, loop, guide_star_offset=star.offset)
        self.left = loop.left_amplitudes.to_value(u.arcsec)
        self.on_sky = self.left * np.cos(scene.declination.to_value(u.rad))
        self.exposures: dict[tuple[int, ...], _Exposures] = {}  # by the terms that are felt

    def shares(self, one: Scene, draw: Draw, factors: Array, frame: _Frame, geometry: MountGeometry) -> KeptShare:
        """Return the kept share on the still star of a draw, the drive's terms times these factors."""
        squares, quick = self._squares(draw, factors)
        felt, left, slow = left_in_subs(self.on_sky * factors, squares, quick, one.response.still_variance)
        key = tuple(felt)
        if key not in self.exposures:
            self.exposures[key] = _Exposures(self.scene, replace(
                self.motion, periods=self.loop.periods[felt], amplitudes=self.loop.left_amplitudes[felt],
                free_amplitudes=self.loop.free_amplitudes[felt]))
        return self.exposures[key].shares(one, frame.guided(geometry, self.offset), factors[felt],
                                          jitter_arcsec=np.sqrt(left), walk_arcsec=0.0, slow=slow)

    def _squares(self, draw: Draw, factors: Array) -> tuple[Array, Array]:
        """Return what is left in RA and Dec, and what of it is over within a cycle of the loop [arcsec2]."""
        before, seeing = np.sum(self.left**2), draw.factor("seeing")
        scale = {"periodic error": np.sqrt(np.sum((self.left * factors) ** 2) / before) if before > 0 else 1.0,
                 "jitter": draw.factor("jitter"), "wander": draw.factor("wander"), "guide star noise": seeing,
                 "image motion": seeing ** (5 / 6) * draw.factor("image motion")}
        rows = [(row.axis, row.term in QUICK, (row.rms.value * scale.get(row.term, 1.0)) ** 2)
                for row in self.loop.terms]
        every, quick = (np.array([sum(square for axis, quick, square in rows if axis == one and (quick or not only))
                                  for one in ("ra", "dec")]) for only in (False, True))
        return every, quick


class _Exposures:
    """Exposures of one way of working: everything about them that no draw changes."""

    def __init__(self, scene: Scene, motion: StarMotion) -> None:
        self.grid = share_grid(scene, motion, nodes=NODES, middles=MIDDLES, phases=PHASES)
        cosine = np.cos(scene.declination.to_value(u.rad))
        self.turns = Turns(self.grid.seconds, motion.periods.to_value(u.s), self.grid.phases)
        self.amplitudes = motion.amplitudes_in(self.grid.seconds) * cosine
        self.drive = Drive(self.turns, self.amplitudes).known()
        middle = middle_hour_angles(scene, self.grid.start_rad.shape[1]).to_value(u.rad)
        self.rest: dict[str, Any] = {
            "places": len(self.grid.places_arcsec), "seconds": self.grid.seconds, "walks": self.grid.walks,
            "shakes": self.grid.shakes, "creeps": self.grid.creeps,
            "memory_s": float(motion.memory.to_value(u.s)),
            "step_arcsec": float(motion.encoder_step.to_value(u.arcsec) * cosine),
            "air_arcsec2": air_blur(scene, middle)}

    def shares(self, one: Scene, track: SmoothTrack, factors: Array, **motion: Any) -> KeptShare:
        """Return the kept share on a track, amplitudes times factors (m,), the rest as for `ExposureGrid`."""
        every = np.arange(self.grid.seconds.size)
        if factors.size == 0 or np.ptp(factors) == 0:
            drive: Drive | KnownDrive = self.drive.part(every, slice(None), float(factors[0]) if factors.size else 1.0)
        else:
            drive = Drive(self.turns, self.amplitudes * factors)
        series = smooth_series(track, self.grid.seconds, self.grid.start_rad, self.grid.places_arcsec)
        windows = ExposureGrid(series, drive, **self.rest, **motion)
        return share_on(one, self.grid, lambda lengths, places, phases: windows.part(
            lengths, places, phases, series=series, drive_scale=1.0))
