"""A figure may carry its standard error: read, refused in one line, shown, written and replaced with its figure."""

import pytest
from astropy import units as u
from files.equipment_text import written

from planner.errors import InvalidInputError
from planner.files.equipment import check_equipment, load_equipment
from planner.files.equipment.edit import write_equipment_table
from planner.files.equipment.gear_document import gear_document
from planner.files.equipment.what_if import with_changes
from planner.files.quantities import split_error


def with_wander(folder, text):
    return written(folder, 'wander = "0.1 arcsec/min(1/2)"', text)


@pytest.mark.parametrize("written_so", ["0.25 arcsec ± 0.05 arcsec", "0.25 arcsec ± 0.05", "0.25 ± 0.05 arcsec"])
def test_the_unit_may_stand_at_either_side_or_both(written_so):
    assert split_error(written_so) == ("0.25 arcsec", "0.05 arcsec")


@pytest.mark.parametrize("sign", ["±", " ± ", "+-", " +/- ", "+/−"])
def test_every_spelling_of_the_sign_is_read(tmp_path, sign):
    mount = load_equipment(with_wander(tmp_path, f'jitter = "0.25{sign}0.05 arcsec"')).rig().mount
    assert mount.jitter == 0.25 * u.arcsec
    assert mount.errors == {"jitter": 0.05 * u.arcsec}
    assert mount.relative_error("jitter") == pytest.approx(0.2)
    assert mount.relative_error("wander") is None


def test_an_error_may_stand_at_a_plain_number_and_in_a_periodic_term(tmp_path):
    mount = load_equipment(with_wander(
        tmp_path, 'rate_error_ppm = "-12 ± 3"\npolar_altitude_error = "-1.5 ± 0.2 arcmin"')).rig().mount
    assert (mount.rate_error_ppm, mount.errors["rate_error_ppm"]) == (-12, 3)
    assert mount.errors["polar_altitude_error"] == 0.2 * u.arcmin
    term = load_equipment(written(tmp_path, '"4 arcsec"', '"4 ± 0.5 arcsec"')).rig().mount.periodic[0]
    assert (term.amplitude, term.errors) == (4 * u.arcsec, {"amplitude": 0.5 * u.arcsec})


@pytest.mark.parametrize(("text", "rule"), [
    ("0.3 ± x arcsec", "a number with a unit"), ("0.3 ±", "a number with a unit"), ("± 0.3 arcsec", "a number"),
    ("0.3 ± 0.1 kg", "must have a unit like arcsec"), ("0.3 ± -0.1 arcsec", "must be at least 0"),
    ("0.3 ± nan arcsec", "must be a finite value"), ("-0.3 ± 0.1 arcsec", "must be at least 0 arcsec"),
    ("0.3 ± 0.1 ± 0.1 arcsec", "no known unit"), ("0.3 ± 0.1", "a number with a unit")])
def test_a_bad_error_is_one_line(tmp_path, text, rule):
    problems = check_equipment(with_wander(tmp_path, f'jitter = "{text}"'))
    assert len(problems) == 1
    assert rule in problems[0]


def test_an_error_at_a_text_or_a_choice_is_text(tmp_path):
    assert "design" in check_equipment(with_wander(tmp_path, 'design = "fork ± 1"'))[0]


def test_the_document_shows_each_error_beside_its_figure(tmp_path):
    shown = gear_document(load_equipment(with_wander(tmp_path, 'jitter = "0.25 ± 0.05 arcsec"')))["mounts"][0]
    assert shown["jitter_standard_error_arcsec"] == 0.05
    assert "errors" not in shown


def test_what_is_written_with_an_error_is_read_back_and_a_new_figure_drops_the_old_error(tmp_path):
    path = with_wander(tmp_path, 'jitter = "0.25 ± 0.05 arcsec"')
    write_equipment_table(path, "mount", "worm", {"jitter": "0.311 ± 0.021 arcsec"})
    mount = load_equipment(path).rig().mount
    assert (mount.jitter, mount.errors["jitter"]) == (0.311 * u.arcsec, 0.021 * u.arcsec)
    write_equipment_table(path, "mount", "worm", {"jitter": 0.4 * u.arcsec})
    assert load_equipment(path).rig().mount.errors == {}


def test_a_what_if_sets_or_drops_the_error_with_its_figure(tmp_path):
    owned = load_equipment(with_wander(tmp_path, 'jitter = "0.25 ± 0.05 arcsec"'))
    rig, site = owned.rig(), owned.site()
    plain, *_ = with_changes(rig, site, rig.filters[0], ["mount.jitter=0.3"])
    assert plain.mount.errors == {}
    better, *_ = with_changes(rig, site, rig.filters[0], ["mount.jitter=0.3±0.1", "mount.rate_error_ppm=5 ± 2"])
    assert better.mount.errors == {"jitter": 0.1 * u.arcsec, "rate_error_ppm": 2}
    assert (better.mount.jitter, better.mount.rate_error_ppm) == (0.3 * u.arcsec, 5)
    with pytest.raises(InvalidInputError, match="must be at least 0"):
        with_changes(rig, site, rig.filters[0], ["mount.jitter=0.3 ± -1 arcsec"])


def test_a_text_without_error_is_left_alone():
    assert split_error("-5 °C") == ("-5 °C", None)
    assert split_error("1e+3 arcsec") == ("1e+3 arcsec", None)
