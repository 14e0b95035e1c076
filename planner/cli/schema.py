"""`planner schema`: what the documents of `--json` hold, as JSON Schema."""

import json
from typing import Annotated, Any

import typer

from planner.checks import not_one_of
from planner.cli.options import new_app
from planner.files.own_files import packaged_data

app = new_app()
DIALECT = "https://json-schema.org/draft/2020-12/schema"


@app.command()
def schema(
    document: Annotated[str | None, typer.Argument(metavar="[DOCUMENT]", help="Kind of document, like advise or "
                                                   "pier_power; all of them if not given.")] = None,
) -> None:
    """Print the JSON Schema of what --json prints: the key "schema" of a document names its kind and version."""
    kinds = _kinds()
    if document is None:
        whole = {"$schema": DIALECT, "$defs": kinds, "oneOf": [{"$ref": f"#/$defs/{name}"} for name in kinds]}
    elif document in kinds:
        whole = {"$schema": DIALECT, **kinds[document]}
    else:
        raise not_one_of("document", document, kinds)
    print(json.dumps(whole, indent=2, sort_keys=True, ensure_ascii=False))


def _kinds() -> dict[str, Any]:
    """Return the schema of each kind of document, without its version."""
    known = json.loads(packaged_data("documents.json").read_text(encoding="utf-8"))
    return {kind.partition("/")[0]: found for kind, found in known.items()}
