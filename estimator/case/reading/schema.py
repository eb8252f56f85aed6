"""JSON Schema of the case file, for editors: every table and key, and what an option may change."""

from __future__ import annotations

import copy
from typing import Any

from dewledger.case.model import Case, not_in_an_option

SCHEMA_ID = "urn:dewledger:case:2"
# Line of a case file that shows an editor where the schema is.
SCHEMA_FILE = "dewledger-case.schema.json"
SCHEMA_LINE = f"#:schema {SCHEMA_FILE}\n"
_OPTION_SUFFIX = "OfAnOption"


def json_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of the case file.

    An option is a partial case: no table or key is required in it but its title, its lists are
    whole, and what an option may not change is left out.
    """
    schema = _without_null(Case.model_json_schema())
    partial: dict[str, Any] = {}
    option = {
        name: _partial(part, schema["$defs"], partial)
        for name, part in schema["properties"].items()
        if name not in not_in_an_option()
    }
    schema["$defs"] |= partial
    prices = schema["$defs"][f"Prices{_OPTION_SUFFIX}"]["properties"]
    for name in not_in_an_option("prices"):
        del prices[name]
    schema["$defs"]["Option"] = {
        "type": "object",
        "description": "One option: its title, and whatever differs from the case.",
        "properties": option,
        "required": ["title"],
        "additionalProperties": False,
    }
    schema["properties"]["options"] = {
        "type": "object",
        "description": "Each option: a title and whatever differs from the case.",
        "propertyNames": {"pattern": "^[a-z0-9-]+$"},
        "additionalProperties": {"$ref": "#/$defs/Option"},
        "minProperties": 1,
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        **schema,
        "required": ["format", *schema["required"], "options"],
        "title": "Dewledger case",
        "description": "One case file: a room, its unit and the options to compare.",
    }


def _without_null(part: Any) -> Any:
    """The schema without null, which TOML has not: a key that is not given is left out."""
    if isinstance(part, list):
        return [_without_null(item) for item in part]
    if not isinstance(part, dict):
        return part
    kept = {
        key: _without_null(value)
        for key, value in part.items()
        if not (key == "default" and (value is None or isinstance(value, dict)))
    }
    choices = [one for one in kept.get("anyOf", ()) if one != {"type": "null"}]
    if len(choices) == 1:
        del kept["anyOf"]
        kept = {**choices[0], **kept}
    return kept


def _partial(part: dict[str, Any], whole: dict[str, Any], partial: dict[str, Any]) -> Any:
    """A key of an option: its table with nothing required, added to ``partial``; lists whole."""
    reference = part.get("$ref")
    if reference is None:
        return part
    name = reference.removeprefix("#/$defs/")
    own = f"{name}{_OPTION_SUFFIX}"
    if own not in partial:
        table = copy.deepcopy(whole[name])
        partial[own] = table  # before its keys, should a table ever hold its own kind
        table.pop("required", None)
        table["properties"] = {
            key: _partial(value, whole, partial) for key, value in table["properties"].items()
        }
    return {**part, "$ref": f"#/$defs/{own}"}
