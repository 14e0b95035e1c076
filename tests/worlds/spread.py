"""Simulations here or on dask's workers, each result a row of one ECSV file that a stopped run goes on from.

    PYTHONPATH=.:tests dask scheduler                                 # on one machine, in a checkout
    PYTHONPATH=.:tests dask worker ADDRESS --nthreads 1               # on the others, a checkout of one commit each
    python tests/worlds/regret.py --scheduler ADDRESS --results regret.ecsv

Every case has a seed of its own and the rows stand in the order of the cases: the file is the same bytes wherever and
in how many goes they were computed. A case whose worker is lost is computed by another.
"""

import argparse
import csv
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

HEAD = """# %ECSV 1.0
# ---
# delimiter: ','
# datatype:
# - {{name: case, datatype: string}}
# - {{name: result, datatype: string}}
# meta: {{of: {of!r}}}
case,result
"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add the options of `spread`."""
    parser.add_argument("--scheduler", help="address of a dask scheduler, or: here")
    parser.add_argument("--workers", type=int, help="of our own, with --scheduler here")
    parser.add_argument("--results", type=Path, help="ECSV file to write, or to go on from")


def spread(function: Callable[[Any], dict], cases: list, of: str, asked: argparse.Namespace) -> Iterator[dict]:
    """Yield what a function makes of each case, as JSON knows it, in their order; `of` says what the file is of."""
    known = _known(asked.results, of)
    open_cases = [case for case in cases if str(case) not in known]
    fresh = _computed(function, open_cases, asked)
    for case in cases:
        if str(case) not in known:
            text = json.dumps(next(fresh), sort_keys=True)
            known[str(case)] = text
            if asked.results:
                with asked.results.open("a", encoding="utf-8", newline="") as file:
                    csv.writer(file, lineterminator="\n").writerow([case, text])
        yield json.loads(known[str(case)])


def _computed(function: Callable, cases: list, asked: argparse.Namespace) -> Iterator[dict]:
    """Yield results made here, or by the workers of a scheduler."""
    if asked.scheduler is None or not cases:
        yield from map(function, cases)
        return
    from planner.cli.measure.frame_cluster import on_cluster

    yield from on_cluster(function, cases, asked.scheduler, asked.workers, _lost)


def _lost(case: Any) -> dict:
    raise SystemExit(f"case {case}: three workers were lost with it")


def _known(path: Path | None, of: str) -> dict[str, str]:
    """Return the rows of a file of results, begun if it is not there; a row that was not finished is cut off."""
    if path is None:
        return {}
    if not path.exists():
        path.write_text(HEAD.format(of=of), encoding="utf-8")
    text = path.read_text(encoding="utf-8")
    if not text.startswith(HEAD.format(of=of)):
        raise SystemExit(f"{path}: holds other results than {of}")
    whole = text[: text.rindex("\n") + 1]
    if whole != text:
        path.write_text(whole, encoding="utf-8")
    return dict(row for row in csv.reader(whole[len(HEAD.format(of=of)):].splitlines()))
