"""What the pier costs an advice: nothing, or a share of the night, from a pier file or a typed sway."""

import datetime
import subprocess
import sys
from dataclasses import replace

import pytest
from astropy import units as u

from planner.errors import InvalidInputError
from planner.fields import document
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.advice.answer import advise
from planner.session.advice.document import AdviceAnswer
from planner.session.advice.glance import glance
from planner.session.advice.pier_cost import pier_cost, pier_lines
from planner.session.advice.text import headline
from planner.session.worth.times import times_of

NIGHT = datetime.date(2026, 11, 10)


def advice_on(rig, site):
    return advise(find_target("NGC 7331"), rig, site, NIGHT, with_changes=False)


@pytest.fixture(scope="module")
def gear():
    return load_equipment(packaged_data("equipment.toml"))


def equipment_with(folder, line, pier=None):
    """The demo's equipment with a line in its first rig, and a pier file beside it."""
    for name in ("horizon_hill.csv", "horizon_paddock.csv"):
        (folder / name).write_bytes(packaged_data(name).read_bytes())
    text = packaged_data("equipment.toml").read_text()
    place = text.index('name = "nebulae"')
    (folder / "equipment.toml").write_text(f"{text[:place]}{line}\n{text[place:]}")
    (folder / "pier.toml").write_text(packaged_data("pier.toml").read_text() if pier is None else pier)
    return load_equipment(folder / "equipment.toml")


def test_no_pier_no_word(gear):
    advice = advice_on(gear.rig(), gear.site())
    assert pier_lines(advice) == ()
    assert pier_cost(advice) == 0
    assert document(AdviceAnswer(advice))["pier"] is None
    assert "The pier costs" not in dict(glance(advice))


def test_no_pier_no_time():
    code = ("import sys; from planner.files.equipment import load_equipment; load_equipment(); "
            "import planner.session.advice.pier_cost; print([m for m in sys.modules if m.startswith('planner.pier')])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_a_good_pier_costs_next_to_nothing(tmp_path):
    gear = equipment_with(tmp_path, 'pier = "pier.toml"')
    rig = gear.rig("nebulae")
    assert rig.pier == "pier.toml"
    assert 0 < rig.sway < 0.3 * u.arcsec
    advice = advice_on(rig, gear.site())
    assert 0 <= pier_cost(advice) < 0.02
    assert "pier.toml" in dict(glance(advice))["The pier costs"]


def test_a_swaying_pier_costs_its_share(gear):
    rig = replace(gear.rig("nebulae"), sway=0.8 * u.arcsec)
    with_it, without = (advice_on(one, gear.site()) for one in (rig, gear.rig("nebulae")))
    cost = pier_cost(with_it)
    best = [float(one.verdict.guided.ladder.speed.max()) for one in (with_it, without)]
    assert cost == pytest.approx(1 - best[0] / best[1], abs=1e-6)
    assert 0.03 < cost < 0.3  # a third of a star's own rms width, of which guiding takes a part
    (label, value, more), = pier_lines(with_it)
    assert (label, value) == ("The pier costs", f"{100 * cost:.0f} % of the night")
    assert "that you gave" in more
    pier = document(AdviceAnswer(with_it))["pier"]
    assert pier["cost_fraction"] == pytest.approx(cost)
    assert any(row["term"] == "sway of the pier" for row in document(AdviceAnswer(with_it))["error_budget"])


def test_a_pier_that_spoils_the_night_is_to_be_stiffened(gear):
    advice = advice_on(replace(gear.rig("nebulae"), sway=8 * u.arcsec), gear.site())
    assert headline(advice).startswith("Stiffen the pier first")


def test_settling_after_a_slew_counts_where_it_is_longer(gear):
    rig = gear.rig("nebulae")
    plain = times_of(rig, gear.site()).change
    assert times_of(replace(rig, sway_settling_time=5 * u.s), gear.site()).change == plain
    longer = times_of(replace(rig, sway_settling_time=300 * u.s), gear.site()).change
    assert longer > plain


@pytest.mark.parametrize(("line", "pier", "words"), [
    ('pier = "none.toml"', None, "is not there"),
    ('pier = "pier.toml"', "[pier]\nname = 'empty'\n", "does not describe the column"),
    ('pier = "pier.toml"', "[column]\nheight = '3 m'\nwidth = '8 mm'\n", "falls under its own load"),
    ('sway = "-1 arcsec"', None, "must be at least 0"),
])
def test_what_cannot_be_is_one_line(tmp_path, line, pier, words):
    with pytest.raises(InvalidInputError, match=words) as refused:
        equipment_with(tmp_path, line, pier)
    assert "\n" not in str(refused.value)


def test_a_typed_sway_goes_before_the_pier_file(tmp_path):
    gear = equipment_with(tmp_path, 'pier = "pier.toml"\nsway = "0.5 arcsec"')
    rig = gear.rig("nebulae")
    assert rig.sway == 0.5 * u.arcsec
    (_, _, more), = pier_lines(advice_on(rig, gear.site()))
    assert "by the sway that you gave" in more
    assert "pier.toml" not in more
