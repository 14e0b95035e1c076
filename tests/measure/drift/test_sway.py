"""The sway of a pier measured: a wind drawn tick by tick on a mount that jitters, wanders and has a worm."""

import math

import numpy as np
import pytest
from astropy import units as u

from planner.cli import run
from planner.errors import InvalidInputError
from planner.measure.drift.model import DriftLog
from planner.measure.drift.report import analyse_drift
from planner.measure.drift.sway import measured_sway

EDDY = 300 * (5 / 200) ** (0.67 + 0.05 * math.log(0.3))  # m: EN 1991-1-4 eq. B.1 for terrain III at 5 m, from memory
MEAN, TICK = 2.14, 0.25  # m/s of a wind whose gusts have 4 m/s; s


def wind(dice, count=2**15):
    """Place of the star in units of its rms: the spectrum of EN 1991-1-4 eq. B.2, tick by tick."""
    frequency = np.fft.rfftfreq(count, TICK)
    power = 1 / (1 + 10.2 * frequency * EDDY / MEAN) ** (5 / 3)
    drawn = (dice.standard_normal(frequency.size) + 1j * dice.standard_normal(frequency.size)) * np.sqrt(power)
    drawn[0] = 0
    path = np.fft.irfft(drawn)
    return path / path.std()


def rows(sway, seed, step=2.0, minutes=45):
    dice = np.random.default_rng(seed)
    count, ticks = int(60 * minutes / step), int(step / TICK)

    def axis():
        blown = sway * wind(dice)[: count * ticks].reshape(count, ticks).mean(axis=1)
        return blown + 0.2 * dice.standard_normal(count) + np.cumsum(dice.normal(0, 0.1 * np.sqrt(step / 60), count))

    time = np.arange(count) * step
    return time, axis() + 3 * np.sin(2 * np.pi * time / 480) + 0.01 * time, axis() + 0.005 * time


def report(sway, seed, step=2.0):
    time, ra, dec = rows(sway, seed, step)
    return analyse_drift(DriftLog(time=time * u.s, ra=ra * u.arcsec, dec=dec * u.arcsec, exposure=step * u.s))


@pytest.mark.parametrize(("sway", "step"), [(0.3, 2.0), (0.8, 2.0), (0.8, 5.0)])
def test_a_drawn_wind_is_found(sway, step):
    found = [measured_sway(report(sway, seed, step)) for seed in (1, 2)]
    for one in found:
        assert one.sway.value == pytest.approx(sway, rel=0.25)  # of one wind: its own chance
        assert abs(one.sway.value - sway) < 3 * one.sway_error.value
        assert one.stands_out
        assert 4 < one.memory.value < 60  # 14 s


def test_no_wind_is_no_sway():
    found = measured_sway(report(0.0, 3))
    assert not found.stands_out
    assert "No sway stands out" in found.lines[0]


def test_a_calm_log_is_taken_off():
    windy = report(0.8, 1)
    both = measured_sway(windy, report(0.3, 2))
    assert both.sway.value == pytest.approx(math.sqrt(0.8**2 - 0.3**2), rel=0.25)
    assert both.beside_calm
    assert measured_sway(windy, windy).sway == 0


def test_rows_that_say_nothing_are_refused():
    still = np.random.default_rng(1).normal(size=300)
    with pytest.raises(InvalidInputError, match="must be at most 10 s"):
        measured_sway(analyse_drift(DriftLog(time=np.arange(300) * 15 * u.s, ra=still * u.arcsec,
                                             dec=still * u.arcsec)))


def test_the_command(capsys, tmp_path):
    file = tmp_path / "windy.csv"
    file.write_text("\n".join(["time_s,ra_arcsec,dec_arcsec", *(f"{t:.2f},{a:.3f},{b:.3f}" for t, a, b in
                                                               zip(*rows(0.8, 1), strict=True))]))
    assert run(["pier", "sway", str(file)]) == 0
    out = capsys.readouterr().out
    assert 'Write sway = "' in out
    assert "--calm" in out
