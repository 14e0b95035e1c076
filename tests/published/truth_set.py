"""A set of simulated pointings beside this file: 112 by rigid rotations, without and with noise, on both pier sides.

Made by another program, whose seed, model and parameters the JSON tells; here under this project's names.
"""

import csv
import json
from pathlib import Path

FOLDER = Path(__file__).parent
NAMES = {"ha_index": "hour_angle_zero", "dec_index": "declination_zero", "collimation": "collimation",
         "nonperp": "axes_not_square", "pole_elev": "polar_altitude", "pole_azim": "polar_azimuth",
         "flexure": "tube_flexure"}
SIDES = {"direct": "east", "reversed": "west"}


def true_set():
    """Return what the set says of itself."""
    return json.loads((FOLDER / "pointing_truth.json").read_text())


def rows_of(name):
    """Return the rows to fit, those held out or all."""
    rows = csv.DictReader((FOLDER / "pointing_truth.csv").read_text().splitlines())
    return [row for row in rows if row["set"] == name or name == "all"]


def true_parameters(about):
    """Return the parameters [arcsec] that the pointings were made with."""
    return {NAMES[name]: value for name, value in about["true_parameters_arcsec"].items()}
