"""The speed table in one go: ``python tests/benchmarks/table.py [WORD]``; a word chooses the rows that hold it.

Each row is a benchmark of this folder, which asserts the accuracy beside: the work, what the baseline takes, ours, how
many times faster that is, the target, and ours over the least that the machine must do for it (library calls, bytes
read or written; measured once on two cores). Ratios are of one run; with other work on the machine they mean little, so
the load stands beneath. Where there is no baseline the time is that of the process on one core, whatever else runs.
"""

import json
import os
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).parent
COLUMNS = ("work", "baseline", "takes", "ours", "ratio", "target", "over the floor", "")


class Row(NamedTuple):
    """A benchmark, and where in what it notes the ratio stands."""

    work: str
    baseline: str
    test: str
    target: float  # at least so many times faster; with `most_s` at most so many seconds of one core
    ratio: str = "ratio"
    inverse: bool = False  # the note is ours over the baseline
    most_s: bool = False
    times_ours: bool = True  # what the benchmark times; else the ratio alone is known
    floor_s: float | None = None  # the least that the machine must do


ROWS = (
    Row("night of 100 targets, Sun and Moon", "astroplan table",
        "test_visibility.py::test_a_night_against_observability_table[100]", 198, floor_s=2e-4),
    Row("night of 1000 targets, Sun and Moon", "astroplan table",
        "test_visibility.py::test_a_night_against_observability_table[1000]", 248, floor_s=2e-4),
    Row("rise, transit, set of 100 targets", "astroplan",
        "test_visibility.py::test_rise_transit_set_against_astroplan", 434),
    Row("altitudes, 13,000 targets × 144 times", "astropy", "test_visibility.py::test_altitude_grid_against_astropy",
        148),
    Row("year of nights, 13,000 targets", "astropy", "test_visibility.py::test_a_year_against_astropy", 2300,
        floor_s=0.12e-9 * 13_000 * 365),
    Row("moonlit year of the whole catalogue", "", "test_season.py::test_a_year_of_the_whole_catalogue", 1,
        most_s=True),
    Row("plan of 1000 targets, in 500 MB", "", "test_night.py::test_plan_of_a_thousand_targets", 5, most_s=True),
    Row("kept share, one periodic term", "random subs of equal accuracy",
        "test_exposure.py::test_kept_over_the_whole_ladder[one periodic term]", 1000, "times_faster"),
    Row("kept share, two periodic terms", "random subs of equal accuracy",
        "test_exposure.py::test_kept_over_the_whole_ladder[two periodic terms]", 1000, "times_faster"),
    Row("tracking error over the ladder", "random starts",
        "test_tracking.py::test_against_a_monte_carlo_of_equal_accuracy", 1000, "monte_carlo_over_closed_form"),
    Row("45 set-ups on their mount, 1 s on two cores", "",
        "test_combinations.py::test_every_set_up_on_its_mount[factors1-45]", 1.9, most_s=True),
    Row("one whole advice", "import astropy.coordinates", "test_advice.py::test_one_whole_advice[nebulae]", 0.67,
        "over_import", inverse=True),
    Row("cold planner advise", "import of two libraries", "test_cold.py::test_cold_start[advise]", 0.67,
        "over_importing_libraries", inverse=True),
    Row("cold planner night", "import of two libraries", "test_cold.py::test_cold_start[night]", 0.5,
        "over_importing_libraries", inverse=True),
    Row("pointing fit, 300 points", "scipy least_squares", "test_measure.py::test_pointing_fit_against_scipy", 1,
        inverse=True, times_ours=False),
    Row("drift log of 4000 rows", "", "test_measure.py::test_drift_log[4000]", 0.1, most_s=True),
    Row("61-megapixel frame", "sep", "test_frames.py::test_61_megapixels", 4, inverse=True, floor_s=0.008),
)


def main() -> int:
    """Run the rows asked for and print the table; 1 if a benchmark failed or a target is missed."""
    word = " ".join(sys.argv[1:])
    rows = [row for row in ROWS if word in row.work]
    measured = (_run([row for row in rows if not row.most_s])
                | _run([row for row in rows if row.most_s], "--benchmark-timer=time.process_time"))
    lines = [_line(row, measured.get(row.test.rpartition("::")[2])) for row in rows]
    widths = [max(map(len, column)) for column in zip(COLUMNS, *lines, strict=True)]
    for line in (COLUMNS, tuple("-" * width for width in widths), *lines):
        print("| " + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)) + " |")
    print(f"Load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores.")
    return int(any(line[-1] != "met" for line in lines))


def _run(rows: list[Row], *options: str) -> dict[str, tuple[float | None, dict[str, float]]]:
    """Run the benchmarks of some rows and return what `_measured` reads."""
    if not rows:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        notes, found = Path(folder) / "notes.json", Path(folder) / "found.xml"
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-o", "addopts=--import-mode=importlib", "-p", "no:cacheprovider",
             "-W", "ignore:Not saving anything", "-o", "junit_family=xunit1", f"--benchmark-json={notes}",
             f"--junitxml={found}", *options, *(str(HERE / row.test) for row in rows)],
            cwd=HERE.parents[1], env=os.environ | {"OPENBLAS_NUM_THREADS": "1"}, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, check=False)
        return _measured(notes, found)


def _measured(notes: Path, found: Path) -> dict[str, tuple[float | None, dict[str, float]]]:
    """Return the shortest time [s], if it was timed, and the notes of each benchmark that passed, by its name."""
    measured: dict[str, tuple[float | None, dict[str, float]]] = {}
    for case in xml.parse(found).iter("testcase"):
        if all(child.tag in ("properties", "system-out") for child in case):
            measured[str(case.get("name"))] = None, {
                str(item.get("name")): float(str(item.get("value"))) for item in case.iter("property")}
    if notes.is_file() and notes.stat().st_size:
        for one in json.loads(notes.read_text(encoding="utf-8"))["benchmarks"]:
            if one["name"] in measured:
                measured[one["name"]] = one["stats"]["min"], one["extra_info"]
    return measured


def _line(row: Row, seen: tuple[float | None, dict[str, float]] | None) -> tuple[str, ...]:
    """Return the cells of a row."""
    if seen is None:
        return row.work, row.baseline, "", "", "", _target(row), "", "FAILED"
    ours, notes = seen
    if row.most_s:
        met = ours is not None and ours <= row.target
        return row.work, row.baseline, "", _time(ours), "", _target(row), "", "met" if met else "missed"
    ratio = 1 / notes[row.ratio] if row.inverse else notes[row.ratio]
    ours = (notes.get("seconds") if ours is None else ours) if row.times_ours else None
    takes = None if ours is None else ours * ratio
    shown = f"{ratio:,.0f}×" if ratio >= 10 else f"{ratio:.2g}×"
    return (row.work, row.baseline, _time(takes), _time(ours), shown, _target(row),
            "" if ours is None or row.floor_s is None else f"{ours / row.floor_s:,.2g}×",
            "met" if ratio >= row.target else "missed")


def _target(row: Row) -> str:
    return f"≤ {row.target:g} s" if row.most_s else f"≥ {row.target:,g}×"


def _time(seconds: float | None) -> str:
    if seconds is None:
        return ""
    return f"{seconds:.2f} s" if seconds >= 1 else f"{seconds * 1e3:.3g} ms"


if __name__ == "__main__":
    sys.exit(main())
