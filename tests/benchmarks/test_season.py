"""The season of a whole catalogue: useful hours with moonlight, and what a target-night costs."""

import time

import numpy as np
from astropy import units as u
from astropy.coordinates import AltAz, SkyCoord, get_body
from numpy.testing import assert_allclose

from planner.files import load_equipment
from planner.files.targets.catalogue import all_objects
from planner.session.worth.useful_hours import FEW, useful_hours
from planner.session.worth.usefulness import usefulness
from planner.session.year.objects import fitting_objects
from planner.visibility import Target
from planner.visibility.adapters import earth_location

EQUIPMENT = load_equipment(None)
SITE, RIG = EQUIPMENT.site(), EQUIPMENT.rig()
FIRST, NIGHTS, LOWEST = "2026-11-25", 365, 30 * u.deg


def test_a_year_of_the_whole_catalogue(benchmark):
    sky, measure = all_objects(), usefulness(RIG, SITE, RIG.filters[0])

    def ours():
        return useful_hours(sky.ra, sky.dec, measure, FIRST, NIGHTS, depression=18 * u.deg, minimum_altitude=LOWEST,
                            mount=RIG.mount, cells=FEW)

    found = benchmark.pedantic(ours, rounds=2)
    # Accuracy beside: the finer cells of `planner season` for some of the targets.
    some = slice(0, len(sky), 400)
    fine = useful_hours(sky.ra[some], sky.dec[some], measure, FIRST, NIGHTS, depression=18 * u.deg,
                        minimum_altitude=LOWEST, mount=RIG.mount, cells=48)
    error = np.abs(found.useful[some] - fine.useful).value
    assert np.percentile(error, 99) < 0.1
    assert_allclose(found.useful[some].sum(), fine.useful.sum(), rtol=5e-3)
    per_night, rival = benchmark.stats.stats.min / len(sky) / NIGHTS, _astropy_per_target_night(sky)
    benchmark.extra_info.update(targets=len(sky), us_per_target_night=per_night * 1e6, ratio=rival / per_night)
    print(f"\nyear of {len(sky)} targets with moonlight: {benchmark.stats.stats.min:.2f} s, "
          f"{per_night * 1e6:.2f} us per target-night, {rival / per_night:.0f}x astropy's altitudes and Moon on as "
          f"many moments, p99 {np.percentile(error, 99):.3f} h")


def _astropy_per_target_night(sky):
    """Return what altitude and the Moon's separation alone cost with astropy, `FEW` moments of one night [s]."""
    place = earth_location(SITE)
    from astropy.time import Time

    times = Time(f"{FIRST}T18:00") + np.linspace(0, 12, FEW) * u.h
    start = time.perf_counter()
    frame = AltAz(obstime=times, location=place)
    here = SkyCoord(sky.ra[:2000, np.newaxis], sky.dec[:2000, np.newaxis]).transform_to(frame)
    here.separation(get_body("moon", times, place).transform_to(frame))
    return (time.perf_counter() - start) / 2000


def test_one_target_over_a_year(benchmark):
    measure = usefulness(RIG, SITE, RIG.filters[0])
    target = Target("t", 339.3 * u.deg, 34.4 * u.deg)
    benchmark.pedantic(lambda: useful_hours(u.Quantity([target.ra]), u.Quantity([target.dec]), measure, FIRST, NIGHTS,
                                            depression=18 * u.deg, minimum_altitude=LOWEST, mount=RIG.mount), rounds=5)
    print(f"\none target over a year: {benchmark.stats.stats.min * 1e3:.0f} ms")


def test_a_sweep_of_one_night(benchmark):
    sky = all_objects()
    found = benchmark.pedantic(lambda: fitting_objects(sky, RIG, SITE, FIRST), rounds=5)
    assert len(found.objects) == 20
    print(f"\nwhat fits one night, of {len(sky)} objects: {benchmark.stats.stats.min * 1e3:.0f} ms")
