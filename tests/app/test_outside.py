"""Questions worked out outside the pages' process: answers, refusals, and helpers that are lost."""

import datetime
import os
import time

import pytest

from planner.errors import InvalidInputError
from planner.session.night.plan import plan_night
from planner.ui.outside import HELPERS, LostHelperError, ask, ask_first


def test_answers_come_from_another_process_and_refusals_are_the_callees():
    assert ask(divmod, 17, 5).result(timeout=60) == (3, 2)
    assert ask(os.getpid).result(timeout=60) != os.getpid()
    assert ask(os.getenv, "OPENBLAS_NUM_THREADS").result(timeout=60) == "1"  # helpers share the cores
    from planner.files.equipment import load_equipment

    demo = load_equipment(None)
    with pytest.raises(InvalidInputError, match="must be at least one"):
        ask(plan_night, [], demo.rig(), demo.site(), datetime.date(2026, 11, 10)).result(timeout=60)


def test_what_is_printed_meanwhile_spoils_no_answer():
    assert ask(print, "a line of its own").result(timeout=60) is None
    assert ask(abs, -3).result(timeout=60) == 3


def test_the_asker_is_free_meanwhile_and_a_lost_helper_is_replaced():
    slow = ask(time.sleep, 1.0)
    assert not slow.done()
    assert slow.result(timeout=60) is None
    with pytest.raises(LostHelperError):  # it ends whoever works it out
        ask(os._exit, 3).result(timeout=60)
    assert ask(abs, -4).result(timeout=60) == 4


def test_a_short_question_waits_for_no_long_one():
    long = [ask(time.sleep, 1.5) for _ in range(2 * HELPERS)]
    assert ask_first(abs, -5).result(timeout=60) == 5
    assert not any(one.done() for one in long[HELPERS:])
    for one in long:
        one.result(timeout=60)
