"""Several rigs at once: none does another's work, and each stands on a mount of its own."""

from dataclasses import replace

import pytest
from astropy import units as u
from exposure.rigs import FRICTION_MOUNT, GREEN, PERFECT_MOUNT, SITE, rig

from planner.errors import InvalidInputError
from planner.session.night.together import exchange_lines, shared_out, strength, together
from planner.session.projects.request import Need, Request
from planner.visibility.target import Target

FIRST, SECOND = rig(name="first"), rig(name="second", mount=FRICTION_MOUNT)
WISHES = [Request(target=Target(name, place * u.deg, 40 * u.deg), needs=(Need(band=GREEN, hours=4 * u.h),))
          for name, place in (("a", 10), ("b", 50))]


def by_the_hour(one, requests, hours=6):
    """Plan as the worth asks: each hour to what has the least share of its wish."""
    done = {request.target.name: request.needs[0].done.value for request in requests}
    brought = dict.fromkeys(done, 0.0)
    for _ in range(hours):
        name = min(done, key=lambda target: done[target] + brought[target])
        brought[name] += 1
    return brought


def brought(found):
    return {(name, "green"): hours for name, hours in found.items()}


def test_two_rigs_share_out_two_targets_evenly():
    first, second = together([(FIRST, WISHES), (SECOND, WISHES)], by_the_hour, brought, SITE)
    assert first["a"] + second["a"] == first["b"] + second["b"] == 6


def test_the_second_turns_to_what_the_first_cannot_do():
    def one_sided(one, requests):
        return {"a": 4.0} if one is FIRST else by_the_hour(one, requests, 4)

    assert together([(FIRST, WISHES), (SECOND, WISHES)], one_sided, brought, SITE)[1] == {"a": 0.0, "b": 4.0}


def test_over_a_season_what_is_left_is_shared_out():
    begun = [replace(WISHES[0], needs=(replace(WISHES[0].needs[0], done=1 * u.h),))]
    for _, (request,) in shared_out([(FIRST, begun), (SECOND, begun)], SITE):
        assert (request.needs[0].hours - request.needs[0].done).value == 1.5


def test_an_hour_of_a_larger_telescope_is_worth_more_of_a_smaller_one():
    # Twice the aperture at the same focal length and obstruction: four times the light of source and sky in each pixel,
    # so that a faint surface gathers squared signal-to-noise, S²/B, four times as fast.
    camera = replace(FIRST.camera, dark_current=0 * u.electron / u.s)
    small = replace(FIRST, camera=camera)
    large = replace(SECOND, camera=camera, telescope=replace(small.telescope, aperture=2 * small.telescope.aperture))
    assert strength(large, SITE, GREEN) == pytest.approx(4 * strength(small, SITE, GREEN))
    # Twice the focal length: a quarter of the light in each pixel, and four times the pixels in an area of sky.
    longer = replace(small, telescope=replace(small.telescope, focal_length=2 * small.telescope.focal_length))
    assert strength(longer, SITE, GREEN) == pytest.approx(strength(small, SITE, GREEN), rel=1e-3)
    for (_, requests), left in zip(shared_out([(large, WISHES), (small, WISHES)], SITE), (3.2, 3.2), strict=True):
        assert requests[0].needs[0].hours.value == pytest.approx(left)  # both as long, 16 + 4 quarters of an hour
    seen = []

    def plan(one, requests):
        seen.append(requests[0].needs[0])
        return {"a": 2.0}

    together([(large, WISHES), (small, WISHES)], plan, brought, SITE)
    assert [need.hours.value for need in seen[:2]] == pytest.approx([4, 16])
    assert [need.done.value for need in seen] == pytest.approx([0, 8, 0.5, 8])  # what the other brings
    (line,) = exchange_lines([(large, WISHES), (small, WISHES)], SITE)
    assert line == 'Equivalent hours are each rig\'s own: one of "second" takes "first" 4 h in green.'


def test_a_rig_alone_is_planned_once():
    asked = []
    together([(FIRST, WISHES)], lambda one, requests: asked.append(list(requests)), brought, SITE)
    assert asked == [WISHES]


def test_a_mosaic_of_different_panels_is_done_once():
    def panels(count, step):
        return [Request(target=Target(f"m panel {number}", (10 + step * number) * u.deg, 40 * u.deg,
                                      camera_angle=0 * u.deg), needs=(Need(band=GREEN, hours=4 * u.h),))
                for number in range(1, count + 1)]

    def left(requests):
        return [(need.hours - need.done).value for request in requests for need in request.needs]

    (_, first), (_, second) = shared_out([(FIRST, [*panels(4, 1), *WISHES]), (SECOND, [*panels(2, 2), *WISHES])], SITE)
    assert left(first) == [2, 2]
    assert left(second) == [4, 4, 2, 2]
    (_, first), (_, second) = shared_out([(FIRST, panels(4, 1)), (SECOND, panels(4, 1))], SITE)
    assert left(first) == left(second) == [2, 2, 2, 2]  # the same panels are shared


def test_one_mount_holds_one_rig():
    other = replace(SECOND, mount=PERFECT_MOUNT)
    with pytest.raises(InvalidInputError, match='stands on the mount "perfect" of rig "first"'):
        together([(FIRST, WISHES), (other, WISHES)], by_the_hour, brought, SITE)
