"""Every document that a test of the commands prints keeps the schema that `planner schema` prints."""

import json

import jsonschema
import pytest

from planner.cli import output
from planner.cli.schema import document_schemas

SCHEMAS = {found["title"]: jsonschema.Draft202012Validator(found) for found in document_schemas().values()}
WIDEN = "if meant: python tests/recorder record R.json --only NAME, then python tests/recorder schema R.json"


@pytest.fixture(autouse=True)
def _documents_keep_their_schema(monkeypatch):
    written = output.json_text

    def checked(document, name):
        text = written(document, name)
        found = json.loads(text)
        wrong = [f"{error.json_path}: {error.message:.200}" for error in SCHEMAS[found["schema"]].iter_errors(found)]
        assert not wrong, f"{wrong}; {WIDEN}"
        return text

    monkeypatch.setattr(output, "json_text", checked)
