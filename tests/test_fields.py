"""Fields of results: one declaration gives key, value, unit and schema."""

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

import jsonschema
import numpy as np
import pytest
from astropy import units as u

from planner.fields import Key, Many, Maybe, Spread, document, rows, schema_of, told
from planner.files.json_text import json_text
from planner.rig import Mount


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part of a whole."""

    name: str
    length: Annotated[u.Quantity[u.mm], "from end to end"]
    share: Annotated[float | None, "of the whole", Key("share_fraction")] = None

    @property
    def long(self) -> Annotated[bool, "whether it is more than a metre"]:
        """Whether it is long."""
        return self.length > 1 * u.m


@dataclass(frozen=True, kw_only=True)
class Owned:
    """What tells nothing of itself but has a name."""

    name: str


@dataclass(frozen=True, kw_only=True)
class Whole:
    """A result."""

    part: Annotated[Part | None, Spread("first_")]
    others: Annotated[tuple[Part, ...], "beside it"]
    mount: Annotated[Owned, "that carries it"]
    times: Annotated[u.Quantity[u.min], "of the rows", Many()]
    night: Annotated[datetime.date, "its evening"]
    side: Annotated[Literal["east", "west"] | None, "of the pier"]
    odds: Annotated[Mapping[str, float], "by verdict"]
    untold: float = 0.0
    count = told(int, "parts beside it", lambda whole: len(whole.others))
    total = told(u.m, "length of all parts", lambda whole: sum((part.length for part in whole.others), 0 * u.mm))


def whole(**more):
    return Whole(**{"part": Part(name="a", length=2 * u.m), "others": (Part(name="b", length=5 * u.cm, share=0.5),),
                    "mount": Owned(name="pier"), "times": [1, 2] * u.h, "night": datetime.date(2026, 11, 10),
                    "side": "east", "odds": {"guided": 1.0}} | more)


def test_a_key_ends_in_its_unit_and_a_value_is_in_it():
    found = document(whole())
    assert found.pop("times_min") == pytest.approx(np.array([60, 120]))
    assert found == {
        "first_length_mm": 2000, "first_share_fraction": None, "first_long": True,
        "others": [{"length_mm": 50, "share_fraction": 0.5, "long": False}], "mount": "pier", "night": "2026-11-10",
        "side": "east", "odds": {"guided": 1.0}, "count": 1, "total_m": 0.05}


def test_a_part_that_is_missing_leaves_its_keys():
    assert {key: value for key, value in document(whole(part=None)).items() if key.startswith("first")} == {
        "first_length_mm": None, "first_share_fraction": None, "first_long": None}


def test_a_schema_says_meaning_unit_and_what_may_be_null():
    found = schema_of(Whole)
    jsonschema.Draft202012Validator.check_schema(found)
    tables = found["properties"]
    assert tables["total_m"] == {"type": ["null", "number"], "description": "length of all parts [m]"}
    assert tables["first_long"]["type"] == ["boolean", "null"]
    assert tables["side"]["enum"] == ["east", "west", None]
    assert tables["others"]["items"]["properties"]["long"] == {
        "type": "boolean", "description": "whether it is more than a metre"}
    assert set(found["required"]) == set(tables) == set(document(whole()))


@pytest.mark.parametrize("more", [{}, {"part": None}, {"side": None}, {"others": ()}])
def test_what_is_told_keeps_the_schema(more):
    answer = json.loads(json_text(document(whole(**more)), "whole"))
    kind = jsonschema.Draft202012Validator(schema_of(Whole))
    assert kind.is_valid(answer)
    assert not kind.is_valid(answer | {"count": "one"})
    assert not kind.is_valid({key: value for key, value in answer.items() if key != "count"})


def test_rows_are_told_without_a_class_of_their_own():
    @dataclass(frozen=True)
    class Table:
        """Rows of a result."""

        cells: tuple[tuple[str, u.Quantity], ...]
        lines = rows("one by one", lambda table: table.cells, name=(str, "its name"), length=(u.mm, "from end to end"))

    assert document(Table((("a", 2 * u.cm),))) == {"lines": [{"name": "a", "length_mm": 20}]}
    assert schema_of(Table)["properties"]["lines"]["items"]["properties"]["length_mm"]["description"] == (
        "from end to end [mm]")


def test_some_fields_of_a_part_may_stand_in_a_table_and_one_that_is_missing_may_be_left_out():
    @dataclass(frozen=True)
    class Nested:
        """A result with a table."""

        part: Annotated[Part, Spread("part.", only="length")]
        note: Annotated[str | None, "if there is one", Maybe()] = None

    assert document(Nested(Part(name="a", length=1 * u.mm))) == {"part": {"length_mm": 1}}
    assert document(Nested(Part(name="a", length=1 * u.mm), "b"))["note"] == "b"
    assert schema_of(Nested)["required"] == ["part"]


def test_what_the_observer_owns_is_told_by_the_rules_of_its_fields():
    found = document(Mount(name="worm", wander=0.25 * u.arcsec / u.min**0.5))
    assert found["wander_arcsec_per_sqrt_min"] == 0.25
    assert found["tracks_past_meridian_deg"] == Mount(name="worm").tracks_past_meridian.to_value(u.deg)
