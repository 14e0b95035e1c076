"""Several rigs at once: none does another's work, and each stands on a mount of its own."""

from dataclasses import replace

import pytest
from astropy import units as u
from exposure.rigs import FRICTION_MOUNT, GREEN, PERFECT_MOUNT, rig

from planner.errors import InvalidInputError
from planner.session.night.together import shared_out, together
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
    first, second = together([(FIRST, WISHES), (SECOND, WISHES)], by_the_hour, brought)
    assert first["a"] + second["a"] == first["b"] + second["b"] == 6


def test_the_second_turns_to_what_the_first_cannot_do():
    def one_sided(one, requests):
        return {"a": 4.0} if one is FIRST else by_the_hour(one, requests, 4)

    assert together([(FIRST, WISHES), (SECOND, WISHES)], one_sided, brought)[1] == {"a": 0.0, "b": 4.0}


def test_over_a_season_what_is_left_is_shared_out():
    begun = [replace(WISHES[0], needs=(replace(WISHES[0].needs[0], done=1 * u.h),))]
    for _, (request,) in shared_out([(FIRST, begun), (SECOND, begun)]):
        assert (request.needs[0].hours - request.needs[0].done).value == 1.5


def test_a_rig_alone_is_planned_once():
    asked = []
    together([(FIRST, WISHES)], lambda one, requests: asked.append(list(requests)), brought)
    assert asked == [WISHES]


def test_a_mosaic_of_different_panels_is_done_once():
    def panels(count, step):
        return [Request(target=Target(f"m panel {number}", (10 + step * number) * u.deg, 40 * u.deg,
                                      camera_angle=0 * u.deg), needs=(Need(band=GREEN, hours=4 * u.h),))
                for number in range(1, count + 1)]

    def left(requests):
        return [(need.hours - need.done).value for request in requests for need in request.needs]

    (_, first), (_, second) = shared_out([(FIRST, [*panels(4, 1), *WISHES]), (SECOND, [*panels(2, 2), *WISHES])])
    assert left(first) == [2, 2]
    assert left(second) == [4, 4, 2, 2]
    (_, first), (_, second) = shared_out([(FIRST, panels(4, 1)), (SECOND, panels(4, 1))])
    assert left(first) == left(second) == [2, 2, 2, 2]  # the same panels are shared


def test_one_mount_holds_one_rig():
    other = replace(SECOND, mount=PERFECT_MOUNT)
    with pytest.raises(InvalidInputError, match='stands on the mount "perfect" of rig "first"'):
        together([(FIRST, WISHES), (other, WISHES)], by_the_hour, brought)
