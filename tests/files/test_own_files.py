"""The packaged data are found from a checkout and from an installed wheel."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from planner.errors import InvalidInputError
from planner.files.own_files import packaged_app, packaged_data

ROOT = Path(__file__).parents[2]
NAMES = ("equipment.toml", "starter.toml", "horizon_hill.csv", "horizon_paddock.csv", "targets.csv")


@pytest.mark.parametrize("name", NAMES)
def test_each_file_states_its_origin(name):
    assert "Origin: " in packaged_data(name).read_text(encoding="utf-8")[:600]


def test_an_unknown_name_is_refused_with_the_nearest():
    with pytest.raises(InvalidInputError, match=r"Did you mean equipment\.toml"):
        packaged_data("equipmnt.toml")


def test_the_script_of_the_app_is_there():
    assert packaged_app().read_text(encoding="utf-8").startswith('"""')


def test_a_wheel_carries_the_data_and_answers_from_them(tmp_path):
    """Build a wheel with the build backend alone (nothing is fetched), unpack it, and ask it for the demo."""
    subprocess.run([sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)], cwd=ROOT,
                   check=True, capture_output=True)
    wheel, = tmp_path.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        archive.extractall(tmp_path / "installed")
    assert {f"planner/packaged/data/{name}" for name in NAMES} <= set(names)
    assert "planner/packaged/streamlit_app.py" in names
    code = ("from planner.files import load_equipment, packaged_data; e = load_equipment(); "
            "print(e.is_demo, len(e.rigs), packaged_data('equipment.toml'))")
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True,
                          env=os.environ | {"PYTHONPATH": str(tmp_path / "installed")})
    assert done.stdout.split()[:2] == ["True", "6"]
    assert str(tmp_path / "installed" / "planner" / "packaged") in done.stdout
