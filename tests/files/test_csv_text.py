"""Cells of a table that a spreadsheet would obey stay text."""

import csv
import io

import pandas as pd
import pytest

from planner.files.csv_text import csv_text, text_cell


@pytest.mark.parametrize("text", ["=1+1", "+A1", "-A1", "@SUM(A1)", '=HYPERLINK("http://x")', " =1", "\t=1"])
def test_no_text_cell_starts_a_formula(text):
    cell = next(csv.reader(io.StringIO(csv_text(pd.DataFrame({"name": [text]})).split("\n", 1)[1])))[0]
    assert cell == f"'{text}"


@pytest.mark.parametrize("value", ["-1.5", "+2e3", "NGC 7331", "−5", 3, -1.5, None])
def test_numbers_and_other_texts_stand_as_they_are(value):
    assert text_cell(value) is value


def test_columns_of_numbers_keep_their_type():
    frame = pd.DataFrame({"time_s": [1, 2], "altitude_deg": [-1.5, 0.25], "name": ["a", "b"]})
    assert csv_text(frame) == frame.to_csv(index=False)
