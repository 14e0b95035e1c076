"""A target by what a person calls it: catalogue number, common name, coordinates, or a name of their own list."""

import functools
import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path

from planner.checks import did_you_mean, nearest_names
from planner.errors import STEERING, InvalidInputError, plain_text
from planner.files.forms.orbits import is_typed_orbit, typed_orbit
from planner.files.own_files import own_path
from planner.files.reading import STANDARD_INPUT, is_there
from planner.files.sky_position import looks_like_position, parse_position, position_name
from planner.files.targets.catalogue import (
    all_names,
    common_names,
    kept_open,
    numbered_name,
    object_by_number,
    readable,
)
from planner.files.targets.lists import read_target_list
from planner.files.targets.nebulae import Nebula, as_target, nebula_named, nebulae, plain
from planner.visibility.target import Target

# Names in daily use that the catalogue lacks or gives to a neighbour (common practice, no source).
_NAMES_IN_USE = {
    "flame nebula": "NGC2024", "heart nebula": "IC1805", "soul nebula": "IC1848", "elephant's trunk nebula": "IC1396",
    "wizard nebula": "NGC7380", "jellyfish nebula": "IC0443", "cone nebula": "NGC2264", "pinwheel galaxy": "NGC5457",
    "sombrero": "NGC4594", "leo triplet": "NGC3628", "running chicken nebula": "IC2944", "pacman nebula": "NGC0281",
    "rosette": "NGC2237", "andromeda": "NGC0224", "triangulum": "NGC0598", "helix": "NGC7293", "eagle": "NGC6611",
    "orion": "NGC1976", "whirlpool": "NGC5194", "sculptor galaxy": "NGC0253", "seagull nebula": "IC2177",
    "cat's paw nebula": "NGC6334", "lobster nebula": "NGC6357", "tulip nebula": "Sh2-101", "tadpoles": "IC0410",
    "tadpole nebula": "IC0410", "rho ophiuchi": "IC4604", "lmc": "ESO056-115", "smc": "NGC0292",
    "thor's helmet": "NGC2359", "prawn nebula": "IC4628", "blue horsehead": "IC4592", "cygnus loop": "Cygnus Loop",
    "ghost of cassiopeia": "IC0063", "spaghetti nebula": "Simeis 147", "lion nebula": "Sh2-132",
    "angelfish nebula": "Sh2-264",
}
_ABBREVIATIONS = ("LMC", "SMC")
_CATALOGUE_NUMBER = re.compile(r"[a-z]{1,9}[\s.\-_]*\d+[a-z]?", re.I)
_OWN_LIST = ("Not every catalogue comes with the program: give coordinates like 22 37 04 +34 24 57, or put it into a "
             "list of your own.")
# They move against the stars, and are no nebula whose name begins so.
_WANDERERS = ("sun", "moon", "mercury", "venus", "mars", "jupiter", "saturn", "uranus", "neptune", "pluto", "ceres",
              "pallas", "juno", "vesta", "halley")
# A comet's designation (1P, 12P/Name, C/2023 A3), a minor planet's provisional one (2004 MN4), as the IAU gives them.
_DESIGNATION = re.compile(r"\d{1,3}[PDI](/.+)?|[CPDXAI]/-?\d{1,4} [A-Z]\w*.*|[12]\d{3} [A-Z]{2}\d{0,3}", re.I)


NEAR, ALIKE = 3, 0.75  # names offered; how alike a word of theirs is at least
# Words of a name that say what it is.
_KINDS = {word: kind for kind, words in {
    "nebula": "nebula filament remnant loop", "galaxy": "galaxy galaxies elliptical spiral",
    "cluster": "cluster"}.items() for word in words.split()}


def user_targets_path() -> Path:
    """Return where the user's standing target list lies, there or not: beside their equipment file."""
    return own_path("targets.csv")


def find_target(text: str, *, targets: Path | str | None = None) -> Target:
    """Return the target that a text names.

    `text`: a catalogue number in any spelling (``ngc7331``, ``M 31``, ``Caldwell 30``), a common name or the beginning
    of one (``Horsehead``), coordinates (see `parse_position`), or a name of the list. `targets`: a list file of the
    user's; without it, their standing list if there is one.
    Raises InvalidInputError if nothing has that name, or several things have; the nearest names are offered.
    """
    wanted = " ".join(str(text).split())
    if STEERING.search(wanted):
        raise InvalidInputError("target", wanted, "must hold no control characters", _nearest(plain_text(wanted)))
    found = _found(wanted, _own_targets(targets))
    if found is None:
        raise InvalidInputError("target", wanted, "is not in the catalogue", _nearest(wanted))
    return found


def find_each(texts: Iterable[str], *, targets: Path | str | None = None
              ) -> tuple[dict[str, Target], dict[str, InvalidInputError]]:
    """Return what many texts name, and what is wrong with each of the others; no nearest names are sought.

    `texts`: each as for `find_target`; blank ones are passed over. `targets`: as for `find_target`.
    By text, in their order.
    """
    own, found, unknown = _own_targets(targets), {}, {}
    with kept_open():
        for text in dict.fromkeys(" ".join(text.split()) for text in texts if text.strip()):
            try:
                if STEERING.search(text):
                    raise InvalidInputError("target", text, "must hold no control characters", "Type it anew.")
                target = _found(text, own)
                if target is None:
                    raise InvalidInputError("target", text, "is not in the catalogue", "")
                found[text] = target
            except InvalidInputError as error:
                unknown[text] = error
    return found, unknown


def _found(wanted: str, own: Mapping[str, Target]) -> Target | None:
    """Return the target that a text of single blanks names; None if nothing has that name."""
    if not wanted:
        raise InvalidInputError("target", '""', "must name something", "Write it like NGC 7331 or 22 37 04 +34 24 57.")
    if _key(wanted) in own:
        return own[_key(wanted)]
    if is_typed_orbit(wanted):
        return typed_orbit(wanted)
    if looks_like_position(wanted):
        ra, dec = parse_position(wanted)
        return Target(position_name(ra, dec), ra, dec)
    if _key(wanted) in _WANDERERS or _DESIGNATION.fullmatch(wanted):
        raise InvalidInputError("target", wanted, "moves against the stars",
                                "Give its elements: NAME q= e= i= node= peri= T=, or its published line in a list.")
    return _in_catalogues(wanted)


def numbers_of(target: Target) -> tuple[str, ...]:
    """Return the catalogue numbers of a target: what was asked for, and the others that its common names hold."""
    others = (name.strip() for name in target.common_name.split(","))
    return (target.name, *(name for name in others if numbered_name(name)))


def _in_catalogues(wanted: str) -> Target | None:
    """Return the object of a catalogue number, which stays its name, or of a common name; None if there is none."""
    known = nebulae()
    padded = numbered_name(wanted)
    nebula = None if padded else nebula_named(wanted, known)
    if nebula is not None:
        typed = next(name for name in (nebula.name, *nebula.also) if plain(name) == plain(wanted))
        return _called(_object(nebula.name, known), typed if typed != nebula.name else None)
    if padded:
        return _called(_object(padded, known), None if padded.startswith(("NGC", "IC")) else readable(padded))
    named = _named(wanted)
    found = _object(named or wanted.upper().replace(" ", ""), known)
    return _called(found, _usual_name(found, wanted)) if named and found is not None else found


def _usual_name(found: Target, wanted: str) -> str | None:
    """Return what an object with a common name is called in lists: its Messier number, or its own abbreviation."""
    if wanted.upper() in _ABBREVIATIONS:
        return wanted.upper()
    return next((name for name in found.common_name.split(", ") if re.fullmatch(r"M \d+", name)), None)


def _object(padded: str, known: Mapping[str, Nebula]) -> Target | None:
    entry = known.get(padded)
    return as_target(entry.facts) if entry is not None and entry.place else object_by_number(padded)


def _called(found: Target | None, name: str | None) -> Target | None:
    """Return a target by another name, the catalogue's own first among its other names."""
    if found is None or name is None or name == found.name:
        return found
    others = [other.strip() for other in f"{found.name},{found.common_name}".split(",")]
    return replace(found, name=name, common_name=", ".join([other for other in others if other not in ("", name)][:2]))


def find_targets(texts: list[str] | tuple[str, ...]) -> tuple[Target, ...]:
    """Return the targets that several texts name, each one once; the path of a list file stands for its targets."""
    return each_once(target for text in texts for target in _expanded(text))


def each_once(targets: Iterable[Target]) -> tuple[Target, ...]:
    """Return the targets without those that repeat a name or a catalogue place."""
    found: dict[str, Target] = {}
    places: set[tuple[float, float]] = set()
    for target in targets:
        place = (float(target.ra.value), float(target.dec.value))
        if target.name not in found and (target.orbit is not None or place not in places):
            found[target.name] = target
            places.add(place)
    return tuple(found.values())


def _expanded(text: str) -> list[Target]:
    if text == STANDARD_INPUT or text.lower().endswith((".csv", ".txt", ".tsv")):
        return [entry if isinstance(entry, Target) else find_target(entry) for entry in read_target_list(text)]
    return [find_target(text)]


def _own_targets(targets: Path | str | None) -> dict[str, Target]:
    """Return the places of the user's list by what their names compare as; of two of a name the first."""
    path = Path(targets) if targets is not None else user_targets_path()
    if targets is None and not is_there(path):
        return {}
    entries = [entry for entry in read_target_list(path) if isinstance(entry, Target)]
    return {_key(name): entry for entry in reversed(entries) for name in (entry.name, *_short_names(entry))}


def _short_names(entry: Target) -> tuple[str, ...]:
    """Return what else a moving target is called: 2P of 2P/Name, C/2023 A3 of C/2023 A3 (Name)."""
    base = re.sub(r"\s*\(.*?\)\s*", " ", entry.name).strip()
    return (base, base.split("/")[0] if re.match(r"\d+[PDI]/", base) else base) if entry.orbit is not None else ()


@functools.cache
def _names() -> tuple[tuple[str, str, str], ...]:
    """Return every common name as (what it compares as, name, padded catalogue name)."""
    names = [(_key(name), name, padded) for name, padded in common_names()]
    names += [(_key(name), name.capitalize(), padded) for name, padded in _NAMES_IN_USE.items()]
    names += [(_key(name), name, entry.name) for entry in nebulae().values() if entry.place
              for name in (entry.name, *entry.also) if not name.startswith("Sh2")]
    return tuple(names)


def _named(wanted: str) -> str | None:
    """Return the padded catalogue name of a common name: the whole name, else its beginning, else a word of it."""
    key = _key(wanted)
    in_use = {_key(name): padded for name, padded in _NAMES_IN_USE.items()}
    if key in in_use:
        return in_use[key]
    names = _names()
    for fits in (str.__eq__, str.startswith, _has_word):
        matches = {padded: name for name_key, name, padded in reversed(names) if len(key) > 2 and fits(name_key, key)}
        if len(set(matches.values())) > 1:
            choices = ", ".join(f"{name} ({readable(padded)})" for padded, name in sorted(matches.items()))
            raise InvalidInputError("target", wanted, "fits more than one name", f"Choose from: {choices}.")
        if matches:
            return min(matches)
    return None


def _has_word(name: str, key: str) -> bool:
    return f" {key}" in f" {name}"


def _key(name: str) -> str:
    """Return a name for comparing: lower case, letters and digits, single blanks, no leading article."""
    plain = re.sub(r"[^\w+]+", " ", name.lower().replace("'", "").replace("’", "")).strip()
    return plain.removeprefix("the ")


def _near_in_word_and_kind(wanted: str, names: list[str]) -> list[str]:
    """Return names that resemble the wanted one in a word that tells, and do not name another kind of object."""
    def told(name: str) -> tuple[set[str], set[str]]:
        words = {word for word in _key(name).split() if len(word) > 2}
        return {word for word in words if word not in _KINDS}, {_KINDS[word] for word in words if word in _KINDS}

    telling, kinds = told(wanted)
    near = []
    for name in nearest_names(wanted, names, 3 * NEAR):
        others, other_kinds = told(name)
        if any(nearest_names(word, others, cutoff=ALIKE) for word in telling) and (
                not kinds or not other_kinds or kinds & other_kinds):
            near.append(name)
    return near[:NEAR]


def _nearest(wanted: str) -> str:
    """Return names that resemble the wanted one and are of its sort: numbers of its catalogue, or common names."""
    padded = numbered_name(wanted)
    if padded or wanted.isdigit():
        text = readable(padded) if padded else wanted
        letters = text.rstrip("0123456789")
        near = nearest_names(text, [name for name in all_names() if padded is None or name.startswith(letters)])
    elif plain(wanted).startswith("sh2"):
        names = [name for entry in nebulae().values() for name in (entry.name, *entry.also) if name.startswith("Sh2")]
        near = nearest_names(wanted, names)
        return (f"{did_you_mean(wanted, near)} " if near else "") + _OWN_LIST
    elif _CATALOGUE_NUMBER.fullmatch(wanted):
        return _OWN_LIST
    else:
        text = wanted
        near = _near_in_word_and_kind(wanted, [*(name for name, _ in common_names()),
                                               *map(str.capitalize, _NAMES_IN_USE)])
    if near:
        return did_you_mean(text, near)
    if padded and not padded.startswith(("NGC", "IC", "M0", "M1")):
        return _OWN_LIST
    return "Give a catalogue number, a common name, or coordinates like 22 37 04 +34 24 57."
