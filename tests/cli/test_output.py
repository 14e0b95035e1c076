"""JSON that is the same byte for byte, times with Z, keys that end in their unit."""

import datetime
import json

import numpy as np
import pytest
from astropy import units as u
from astropy.time import Time

from planner import __version__
from planner.cli import help_text, run
from planner.cli.options import night_date
from planner.cli.output import json_text, print_lines, print_table
from planner.errors import InvalidInputError
from planner.fields import unit_key
from planner.rig import Site
from planner.visibility.clock import utc_text


def test_floats_are_rounded_and_what_is_not_finite_is_null():
    third = [np.float64(1 / 3), np.nan, np.inf]
    text = json_text({"b": 0.1 + 0.2, "a": third, "c": -1e-300 * 1e-300, "d": np.int64(3)}, "gear")
    assert text == json.dumps({"a": [0.3333333333, None, None], "b": 0.3, "c": 0.0, "d": 3,
                               "planner_version": __version__, "schema": "gear/1"}, indent=2)


def test_arrays_tuples_truth_and_text_pass():
    document = {"x": np.arange(3), "y": (True, None, "Hα"), "z": np.array(2.5), "w": np.bool_(True)}
    assert document | {"x": [0, 1, 2], "y": [True, None, "Hα"]} == {
        key: value for key, value in json.loads(json_text(document, "x")).items() if key in document}


def test_a_quantity_must_be_given_as_a_number():
    with pytest.raises(TypeError, match="has a unit"):
        json_text({"x": 3 * u.mm}, "x")


@pytest.mark.parametrize(("unit", "key"), [
    ("mm", "x_mm"), ("electron/adu", "x_electron_per_adu"), ("mag/arcsec2", "x_mag_per_arcsec2"), ("1/K", "x_per_K"),
    ("arcsec/min(1/2)", "x_arcsec_per_sqrt_min"), ("arcsec/pix", "x_arcsec_per_pixel"), ("", "x"),
])
def test_keys_end_in_their_unit(unit, key):
    assert unit_key("x", u.Unit(unit)) == key


def test_times_are_rounded_to_the_second_and_end_in_z():
    assert utc_text(Time("2026-11-25T23:59:59.7", scale="utc")) == "2026-11-26T00:00:00Z"


HOME = Site(name="x", latitude=-36.85 * u.deg, longitude=174.76 * u.deg,
            time_zone="Pacific/Auckland")  # UTC+13 in summer


@pytest.mark.parametrize(("utc", "date"), [
    ("2026-01-10T11:00", "2026-01-10"),  # 00:00 on the 11th there: the night that began on the 10th
    # cos H = -tan(-36.85 deg) tan(-22 deg): the Sun rises 7 h 10 min before its noon at 13:28 there, at 6:18.
    ("2026-01-10T16:00", "2026-01-10"),  # 05:00 on the 11th: still the night that began on the 10th
    ("2026-01-10T18:30", "2026-01-11"),  # 07:30 on the 11th, the Sun is up: the coming night
    ("2026-01-10T23:30", "2026-01-11"),  # 12:30 on the 11th
])
def test_tonight_is_named_by_its_evening_at_the_site(utc, date):
    now = datetime.datetime.fromisoformat(utc + "+00:00")
    assert night_date(None, HOME, now=now).isoformat() == date


@pytest.mark.parametrize("bad", ["", "tonight", "2026-13-01", "2026-02-30", "25.11.2026", "1666-01-01", "0000-00-00"])
def test_what_is_no_date_is_refused(bad):
    with pytest.raises(InvalidInputError, match=r"night = .*must (be a date|lie between 1973-01-03 and 2098-12-31)"):
        night_date(bad, HOME)


def test_a_date_is_taken_as_written():
    assert night_date("2026-11-25", HOME) == datetime.date(2026, 11, 25)


WORDS = [("right-ascension torque left (N m)", "0.66 ± 0.01", "after the moves"), ("seeing", "2.4″", ""),
         ("IC 434", "23:42 to 04:59 AEDT", "Never gets above 30.0°")]


@pytest.mark.parametrize("boxed", [True, False])
@pytest.mark.parametrize("width", [24, 30, 40, 52, 60, 80, 110])
def test_no_table_breaks_a_word_or_runs_over_the_edge(capsys, monkeypatch, width, boxed):
    monkeypatch.setenv("COLUMNS", str(width))
    print_table("What it is", ("part", "now", "remark"), WORDS, right=("now",), boxed=boxed)
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= width
    shown = out.replace("now: ", " ").replace("remark: ", " ").split()
    for word in " ".join(" ".join(row) for row in WORDS).split():
        assert word in shown


def test_negative_numbers_of_a_table_have_a_minus_sign(capsys):
    print_table("Places", ("name", "value"), [("Sh2-155", "-17°"), ("2026-11-10", "to -3.5 h"), ("a-1", "x - y")])
    text = capsys.readouterr().out
    assert "−17°" in text
    assert "to −3.5 h" in text
    assert all(name in text for name in ("Sh2-155", "2026-11-10", "a-1", "x - y"))


def test_a_table_that_fits_is_a_table_and_one_that_does_not_a_list(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "110")
    print_table("", ("part", "now"), [("seeing", "2.4″")])
    assert ["part", "now"] in [line.split() for line in capsys.readouterr().out.splitlines()]
    monkeypatch.setenv("COLUMNS", "21")
    print_table("", ("part", "now"), [("right-ascension-torque", "2.4″")])
    assert "now: 2.4″" in capsys.readouterr().out


@pytest.mark.parametrize("words", ["done", "sources", "gear", "pier power", "pier balance", "season M33 --nights 3"])
def test_no_line_of_an_answer_runs_over_forty_columns(capsys, monkeypatch, words):
    monkeypatch.setenv("COLUMNS", "40")
    assert run(words.split()) == 0
    longest = max(capsys.readouterr().out.splitlines(), key=len)
    assert len(longest) <= 40 or " " not in longest.strip()


def test_sentences_wrap_between_words_and_keep_figures_whole(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "40")
    print_lines("  Best on average: 90 s guided, within the 1 % of the best")
    print_lines("17:40 to 18:36 CET  · slew to NGC 7000, centre, focus", hang=16)
    assert capsys.readouterr().out.splitlines() == [
        "  Best on average: 90 s guided, within", "  the 1 % of the best",
        "17:40 to 18:36 CET  · slew to NGC 7000,", " " * 16 + "centre, focus"]
    assert max(map(len, help_text().splitlines())) == 40
