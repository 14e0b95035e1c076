"""What is wanted of a target by its kind, against published line ratios and what an imager would choose."""

from dataclasses import replace
from statistics import mean, median

import pytest
from astropy import units as u
from numpy.testing import assert_allclose

from planner.exposure.depth import goal_for
from planner.files.equipment import load_equipment
from planner.files.own_files import packaged_data
from planner.files.targets import find_target
from planner.session.projects.default_request import RATIOS, default_request, filling, line_of
from planner.visibility import Target

DEMO = load_equipment(packaged_data("equipment.toml"))
RIG = DEMO.rig("nebulae")
# [O III] 5007, [N II] 6584, [S II] 6716 + 6731 over H-alpha as observed.
# M 17 and NGC 3576: Tsamis et al. 2003, MNRAS 338, 687.
H_II = [(0.353, 0.092, 0.030), (0.557, 0.184, 0.058)]
# Wesson, Liu & Barlow 2005, MNRAS 362, 424: 21 nebulae from Cn 3-1 to Vy 1-2; NGC 2022: Tsamis et al. 2003, MNRAS 345,
# 186; NGC 6543: Wesson & Liu 2004, MNRAS 351, 1026.
PLANETARY_OXYGEN = [0.054, 1.474, 2.507, 0.861, 2.305, 2.984, 3.301, 2.396, 3.129, 0.455, 1.792, 3.374, 2.125, 2.345,
                    2.839, 2.970, 2.828, 2.126, 1.678, 2.063, 4.298, 2.450, 2.243]
PLANETARY_SULPHUR = [0.061, 0.025, 0.234, 0.003, 0.025, 0.015, 0.005, 0.016, 0.012, 0.023, 0.018, 0.005, 0.046, 0.013,
                     0.093, 0.004, 0.016, 0.005, 0.019]


def wishes(name, **more):
    rig = more.pop("rig", RIG)
    target = find_target(name) if isinstance(name, str) else name
    return {need.band.name: need.hours.to_value(u.h) for need in default_request(target, rig, **more).needs}


def test_line_ratios_are_those_of_the_papers():
    # 1 %: three digits are printed.
    assert_allclose([RATIOS["ionised"][line] for line in ("OIII", "NII", "SII")],
                    [mean(values) for values in zip(*H_II, strict=True)], rtol=0.01)
    assert_allclose([RATIOS["planetary"][line] for line in ("OIII", "SII")],
                    [median(PLANETARY_OXYGEN), median(PLANETARY_SULPHUR)], rtol=0.01)


@pytest.mark.parametrize("name", ["NGC 7000", "IC 434", "M 8", "NGC 2244", "IC 1396", "NGC 6334", "NGC 3372"])
def test_ionised_hydrogen_comes_first_and_weaker_lines_take_longer(name):
    hours = wishes(name)
    assert set(hours) == {"Ha", "OIII", "SII"}
    assert hours["Ha"] < hours["OIII"] < hours["SII"] <= 3 * hours["Ha"]


def test_a_planetary_shines_in_oxygen_and_a_remnant_in_three_lines():
    planetary, remnant = wishes("M 57"), wishes("NGC 6992")
    assert set(planetary) == {"Ha", "OIII"}
    assert planetary["OIII"] < planetary["Ha"]
    assert set(remnant) == {"Ha", "OIII", "SII"}
    assert remnant["Ha"] == remnant["OIII"] < remnant["SII"]


@pytest.mark.parametrize("name", ["M 78", "NGC 7023", "NGC 1333", "B 33", "M 31", "M 45", "M 13", "NGC 7331"])
def test_a_continuum_gets_no_narrow_band(name):
    assert set(wishes(name)) == {"L", "R", "G", "B"}


def test_hydrogen_of_a_galaxy_is_an_option():
    assert set(wishes("M 33", hydrogen=True)) == {"L", "R", "G", "B", "Ha"}
    assert set(wishes("M 78", hydrogen=True)) == {"L", "R", "G", "B"}


def test_a_place_without_a_kind_gets_broad_bands_and_hydrogen():
    assert set(wishes(Target("mine", 10 * u.deg, 40 * u.deg))) == {"L", "R", "G", "B", "Ha"}


def test_a_rig_without_a_fitting_filter_uses_what_it_has():
    broad, oxygen = (replace(RIG, filters=tuple(band for band in RIG.filters if band.name in names))
                     for names in ("LRGB", ("OIII",)))
    assert set(wishes("NGC 7000", rig=broad)) == {"L", "R", "G", "B"}
    assert set(wishes("M 13", rig=oxygen)) == {"OIII"}


def test_a_filter_with_two_windows_is_made_for_lines():
    # Two windows of 8 and 7 nm, half a hundred nm from the middle between them.
    band = replace(RIG.filters[0], name="two lines", centre=580 * u.nm, width=160 * u.nm, curve=(
        (496, 0.0), (497, 0.9), (504, 0.9), (505, 0.0), (652, 0.0), (653, 0.9), (660, 0.9), (661, 0.0)))
    assert band.narrow
    assert [band.passes(line * u.nm) for line in (500.7, 656.3, 580.0, 672.4)] == [True, True, False, False]
    assert line_of(band) == "Ha"
    assert goal_for(band).line is not None
    broad = replace(band, curve=((480, 0.0), (490, 0.9), (670, 0.9), (680, 0.0)))
    assert not broad.narrow
    assert line_of(broad) is None


def test_who_said_nothing_of_hours_gets_the_night():
    # By hand: three hours of L and one each of R, G, B are half of a night of 12 h.
    galaxy = default_request(find_target("NGC 7331"), RIG)
    (filled,) = filling((galaxy,), 12 * u.h)
    assert [need.hours.value for need in filled.needs] == pytest.approx([6, 2, 2, 2])
    assert filling((galaxy,), 5 * u.h) == (galaxy,)
    project = replace(galaxy, usual=False)
    assert filling((project,), 12 * u.h) == (project,)
    other = replace(galaxy, target=find_target("M 33"))
    assert filling((project, other), 9 * u.h)[0] is project
    assert filling((project, other), 18 * u.h)[1].needs[0].hours.value == pytest.approx(6)
