"""A target by what a person calls it: catalogue number, common name, coordinates, or a name of their own list."""

import re
from pathlib import Path

from planner.checks import did_you_mean, nearest_names
from planner.errors import STEERING, InvalidInputError, plain_text
from planner.files.catalogue import all_names, common_names, numbered_name, object_by_number, readable
from planner.files.own_files import own_path
from planner.files.reading import STANDARD_INPUT, is_there
from planner.files.sky_position import looks_like_position, parse_position, position_name
from planner.files.target_lists import read_target_list
from planner.visibility.target import Target

# Names in daily use that the catalogue lacks or gives to a neighbour (common practice, no source).
_NAMES_IN_USE = {
    "flame nebula": "NGC2024", "heart nebula": "IC1805", "soul nebula": "IC1848", "elephant's trunk nebula": "IC1396",
    "wizard nebula": "NGC7380", "jellyfish nebula": "IC0443", "cone nebula": "NGC2264", "pinwheel galaxy": "NGC5457",
    "sombrero": "NGC4594", "leo triplet": "NGC3628", "running chicken nebula": "IC2944", "pacman nebula": "NGC0281",
    "rosette": "NGC2237", "andromeda": "NGC0224", "triangulum": "NGC0598", "helix": "NGC7293", "eagle": "NGC6611",
    "orion": "NGC1976", "whirlpool": "NGC5194",
}


def user_targets_path() -> Path:
    """Return where the user's standing target list lies, there or not: beside their equipment file."""
    return own_path("targets.csv")


def find_target(text: str, *, targets: Path | str | None = None) -> Target:
    """Return the target that a text names.

    Parameters
    ----------
    text : str
        A catalogue number in any spelling (``ngc7331``, ``M 31``, ``Caldwell 30``), a common name or the beginning of
        one (``Horsehead``), coordinates (see `parse_position`), or a name of the list.
    targets : Path or str, optional
        A list file of the user's; without it, their standing list if there is one.

    Raises
    ------
    InvalidInputError
        If nothing has that name, or several things have; the nearest names are offered.
    """
    wanted = " ".join(str(text).split())
    if not wanted:
        raise InvalidInputError("target", '""', "must name something", "Write it like NGC 7331 or 22 37 04 +34 24 57.")
    if STEERING.search(wanted):
        raise InvalidInputError("target", wanted, "must hold no control characters", _nearest(plain_text(wanted)))
    own = _own_target(wanted, targets)
    if own is not None:
        return own
    if looks_like_position(wanted):
        ra, dec = parse_position(wanted)
        return Target(position_name(ra, dec), ra, dec)
    padded = numbered_name(wanted) or _named(wanted)
    found = object_by_number(padded or wanted.upper().replace(" ", ""))
    if found is None:
        raise InvalidInputError("target", wanted, "is not in the catalogue", _nearest(wanted))
    return found


def find_targets(texts: list[str] | tuple[str, ...]) -> tuple[Target, ...]:
    """Return the targets that several texts name, each one once; the path of a list file stands for its targets."""
    found: dict[str, Target] = {}
    for text in texts:
        for target in _expanded(text):
            found.setdefault(target.name, target)
    return tuple(found.values())


def _expanded(text: str) -> list[Target]:
    if text == STANDARD_INPUT or text.lower().endswith((".csv", ".txt", ".tsv")):
        return [entry if isinstance(entry, Target) else find_target(entry) for entry in read_target_list(text)]
    return [find_target(text)]


def _own_target(wanted: str, targets: Path | str | None) -> Target | None:
    path = Path(targets) if targets is not None else user_targets_path()
    if targets is None and not is_there(path):
        return None
    for entry in read_target_list(path):
        if isinstance(entry, Target) and _key(entry.name) == _key(wanted):
            return entry
    return None


def _named(wanted: str) -> str | None:
    """Return the padded catalogue name of a common name: the whole name, else its beginning, else a word of it."""
    key = _key(wanted)
    in_use = {_key(name): padded for name, padded in _NAMES_IN_USE.items()}
    if key in in_use:
        return in_use[key]
    names = [(_key(name), name, padded) for name, padded in common_names()]
    names += [(_key(name), name.capitalize(), padded) for name, padded in _NAMES_IN_USE.items()]
    for fits in (str.__eq__, str.startswith, _has_word):
        matches = {padded: name for name_key, name, padded in reversed(names) if len(key) > 2 and fits(name_key, key)}
        if len(set(matches.values())) > 1:
            choices = ", ".join(f"{name} ({readable(padded)})" for padded, name in sorted(matches.items()))
            raise InvalidInputError("target", wanted, "names more than one object", f"Choose from: {choices}.")
        if matches:
            return min(matches)
    return None


def _has_word(name: str, key: str) -> bool:
    return f" {key}" in f" {name}"


def _key(name: str) -> str:
    """Return a name for comparing: lower case, letters and digits, single blanks, no leading article."""
    plain = re.sub(r"[^\w+]+", " ", name.lower().replace("'", "").replace("’", "")).strip()
    return plain.removeprefix("the ")


def _nearest(wanted: str) -> str:
    names = all_names()
    padded = numbered_name(wanted)
    near = nearest_names(readable(padded) if padded else wanted, names)
    if near:
        return did_you_mean(readable(padded) if padded else wanted, near)
    return "Give a catalogue number, a common name, or coordinates like 22 37 04 +34 24 57."
