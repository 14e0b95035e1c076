"""Where the figures of a part came from."""

import re
from datetime import UTC, datetime

import pytest

from planner.files.equipment.edit import write_equipment_table
from planner.files.equipment.history import origins, put_table_back, table_history
from planner.files.own_files import packaged_data

CLASS = "of the class entry-level worm (common practice, no source; replace by your own drift log): "
WORDS = "[[mount]]  # figures by words: common practice, no source\n"


@pytest.fixture
def file(tmp_path):
    """An equipment file with one more mount, as the guided set-up writes it."""
    path = tmp_path / "equipment.toml"
    demo = packaged_data("equipment.toml").read_text(encoding="utf-8")
    path.write_text(re.sub(r"(?m)^horizon = .*$", "", demo) + f"""
{WORDS}name = "bench"
drive_class = "entry-level worm"
polar_altitude_error = "3 arcmin"
polar_azimuth_error = "3 arcmin"
""", encoding="utf-8")
    return path


def test_each_figure_says_whether_it_was_measured_or_typed_or_is_of_a_class(file):
    assert origins(file, "mount", "bench") == (
        "typed, or picked by words (common practice, no source): polar altitude error, polar azimuth error",
        f"{CLASS}rate error, jitter, wander, periodic error")
    write_equipment_table(file, "mount", "bench", {
        "polar_altitude_error": "0.9 ± 0.8 arcmin", "wander": "0.1 arcsec/min(1/2)",
        "periodic": [{"period": "480 s", "amplitude": "12 arcsec"}]}, log="d1", measured=True)
    write_equipment_table(file, "mount", "bench", {"jitter": "0.3 arcsec"})
    today = datetime.now(UTC).date().isoformat()
    after = (f"measured {today}: wander, polar altitude error, periodic error",
             "typed, or picked by words (common practice, no source): polar azimuth error",
             f"typed {today}: jitter", f"{CLASS}rate error")
    assert sorted(origins(file, "mount", "bench")) == sorted(after)
    assert origins(file, "mount", "bench")[0] == after[0]
    assert origins(file, "mount", "bench")[-1] == after[-1]


def test_a_figure_put_back_is_what_it_was(file):
    write_equipment_table(file, "mount", "bench", {"jitter": "0.3 arcsec"}, measured=True)
    write_equipment_table(file, "mount", "bench", {"jitter": "0.5 arcsec"})
    put_table_back(file, "mount", "bench", table_history(file, "mount", "bench")[0])
    assert origins(file, "mount", "bench")[0].startswith("measured 20")
    assert "jitter" in origins(file, "mount", "bench")[0]


def test_the_files_note_does_not_call_a_measured_figure_one_by_words(file):
    write_equipment_table(file, "mount", "bench", {"jitter": "0.3 arcsec"})
    assert WORDS in file.read_text(encoding="utf-8")
    write_equipment_table(file, "mount", "bench", {"wander": "0.1 arcsec/min(1/2)"}, measured=True)
    assert WORDS not in file.read_text(encoding="utf-8")
    assert "[[mount]]  # figures by words where not measured: common practice" in file.read_text(encoding="utf-8")
