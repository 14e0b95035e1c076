"""Calibration frames: flats in twilight while the sky's light suits each filter, darks once the telescope is covered.

In the evening the sky fades: the filter that passes least has its flats first, for it needs the brightest sky; at dawn
it is the other way round. A flat's length is that at which the zenith fills half of the full well, by the twilight of
`planner.sky.twilight`; a filter's turn begins when that takes long enough and must be over before it takes too long.
What does not fit in the evening is left to the dawn.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from astropy import units as u

from planner.checks import Model, plain
from planner.exposure.light.noise import PIXEL_RATE
from planner.exposure.light.photons import LightPath
from planner.rig import Filter, Rig, Site
from planner.session.night.model import Block, Event
from planner.visibility import Night, utc_time
from planner.visibility.darkness import sun_altitude
from planner.visibility.earth_rotation import mjd_tt

# Common practice, no source.
LEVEL = 0.5  # of the full well
SHORTEST_S, LONGEST_S = 1.0, 30.0  # of a flat: a shutter's own time, and stars in the field
GRID = 40
_NUMBER: dict[str, Any] = {"at_least": 0, "at_most": 1000, "remedy": "Give a number of frames, 0 for none."}


@dataclass(frozen=True, kw_only=True)
class Calibration(Model):
    """How many frames an observer takes: of each filter, each length, each filter's flat length, and of bias."""

    flats: int = plain("whole", default=20, **_NUMBER)
    darks: int = plain("whole", default=20, **_NUMBER)
    dark_flats: int = plain("whole", default=0, **_NUMBER)
    bias: int = plain("whole", default=0, **_NUMBER)


@dataclass(frozen=True)
class _Turn:
    """One filter's flats: MJD in TT, and the lengths of the first and last [s]."""

    band: Filter
    start: float
    end: float
    lengths: tuple[float, float]


def calibration_events(blocks: Sequence[Block], night: Night, rig: Rig, site: Site, wanted: Calibration
                       ) -> tuple[Event, ...]:
    """Return flats at dusk, those that do not fit at dawn, and what is taken covered after the last block."""
    bands = list({block.band.name: block.band for block in blocks}.values())
    turns = flat_turns(bands, night, rig, site, wanted.flats)
    left = [band.name for band in bands if band.name not in {turn.band.name for turn in turns}]
    events = [Event(kind="flats", start=utc_time(turn.start), end=utc_time(turn.end),
                    text=f"{wanted.flats} flats of {turn.band.name}, {_lengths(turn)}") for turn in turns]
    if left and wanted.flats:
        events += [Event(kind="flats", start=blocks[-1].end, end=blocks[-1].end,
                         text=f"no twilight has room for {wanted.flats} flats of {', '.join(left)}: fewer, or a panel")]
    return (*events, *_covered(blocks, night, rig, wanted, turns))


def flat_turns(bands: Sequence[Filter], night: Night, rig: Rig, site: Site, count: int) -> tuple[_Turn, ...]:
    """Return when which filter has its flats: as many as fit at dusk, the others at dawn, in order of time."""
    if not count:
        return ()
    dusk, left = _fitting(bands, _Twilight(night, rig, site, evening=True), count)
    dawn, _ = _fitting(left, _Twilight(night, rig, site, evening=False), count)
    return (*dusk, *reversed(dawn))


class _Twilight:
    """The length that a flat takes in one twilight, against minutes from the horizon: it grows towards the night."""

    def __init__(self, night: Night, rig: Rig, site: Site, *, evening: bool) -> None:
        edge = night.sunset if evening else night.sunrise
        self.there, self.rig, self.site, self.way = edge is not None, rig, site, 1 if evening else -1
        if edge is None:
            return
        self.edge = float(mjd_tt(edge))
        middle = float(mjd_tt(night.middle))
        deep = night.twilights[1]
        end = deep.dusk if evening else deep.dawn
        self.days = np.linspace(0.0, abs((middle if end is None else float(mjd_tt(end))) - self.edge), GRID)
        self.sun = sun_altitude(site, utc_time(self.edge + self.way * self.days))

    def lengths(self, band: Filter) -> np.ndarray:
        """Return the length of a flat at each day of the grid [s]."""
        rate = LightPath(self.rig, band, self.site).sky(altitude=90 * u.deg, sun_altitude=self.sun)
        return LEVEL * self.rig.camera.full_well.to_value(u.electron) / rate.to_value(PIXEL_RATE)


def _fitting(bands: Sequence[Filter], twilight: _Twilight, count: int) -> tuple[list[_Turn], list[Filter]]:
    """Return the turns of the filters that fit, from the brightest sky on, and the filters left over."""
    if not twilight.there:
        return [], list(bands)
    lengths = {band.name: twilight.lengths(band) for band in bands}
    turns: list[_Turn] = []
    left, free = [], 0.0
    for band in sorted(bands, key=lambda band: -float(lengths[band.name][0])):  # what passes least first
        taken = _taken(lengths[band.name], twilight, free, count)
        if taken is None:
            left.append(band)
            continue
        begin, free, first, last = taken
        edges = sorted(twilight.edge + twilight.way * at for at in (begin, free))
        turns.append(_Turn(band, edges[0], edges[1], (first, last)))
    return turns, left


def _taken(lengths: np.ndarray, twilight: _Twilight, free: float, count: int
           ) -> tuple[float, float, float, float] | None:
    """Return from when to when (days) flats are taken and their first and last length; None if they do not fit."""
    days, download = twilight.days, twilight.rig.camera.download.to_value(u.s)
    at = max(free, float(np.interp(np.log(SHORTEST_S), np.log(lengths), days)))
    begin, taken = at, list(_frames(lengths, days, at, download, count))
    if len(taken) < count:
        return None
    return begin, begin + sum(taken) / 86400 + count * download / 86400, taken[0], taken[-1]


def _frames(lengths: np.ndarray, days: np.ndarray, at: float, download: float, count: int) -> Iterator[float]:
    """Give the length of each flat in turn, while none is too long."""
    for _ in range(count):
        length = float(np.exp(np.interp(at, days, np.log(lengths))))
        if length > LONGEST_S or length < SHORTEST_S * 0.999 or at >= days[-1]:
            return
        yield length
        at += (length + download) / 86400


def _lengths(turn: _Turn) -> str:
    first, last = (f"{length:.2g}" for length in turn.lengths)
    return f"{first} s" if first == last else f"{min(turn.lengths):.2g} to {max(turn.lengths):.2g} s"


def _covered(blocks: Sequence[Block], night: Night, rig: Rig, wanted: Calibration, turns: Sequence[_Turn]
             ) -> list[Event]:
    """Return darks, dark flats and bias, from the last block to sunrise at most."""
    lengths = sorted({block.sub_exposure.to_value(u.s) for block in blocks})
    flat = [max(turn.lengths) for turn in turns]
    parts = [(wanted.darks, lengths, f"{wanted.darks} darks each of {', '.join(f'{one:g} s' for one in lengths)}"),
             (wanted.dark_flats, flat, f"{wanted.dark_flats} dark flats each as long as the flats of "
              f"{', '.join(turn.band.name for turn in turns)}"),
             (wanted.bias, [0.0], f"{wanted.bias} bias")]
    parts = [part for part in parts if part[0] and part[1]]
    if not parts:
        return []
    download = rig.camera.download.to_value(u.s)
    start = float(mjd_tt(blocks[-1].end))
    end = start + sum(number * (sum(each) + download * len(each)) for number, each, _ in parts) / 86400
    last = end if night.sunrise is None else min(end, float(mjd_tt(night.sunrise)))
    late = f"; {(end - last) * 24:.1f} h of them after sunrise: rather on a cloudy night" if end > last else ""
    what = ", ".join(words for _, _, words in parts)
    return [Event(kind="darks", start=blocks[-1].end, end=utc_time(last),
                  text=f"{what}, telescope covered, unless kept from before{late}")]
