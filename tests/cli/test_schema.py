"""`planner schema`: JSON Schema of every document, valid by the standard's own meta-schema, and broken answers fail."""

import json

import jsonschema
import pytest
from recorder.schema import schemas

from planner.cli import COMMANDS, run
from planner.cli.kinds import KINDS
from planner.cli.schema import document_schemas
from planner.files.own_files import packaged_data


def _schema(capsys, *words):
    assert run(["schema", *words]) == 0
    return json.loads(capsys.readouterr().out)


def test_it_is_a_json_schema_and_names_every_kind(capsys):
    whole = _schema(capsys)
    jsonschema.Draft202012Validator.check_schema(whole)
    silent = {"app", "completion", "schema"}  # what they print is no document
    assert {name.partition("_")[0] for name in whole["$defs"]} == set(COMMANDS) - silent | {"error"}


@pytest.mark.parametrize(("words", "name"), [
    (["gear"], "gear"), (["gear", "--check"], "gear_check"), (["done"], "done"), (["sources"], "sources"),
    (["pier", "check"], "pier_check"), (["pier", "balance"], "pier_balance"),
])
def test_an_answer_keeps_it_and_one_without_a_key_or_of_another_type_does_not(capsys, words, name):
    kind, whole = (jsonschema.Draft202012Validator(_schema(capsys, *more)) for more in ([name], []))
    assert run([*words, "--json", "--quiet"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert kind.is_valid(answer)
    assert whole.is_valid(answer)
    assert set(answer) == set(kind.schema["properties"])
    for key in kind.schema["required"]:
        assert not kind.is_valid({one: value for one, value in answer.items() if one != key})
        assert not kind.is_valid(answer | {key: 1 + 2j})


def test_an_error_keeps_it_too(capsys):
    kind = jsonschema.Draft202012Validator(_schema(capsys, "error"))
    for words in (["gear", "--equipment", "/no/such.toml"], ["gear", "--chekc"], ["nihgt"]):
        assert run([*words, "--json"]) == 2
        assert kind.is_valid(json.loads(capsys.readouterr().err))


def test_a_number_may_be_null_and_says_its_unit():
    seen = {"schema": "x/1", "length_mm": 1.5, "count": 2, "odds": {"any name": 0.5}, "rise_utc": None}
    assert schemas([seen])["x/1"]["properties"] == {
        "schema": {"const": "x/1"}, "planner_version": {"type": "string"}, "count": {"type": "integer"},
        "length_mm": {"type": ["null", "number"], "description": "in mm"},
        "rise_utc": {"type": ["null", "string"], "description": "in UTC"},
        "odds": {"type": "object", "additionalProperties": {"type": ["null", "number"]}}}


def test_a_schema_is_told_by_results_or_recorded_and_never_both():
    recorded = {kind.partition("/")[0] for kind in json.loads(packaged_data("documents.json").read_text())}
    assert recorded
    assert not recorded & set(KINDS)


def test_what_results_tell_has_a_meaning_under_every_key():
    def silent(table, path):
        for key, shape in table.get("properties", {}).items():
            inside = shape if "properties" in shape else shape.get("items", {})
            found = [] if shape.get("description") or "properties" in shape or "const" in shape else [f"{path}.{key}"]
            yield from found
            yield from silent(inside, f"{path}.{key}")

    assert [key for kind in KINDS for key in silent(document_schemas()[kind], kind)
            if not key.endswith("planner_version")] == []


def test_an_unknown_kind_is_one_line(capsys):
    assert run(["schema", "nigth"]) == 2
    assert "Did you mean night" in capsys.readouterr().err
