"""Record the answers of every command, and compare two recordings key by key.

In: a tree of this project. Out: one JSON file: every command's ``--json`` on the demo files, 60 cases of advice, 20
nights. Run it before and after a change of structure; what differs is what the change did to the answers::

    python tests/recorder record BEFORE.json --tree ../an-older-worktree
    python tests/recorder record AFTER.json
    python tests/recorder schema AFTER.json
    python tests/recorder compare BEFORE.json AFTER.json [--tolerance 1e-9] [--all] [--only WORD] [--ignore KEYS]

`compare` leaves with 1 if something differs; `schema` widens what `planner schema` prints of documents whose results do
not tell their fields (`planner.cli.kinds`) to what was recorded. Cases are in `cases.py`. A recording takes half a
minute of an idle core.
"""

import argparse
import contextlib
import io
import json
import os
import shutil
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from cases import RENAMED, all_cases
from schema import schemas, widened

TREE = Path(__file__).resolve().parents[2]
SHOWN = 12  # differing keys of one case shown without --all


def record(out: Path, tree: Path, only: str) -> int:
    """Write the answers of the tree."""
    tree = tree.resolve()
    sys.path.insert(0, str(tree))
    answers = {}
    with tempfile.TemporaryDirectory() as folder:
        for name in ("HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME", "XDG_DATA_HOME"):
            os.environ[name] = folder
        os.environ.pop("PLANNER_EQUIPMENT", None)
        for name, words in all_cases().items():
            if only not in name:
                continue
            for file in ("projects.toml", "equipment.toml", "horizon_hill.csv", "horizon_paddock.csv"):
                shutil.copy(tree / "data" / file, folder)
            answers[name] = _answer([word.format(data=tree / "data", scratch=folder) for word in words], folder, tree)
    out.write_text(json.dumps(answers, indent=1, sort_keys=True, ensure_ascii=False), encoding="utf-8")
    failed = [name for name, answer in answers.items() if isinstance(answer["answer"], str)]
    print(f"{len(answers)} cases recorded" + (f"; no answer: {'; '.join(failed)}" if failed else "."))
    return 0


def _answer(words: list[str], folder: str, tree: Path) -> dict:
    from planner.cli import COMMANDS, run

    words[0] = next((name for name in RENAMED.get(words[0], ()) if name in COMMANDS), words[0])
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code = run(words)
        except SystemExit as leaving:
            code = leaving.code
    text = out.getvalue().replace(str(tree), "TREE").replace(folder, "SCRATCH")
    try:
        return {"code": code, "answer": json.loads(text)}
    except ValueError:
        return {"code": code, "answer": text, "error": err.getvalue()}


def compare(before: dict, after: dict, asked: argparse.Namespace) -> Iterator[tuple[str, str, str]]:
    """Yield case, key and how it differs."""
    ignored = set(asked.ignore.split(","))
    for name in before.keys() | after.keys():
        if asked.only not in name:
            continue
        one, other = (dict(leaves(side.get(name, {}))) for side in (before, after))
        for key in [*one, *(key for key in other if key not in one)]:
            if key.rpartition(".")[2] in ignored:
                continue
            if key not in other or key not in one:
                yield name, key, f"gone: {one[key]!r:.60}" if key in one else f"new: {other[key]!r:.60}"
            elif not same(one[key], other[key], asked.tolerance):
                yield name, key, difference(one[key], other[key])


def leaves(value: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Yield the path and value of every leaf; rows of a list by their name where they have one, else by number."""
    if isinstance(value, dict) and value:
        for key, entry in value.items():
            yield from leaves(entry, f"{path}.{key}" if path else key)
    elif isinstance(value, list) and value:
        names = [entry.get("name") if isinstance(entry, dict) else None for entry in value]
        by_name = all(isinstance(name, str) for name in names) and len(set(names)) == len(names)
        for number, entry in enumerate(value):
            yield from leaves(entry, f"{path}[{names[number] if by_name else number}]")
    else:
        yield path, value


def same(one: object, other: object, tolerance: float) -> bool:
    """Return whether two leaves are the same; numbers to a relative tolerance."""
    if _is_number(one) and _is_number(other):
        return one == other or abs(one - other) <= tolerance * max(abs(one), abs(other))
    return type(one) is type(other) and one == other


def difference(one: object, other: object) -> str:
    """Return both values, and for numbers by how much of the larger they differ."""
    if _is_number(one) and _is_number(other):
        return f"{one!r} -> {other!r} ({(other - one) / max(abs(one), abs(other)):+.2g})"
    return f"{one!r:.100} -> {other!r:.100}"


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def report(asked: argparse.Namespace) -> int:
    """Print every key that differs, by case; return 1 if one does."""
    sides = [json.loads(path.read_text(encoding="utf-8")) for path in (asked.before, asked.after)]
    cases: dict[str, list[str]] = {}
    for name, key, how in compare(*sides, asked):
        cases.setdefault(name, []).append(f"    {key}: {how}")
    for name, lines in sorted(cases.items()):
        shown = lines if asked.all else lines[:SHOWN]
        more = [f"    ... and {len(lines) - len(shown)} more"] if len(lines) > len(shown) else []
        print("\n".join([f"{name}: {len(lines)} keys differ", *shown, *more]))
    total = len(sides[0].keys() | sides[1].keys())
    print(f"{sum(map(len, cases.values()))} keys differ in {len(cases)} of {total} cases.")
    return 1 if cases else 0


def write_schema(recordings: list[Path]) -> int:
    """Write the schema of every document that the recordings hold, and of an error."""
    sys.path.insert(0, str(TREE))
    from planner.cli.kinds import KINDS
    from planner.errors import InvalidInputError, UsageError
    from planner.files.json_text import error_line

    documents = [json.loads(error_line(error)) for error in (
        InvalidInputError("name", 1, "rule", "Remedy."), UsageError("planner gaer: is not a command."))]
    for path in recordings:
        answers = json.loads(path.read_text(encoding="utf-8")).values()
        documents += [answer["answer"] for answer in answers if isinstance(answer["answer"], dict)]
    path = TREE / "data" / "documents.json"
    known, found = json.loads(path.read_text(encoding="utf-8")), schemas(documents)
    both = {kind: widened(known.get(kind, found.get(kind)), found.get(kind, known.get(kind)))
            for kind in known | found if kind.partition("/")[0] not in KINDS}
    path.write_text(f"{json.dumps(both, indent=1, sort_keys=True, ensure_ascii=False)}\n", encoding="utf-8")
    return 0


def main() -> int:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    actions = parser.add_subparsers(dest="action", required=True)
    recorder = actions.add_parser("record")
    recorder.add_argument("out", type=Path)
    recorder.add_argument("--tree", type=Path, default=TREE)
    actions.add_parser("schema").add_argument("recordings", type=Path, nargs="+")
    comparer = actions.add_parser("compare")
    comparer.add_argument("before", type=Path)
    comparer.add_argument("after", type=Path)
    comparer.add_argument("--tolerance", type=float, default=1e-9)
    comparer.add_argument("--all", action="store_true")
    comparer.add_argument("--ignore", default="", help="Keys that do not count, like schema,planner_version.")
    for action in (recorder, comparer):
        action.add_argument("--only", default="", help="Part of the names of the cases that count.")
    asked = parser.parse_args()
    if asked.action == "record":
        return record(asked.out, asked.tree, asked.only)
    return write_schema(asked.recordings) if asked.action == "schema" else report(asked)


if __name__ == "__main__":
    sys.exit(main())
