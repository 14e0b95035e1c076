"""Logs of the wrong kind are recognised, named and kept out of the file; what can be solved is solved."""

from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from measure.star_paths import guided, motion, rows, slow_air

from planner.measure.drift.answer import drift_answer
from planner.measure.drift.corrections import jumps_back
from planner.measure.drift.doubts import JUMPS_BACK, doubts_of
from planner.measure.drift.held import held_odds
from planner.measure.drift.report import ROOT_MINUTE, analyse_drift
from planner.measure.posterior.mount import measured_mount
from planner.rig import Mount, PeriodicTerm

SEEDS = range(4)
RATE = u.arcsec / u.min


def kinds(log, mount=None):
    return {doubt.kind for doubt in doubts_of(analyse_drift(log), mount)}


@pytest.mark.parametrize("minutes", [10, 40])
@pytest.mark.parametrize("periodic", [((480.0, 5.0),), ((430.0, 18.0), (72.0, 1.5)), ((660.0, 0.25),)])
def test_a_guided_log_is_named(minutes, periodic):
    for seed in range(2):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, minutes, periodic=periodic)
        assert "guided" in kinds(rows(rng, time, guided(rng, paths)))


@pytest.mark.parametrize("held", ["RA", "Dec"])
@pytest.mark.parametrize(("minutes", "cycle", "periodic"), [(40, 2, ((480.0, 5.0),)), (40, 20, ((660.0, 0.25),))])
def test_a_log_guided_on_one_axis_is_named_with_the_axis(held, minutes, cycle, periodic):
    mount = Mount(name="own", wander=0.25 * ROOT_MINUTE, periodic=tuple(
        PeriodicTerm(period=period * u.s, amplitude=size * u.arcsec) for period, size in periodic))
    for seed in range(2):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, minutes, periodic=periodic)
        left = guided(rng, paths, exposure=cycle)
        log = rows(rng, time, (left[0], paths[1]) if held == "RA" else (paths[0], left[1]))
        found = [doubt.rule for doubt in doubts_of(analyse_drift(log), mount) if doubt.kind == "guided"]
        assert len(found) == 1
        assert f"guided in {held}, " in found[0]


def test_a_loop_that_leaves_a_strong_worm_is_known_by_its_regular_jumps():
    # 18 arcsec in 410 s, corrected every 20 s: half of the worm is left, and hides that the drift is gone.
    for seed in range(2):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 30, periodic=((410.0, 18.0), (68.0, 1.5)))
        left = guided(rng, paths, exposure=20)
        assert jumps_back(analyse_drift(rows(rng, time, (left[0], paths[1]))).ra) > JUMPS_BACK
        assert jumps_back(analyse_drift(rows(rng, time, paths)).ra) < JUMPS_BACK


def test_a_slow_loop_of_low_gain_is_not_believed():
    # A correction of 0.15 of what is seen every 12 s, 80 s to respond: 70 % of a worm of 500 s is left, no drift is.
    periodic, held, free = ((501.0, 5.0), (250.0, 1.0)), 0, 0
    mount = Mount(name="own", drive_class="mid-range worm", wander=0.25 * ROOT_MINUTE, periodic=tuple(
        PeriodicTerm(period=period * u.s, amplitude=size * u.arcsec) for period, size in periodic))
    for seed in range(4):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 40, periodic=periodic)
        left = guided(rng, paths, exposure=12, gain=0.15)
        logs = [rows(rng, time, (ra, paths[1]), step=4, exposure=2) for ra in (left[0], paths[0])]
        slow, own = ([one for one in doubts_of(analyse_drift(log), mount) if one.kind in {"guided", "quiet"}]
                     for log in logs)
        held += any("RA" in one.axes or "guided in RA" in one.rule for one in slow)
        free += len(own)
    assert held >= 3  # of 4; one before
    assert free == 0


def test_the_odds_of_a_held_star_rest_on_what_the_mount_is_known_to_do():
    # A drive known to go wrong by 5 arcsec and to wander by 0.25 is less likely to stand still than a good one.
    worm = Mount(name="worm", periodic=(PeriodicTerm(period=480 * u.s, amplitude=5 * u.arcsec),),
                 wander=0.25 * ROOT_MINUTE)
    quiet = Mount(name="quiet", periodic=(PeriodicTerm(period=480 * u.s, amplitude=0.02 * u.arcsec),),
                  wander=0.02 * ROOT_MINUTE)
    rng = np.random.default_rng(1)
    time, *paths = motion(rng, 20)
    report = analyse_drift(rows(rng, time, (guided(rng, paths)[0], paths[1])))
    assert held_odds(report, worm)[0] > held_odds(report, quiet)[0] + 1
    assert held_odds(report, worm)[1] < -10  # Dec ran free


@pytest.mark.parametrize(("held", "worm"), [("RA", 8.0), ("Dec", 3.0)])
def test_an_axis_that_a_slow_loop_may_have_held_stays_as_it_was(held, worm):
    # Ten minutes of a loop of 20 s: too few to name it, too quiet to believe; the axis then says nothing.
    mount = Mount(name="own", wander=0.25 * ROOT_MINUTE, drive_class="mid-range worm", periodic=(
        PeriodicTerm(period=480 * u.s, amplitude=worm * u.arcsec),))
    left_out = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 10, periodic=((480.0, worm),))
        still = guided(rng, paths, exposure=20)
        log = rows(rng, time, (still[0], paths[1]) if held == "RA" else (paths[0], still[1]))
        report = analyse_drift(log)
        doubts = doubts_of(report, mount)
        assert (drift_answer(log, None, None).polar is None) == any("Dec" in one.axes for one in doubts_of(report))
        left_out += any(doubt.axes == (held,) or doubt.kind == "guided" for doubt in doubts)
        quiet = tuple(doubt for doubt in doubts if doubt.axes)
        if quiet:
            states = {row.key: row.state for row in measured_mount(mount, report, {}, doubts=quiet).figures}
            assert states["periodic" if held == "RA" else "polar_altitude_error"] == "left"
    assert left_out >= 4


def test_unguided_logs_of_good_and_poor_mounts_are_not_doubted():
    # 16 logs; the odds that name a guided one come by chance in one of 100 at most.
    wrong = []
    for seed in range(16):
        rng = np.random.default_rng(100 + seed)
        good = seed % 2
        faults = {"altitude": rng.normal(0, 2), "azimuth": rng.normal(0, 2), "rate": "sidereal",
                  "ppm": rng.normal(0, 20 if good else 200), "flexure_ra": 0.0, "flexure_dec": 0.0}
        time, *paths = motion(rng, (10, 30)[seed // 2 % 2], periodic=((660.0, 0.25),) if good else ((640.0, 15.0),),
                              wander=0.05 if good else 0.8, jitter=0.12 if good else 0.6, faults=faults)
        wrong += sorted(kinds(rows(rng, time, paths)))
    assert wrong.count("quiet") <= 5, wrong  # a tenth of short ones, and the good mounts' oftener
    assert len(wrong) - wrong.count("quiet") <= 1, wrong


@pytest.mark.parametrize("angle", [-8.0, 30.0])
def test_a_turned_camera_is_solved_and_turned_back(angle):
    turned = np.radians(angle)
    off = []
    for seed in range(6):
        rng = np.random.default_rng(seed)
        time, east, north = motion(rng, 40)
        log = rows(rng, time, (east * np.cos(turned) - north * np.sin(turned),
                               east * np.sin(turned) + north * np.cos(turned)))
        found = drift_answer(log, None, None)
        off.append((found.turn.angle.to_value(u.deg) - angle) / found.turn.error.to_value(u.deg))
        assert abs(found.turn.angle.to_value(u.deg) - angle) < 2
        assert found.report.dec.periodic == ()
    assert np.sum(np.abs(off) < 1) >= 2  # of 6, 4 expected; fewer once in seventy
    assert 0.3 < np.std(off) < 1.8  # by chi-square 1 to 99 in 100


@pytest.mark.parametrize("angle", [42.0, 60.0, -90.0])
def test_a_camera_turned_too_far_is_doubted(angle):
    turned, rng = np.radians(angle), np.random.default_rng(1)
    time, east, north = motion(rng, 40)
    found = drift_answer(rows(rng, time, (east * np.cos(turned) - north * np.sin(turned),
                                          east * np.sin(turned) + north * np.cos(turned))), None, None)
    assert found.turn is None
    assert "swapped" in {doubt.kind for doubt in found.blocked}


def test_a_straight_camera_is_left_alone():
    for seed in range(5):
        rng = np.random.default_rng(50 + seed)
        time, *paths = motion(rng, 40)
        assert drift_answer(rows(rng, time, paths), None, None).turn is None


@pytest.mark.parametrize(("step", "expose"), [(1, 1), (5, 5)])
def test_dithers_are_found_and_are_no_wander(step, expose):
    # Six dithers of 4 arcsec in an hour as wander would read 4 sqrt(6/60) = 1.3 arcsec/min(1/2) beside 0.25.
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 60)
        for start in range(600, 3600, 600):
            angle = rng.uniform(0, 2 * np.pi)
            paths[0][start:] += 4 * np.cos(angle)
            paths[1][start:] += 4 * np.sin(angle)
        report = analyse_drift(rows(rng, time, paths, step=step, exposure=expose))
        at = report.ra.time_s[report.breaks]
        assert np.allclose(at, np.arange(600, 3600, 600), atol=3 * step)
        assert report.wander.value == pytest.approx(0.25, abs=0.12)
        assert report.ra.periodic[0].amplitude.value == pytest.approx(5 * np.cos(np.radians(10)), rel=0.1)


def test_small_dithers_beside_a_worm_are_found_and_are_no_wander():
    # Every 40 s, 4 arcsec rms on each axis: one in 18 is below 1.3 arcsec. A sixth of them passed for a wander of 0.5.
    off = []
    for seed in range(3):
        rng = np.random.default_rng([seed, 61])
        time, *paths = motion(rng, 30, periodic=((480.0, 5.0), (240.0, 1.0)), wander=0.2)
        starts = np.arange(40, 1800, 40)
        for path in paths:
            path += np.cumsum(np.isin(time, starts) * rng.normal(0, 4, time.size))
        report = analyse_drift(rows(rng, time, paths, step=2, exposure=2))
        found = report.ra.time_s[report.breaks] + 2
        assert np.isin(starts, np.round(found)).sum() >= 42  # of 44
        assert (~np.isin(np.round(found), starts)).sum() <= 4
        off.append((report.wander.value - 0.2) / np.hypot(report.ra.wander_error, report.dec.wander_error).value * 2)
    assert np.max(off) < 3, off


def test_no_steps_are_found_where_there_are_none():
    count = 0
    for seed in range(21):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 20, periodic=((430.0, 18.0), (215.0, 5.0), (72.0, 1.5)), wander=0.5, jitter=0.5)
        step = (1, 5, 30)[seed % 3]
        count += analyse_drift(rows(rng, time, paths, step=step, exposure=step)).breaks.size
    assert count == 0


def test_long_rows_do_not_shrink_the_amplitude():
    # The mean of a sine over t is sin(pi t/P)/(pi t/P) of it: 0.78 for 30 s of a 80 s term.
    found = []
    for seed in range(10):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 90, periodic=((80.0, 3.0),), wander=0.1)
        term = analyse_drift(rows(rng, time, paths, step=30, exposure=30)).ra.periodic[0]
        found.append((term.amplitude.value - 3 * np.cos(np.radians(10))) / term.amplitude_error.value)
    assert abs(np.mean(found)) < 1.2  # of a third of an error; undivided it would be ten or more
    assert np.std(found) < 2


def test_wander_in_long_rows_is_the_same_wander():
    # A walk averaged over its row looks a third weaker from row to row: w^2 (t - t/3).
    found = []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 60, wander=1.0, jitter=0.05, periodic=((1e9, 0.0),))
        found.append(analyse_drift(rows(rng, time, paths, step=20, exposure=20, centroid=0.05)).wander.value)
    assert np.mean(found) == pytest.approx(1.0, rel=0.04)  # 180 rows, two axes, 20 logs: 1.2 %


def test_an_alias_is_said_to_be_one_unless_the_period_is_known():
    rng = np.random.default_rng(1)
    time, *paths = motion(rng, 60, periodic=((45.0, 3.0),), wander=0.05)
    log = rows(rng, time, paths, step=35, exposure=20)
    report = analyse_drift(log)
    assert report.ra.periodic[0].period.to_value(u.s) == pytest.approx(157.5, rel=0.01)
    found = [doubt for doubt in doubts_of(report) if doubt.kind == "alias"]
    assert "45.0 s" in found[0].sentence
    own = Mount(name="own", periodic=(PeriodicTerm(period=160 * u.s, amplitude=3 * u.arcsec),))
    assert "alias" not in kinds(log, own)


def test_minutes_read_as_seconds_are_doubted():
    rng = np.random.default_rng(1)
    time, *paths = motion(rng, 60)
    log = rows(rng, time, paths)
    assert "short" in kinds(type(log)(time=log.time / 60, ra=log.ra, dec=log.dec))
    steep = type(log)(time=log.time / 6, ra=log.ra, dec=log.dec + np.arange(log.dec.size) * 1 * u.arcsec)
    assert "rate" in kinds(steep)


def test_slow_air_is_no_wander():
    # 0.3 arcsec that the air forgets after 12 s reads, second by second, as 0.3 sqrt(2 * 60/12) = 0.95 arcsec/min(1/2).
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        time, *paths = motion(rng, 40, wander=0.2, jitter=0.1)
        paths = [path + slow_air(rng, time.size) for path in paths]
        answer = drift_answer(replace(rows(rng, time, paths), declination=10 * u.deg), None, None)
        assert "slow air" in {doubt.kind for doubt in answer.doubts}
        assert answer.report.wander.value < 0.45
        known = Mount(name="known to a tenth", wander=0.2 * ROOT_MINUTE, errors={"wander": 0.02 * ROOT_MINUTE})
        table = measured_mount(known, answer.report, {})
        assert next(row.state for row in table.figures if row.key == "wander") == "left"


def test_a_measured_period_nearby_does_not_excuse_an_alias():
    # 45 s in rows of 35 s looks like 157.5 s; the mount has 160.0 s, known to 0.2 s.
    rng = np.random.default_rng(0)
    time, *paths = motion(rng, 60, periodic=((480.0, 5.0), (45.0, 2.0)))
    log = rows(rng, time, paths, step=35, exposure=2)
    third = PeriodicTerm(period=160 * u.s, amplitude=1 * u.arcsec)
    worm = PeriodicTerm(period=480 * u.s, amplitude=5 * u.arcsec)
    measured = replace(third, errors={"period": 0.2 * u.s})
    assert "alias" in kinds(log, Mount(name="worm", periodic=(worm, measured)))
    assert "alias" not in kinds(log, Mount(name="worm", periodic=(worm, third)))
