"""A list of projects: hours in proportion, one set-up for all, and what a part more would save."""

import datetime
from dataclasses import replace

import numpy as np
import pytest
from astropy import units as u
from exposure.rigs import GREEN, SITE, WORM_MOUNT
from numpy.testing import assert_allclose
from session.owned import OWNED, SMALL, WIDE, only
from session.owned import RIG as STILL_RIG

from planner.errors import InvalidInputError
from planner.fields import document
from planner.files.json_text import json_text
from planner.session.match import purchase
from planner.session.match.answer import ListAnswer
from planner.session.match.purchase import Saving, candidates, worth_buying, year_hours
from planner.session.match.wishes import Wish, all_hours, one_for_all, serve
from planner.session.match.wishes_text import buy_text, list_headline, list_rows, saving_row
from planner.session.year.season import season

RIG = replace(STILL_RIG, mount=WORM_MOUNT)
WISHES = [Wish(target=SMALL, band=GREEN, hours=4 * u.h), Wish(target=WIDE, band=GREEN, hours=6 * u.h),
          Wish(target=replace(SMALL, dec=-80 * u.deg), band=GREEN, hours=1 * u.h)]


@pytest.fixture(scope="module")
def served():
    return serve(OWNED, RIG, SITE, WISHES)


def test_hours_are_those_of_the_rig_and_in_proportion_for_others(served):
    name = f"{RIG.telescope.name}, {RIG.camera.name}"
    assert [one.hours([name]) for one in served] == pytest.approx([4, 6, np.inf])
    for row in served[0].rows:
        own = next(one for one in served[0].rows if one.name == name)
        assert_allclose(served[0].hours([row.name]), 4 * row.detail_time / own.detail_time)


def test_one_for_all_against_every_set_up_added_by_hand(served):
    names = served[0].light
    added = {name: served[0].hours([name]) + served[1].hours([name]) for name in names}
    best, hours = one_for_all(served)
    assert (best, hours) == (min(added, key=added.get), pytest.approx(min(added.values())))
    assert all_hours(served) <= hours
    assert all_hours(served) == pytest.approx(sum(min(one.hours([name]) for name in names) for one in served[:2]))
    assert best in list_headline(served)
    assert [row[3] for row in list_rows(served)][2] == "never high enough"


def test_a_rig_that_never_gets_there_is_told_so():
    coarse = replace(RIG.camera, name="coarse", pixel_pitch=60 * u.um)
    found = serve(replace(OWNED, cameras=(*OWNED.cameras, coarse)), replace(RIG, camera=coarse), SITE, WISHES[:1])
    assert list_rows(found)[0][2] == "never"
    assert found[0].hours(found[0].light) == pytest.approx(4)
    assert document(ListAnswer(found))["projects"][0]["rig_reaches"] is False


def test_what_to_buy_against_owning_it():
    # Buying a part is the same as owning it beside the rest.
    owned = only()
    some = serve(owned, RIG, SITE, WISHES[:1])
    savings = {one.name: one for one in worth_buying(owned, RIG, SITE, some)}
    part = next(one for one in candidates(owned, RIG, SITE) if "focal length" in one.name)
    then = serve(replace(owned, telescopes=(*owned.telescopes, *part.equipment.telescopes)), RIG, SITE, WISHES[:1])
    assert_allclose(savings[part.name].hours, all_hours(some) - all_hours(then), rtol=1e-6)
    assert savings[part.name].share == pytest.approx(1 - all_hours(then) / all_hours(some))
    assert saving_row(savings[part.name], 100)[1].endswith("most on small")
    assert list(savings) == sorted(savings, key=lambda name: (-round(savings[name].hours, 1), name))
    json_text(document(ListAnswer(some, tuple(savings.values()))), "match_projects")  # refuses anything with a unit


def test_a_heavy_set_up_is_not_counted_but_a_mount_that_carries_it_is():
    rig = replace(RIG, mount=replace(WORM_MOUNT, payload=20 * u.kg))
    telescopes = (OWNED.telescopes[0], replace(OWNED.telescopes[1], mass=30 * u.kg))
    found = serve(replace(OWNED, telescopes=telescopes, reducers=()), rig, SITE, WISHES[:1])
    assert not any(name.startswith("long") for name in found[0].light)
    assert found[0].hours(list(found[0].figures)) < all_hours(found)


def test_a_part_that_is_too_heavy_to_use_says_so():
    rig = replace(RIG, mount=replace(WORM_MOUNT, payload=10 * u.kg), telescope=replace(RIG.telescope, mass=8 * u.kg))
    owned = only(rig.telescope)
    found = worth_buying(owned, rig, SITE, serve(owned, rig, SITE, WISHES[:1]))
    larger = [one for one in found if "mm of aperture" in one.name]
    assert len(larger) == 2  # 8 kg x 1.69
    for one in larger:
        assert saving_row(one, 100)[1:] == (f"at least {8 * 1.69:.1f} kg on a mount rated for 10 kg", "")


def test_a_year_offers_each_part_of_a_night_once(served, monkeypatch):
    monkeypatch.setattr(purchase, "YEAR", 30)
    first = datetime.date(2026, 11, 28)
    alone = [float(season([one.wish.target], RIG, SITE, first, nights=30, band=GREEN).targets[0].total.value)
             for one in served[:2]]
    assert year_hours(served[:1], RIG, SITE, first, clear=1) == pytest.approx(alone[0], rel=1e-3)
    assert year_hours([*served[:1]] * 2, RIG, SITE, first, clear=0.4) == pytest.approx(0.4 * alone[0], rel=1e-3)
    assert max(alone) <= year_hours(served, RIG, SITE, first, clear=1) <= sum(alone) + 1e-6


@pytest.mark.parametrize(("more", "saves", "in_a_year"), [
    ({"hours": 4.0, "share": 0.41, "most": "M 51"}, "41 %, most on M 51", "160 h"),
    ({"hours": 0.4, "share": 0.04, "most": "M 51"}, "less than 5 %", ""), ({}, "nothing", ""),
    ({"opened": 2}, "2 more of the targets", ""),
])
def test_what_is_within_the_accuracy_saves_nothing_that_is_told(more, saves, in_a_year):
    saving = Saving(**{"name": "part", "hours": 0.0, "share": 0.0, "opened": 0, "most": "", **more})
    assert saving_row(saving, 391) == ("part", saves, in_a_year)


def test_what_savings_are_shares_of(served):
    assert "of the 390 h (useful) that a year's nights offer" in buy_text(served, 391.4, 0.4)
    assert "no hours to compare" in buy_text(served[2:], 0.0, 0.4)


def test_an_empty_list_is_refused():
    with pytest.raises(InvalidInputError, match="projects = none"):
        serve(OWNED, RIG, SITE, [])
