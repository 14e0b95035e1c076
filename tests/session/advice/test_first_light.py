"""First light: the list is as long as it must be, goes on where the observer is, and closes by itself."""

import datetime
from dataclasses import replace

import pytest
from astropy import units as u
from session.advice.test_advice import ask, demo  # noqa: F401

from planner.fields import document
from planner.files.targets import find_target
from planner.session.advice.answer import advise
from planner.session.advice.first_light import TASKS, FirstLightAnswer, first_light
from planner.session.advice.text import headline

NIGHT = datetime.date(2026, 10, 10)


def measured(mount, share):
    """Return a mount whose drive carries standard errors of its own."""
    terms = tuple(replace(term, errors={"amplitude": share * term.amplitude}) for term in mount.periodic)
    errors = {"jitter": share * mount.jitter, "wander": share * mount.wander}
    return replace(mount, periodic=terms, errors=errors)


@pytest.fixture(scope="module")
def old_pier(demo):  # noqa: F811
    """What is to be measured first with a worn drive that nobody measured."""
    return first_light(ask(demo, rig="old pier"))


def test_every_task_stands_once_and_the_first_is_next(old_pier):
    found = old_pier
    assert sorted(step.measurement for step in found.steps) == sorted(TASKS)
    assert [step.state for step in found.steps].count("next") == 1
    assert found.steps[0].measurement == "drift log"  # a worn drive: nothing else tells so much


def test_what_is_measured_is_done_and_the_list_goes_on_or_closes(demo, old_pier):  # noqa: F811
    rig = demo.rig("old pier")
    known = replace(rig, mount=measured(rig.mount, 0.02))
    after = first_light(advise(find_target("NGC 7331"), known, demo.site("hill"), NIGHT))
    log = next(step for step in after.steps if step.measurement == "drift log")
    assert log.state == "done"
    gains = [sum((step.hours_per_night for step in found.steps if step.state in ("next", "later")), 0 * u.h)
             for found in (old_pier, after)]
    assert gains[1] < 0.3 * gains[0]


def test_a_rig_for_which_nothing_matters_is_settled_at_once(demo):  # noqa: F811
    asked = ask(demo, rig="wide")
    found = first_light(asked)
    assert found.verdict == headline(asked, asked.certainty)
    assert found.settled
    assert found.sentence.startswith("Settled: unguided in 32 of 32")
    assert {step.state for step in found.steps} <= {"done", "not worth it"}


def test_the_document_holds_the_cautions_of_the_work(demo, old_pier):  # noqa: F811
    said = str(document(FirstLightAnswer(ask(demo, rig="old pier"), old_pier)))
    for word in ("Cables", "cold", "clutch", "Sun"):
        assert word in said


def test_without_a_verdict_there_is_no_list(demo):  # noqa: F811
    assert first_light(ask(demo, name="NGC 104")) is None
