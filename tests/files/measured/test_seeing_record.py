"""The seeing record of a site, read back: a file written by hand."""

import pytest

from planner.errors import InvalidInputError
from planner.files.equipment import load_equipment
from planner.files.measured.seeing_record import kept_nights
from planner.files.own_files import packaged_data

HEAD = "site,night,seeing_arcsec,error_arcsec,frames\n"


@pytest.fixture
def site(tmp_path):
    """A site whose equipment file lies in `tmp_path`."""
    for name in ("equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
        (tmp_path / name).write_bytes(packaged_data(name).read_bytes())
    return load_equipment(tmp_path / "equipment.toml").site("hill")


def test_nights_are_read_back_by_date(tmp_path, site):
    equipment = tmp_path / "equipment.toml"
    assert kept_nights(equipment, site) == []
    (tmp_path / "seeing.csv").write_text(
        HEAD + "hill,before,2.400,0.600,0\nhill,2026-11-10,2.100,0.050,30\nvalley,2026-11-11,4.0,0.1,9\n"
        "hill,2026-10-02,3.000,0.200,12\n", encoding="utf-8")
    nights = kept_nights(equipment, site)
    assert [(night.night, night.value.to_value("arcsec"), night.error.to_value("arcsec"), night.frames)
            for night in nights] == [("2026-10-02", 3.0, 0.2, 12), ("2026-11-10", 2.1, 0.05, 30)]


@pytest.mark.parametrize("line", [
    "hill,2026-11-10,2.1,0.05,many", "hill,someday,2.1,0.05,3", "hill,2026-11-10,-2,0.05,3", "hill,2026-11-10,2.1",
    "hill,2026-11-10,nan,0.05,3", "hill,2026-11-10,2.1,0.05,3,4", 'hill,"2026-11-10,2.1,0.05,3',
    '"hill,2026-11-10,2.1,0.05,3\n' + "hill,2026-11-11,2.1,0.05,3\n" * 6000])
def test_a_line_that_cannot_be_is_named(tmp_path, site, line):
    (tmp_path / "seeing.csv").write_text(HEAD + line + "\n", encoding="utf-8")
    with pytest.raises(InvalidInputError, match="line 2"):
        kept_nights(tmp_path / "equipment.toml", site)
