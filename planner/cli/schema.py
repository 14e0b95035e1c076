"""`planner schema`: what the documents of `--json` hold, as JSON Schema."""

import json
from typing import Annotated, Any

import typer

from planner.checks import not_one_of
from planner.cli.options import new_app
from planner.fields import schema_of
from planner.files.json_text import VERSION
from planner.files.own_files import packaged_data

app = new_app()
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@app.command()
def schema(
    document: Annotated[str | None, typer.Argument(metavar="[DOCUMENT]", help="Kind of document, like advise or "
                                                   "pier_power; all of them if not given.")] = None,
) -> None:
    """Print the JSON Schema of what --json prints: the key "schema" of a document names its kind and version."""
    kinds = document_schemas()
    if document is None:
        whole = {"$schema": DIALECT, "$defs": kinds, "oneOf": [{"$ref": f"#/$defs/{name}"} for name in kinds]}
    elif document in kinds:
        whole = {"$schema": DIALECT, **kinds[document]}
    else:
        raise not_one_of("document", document, kinds)
    print(json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False))


def document_schemas() -> dict[str, Any]:
    """Return the schema of each kind of document: as its results tell, or as it was recorded."""
    from planner.cli.kinds import KINDS, MORE

    known = json.loads(packaged_data("documents.json").read_text(encoding="utf-8"))
    recorded = {kind.partition("/")[0]: found for kind, found in known.items()}
    told = {kind: _whole(kind, results, MORE.get(kind, ())) for kind, results in KINDS.items()}
    return dict(sorted((recorded | told).items()))


def _whole(kind: str, results: tuple[type, ...], more: tuple[type, ...]) -> dict[str, Any]:
    """Return the schema of a kind of document with what all documents say."""
    sure = schema_of(*results)
    stamp = {"schema": {"const": f"{kind}/{VERSION}"}, "planner_version": {"type": "string"}}
    return {"title": f"{kind}/{VERSION}", "type": "object", "required": sorted([*sure["required"], *stamp]),
            "properties": schema_of(*more)["properties"] | sure["properties"] | stamp}
