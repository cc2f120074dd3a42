"""The schema of the JSON facts: JSON Schema 2020-12, made from the records themselves."""

from __future__ import annotations

from importlib.resources import files
from inspect import cleandoc
from typing import Any

import msgspec

SCHEMA_FILE = "facts.schema.json"
SCHEMA_ID = "urn:loopback:facts:1"
"""A name, not a place: nothing has to be fetched."""


def facts_schema() -> dict[str, Any]:
    """Make the schema from the records.

    Returns
    -------
    dict
        Every record refuses fields that it does not name. What the docstrings of the records say
        stands in it as descriptions.
    """
    from loopback.report.records import Facts

    (root,), parts = msgspec.json.schema_components([Facts], ref_template="#/$defs/{name}")
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": SCHEMA_ID,
        "title": "Facts about one examination of a guitar pedal",
        **root,
        "$defs": {name: _described(part) for name, part in sorted(parts.items())},
    }


def _described(part: dict[str, Any]) -> dict[str, Any]:
    """Take the indentation of the source out of a description: every Python writes it alike."""
    text = part.get("description")
    return part if text is None else {**part, "description": cleandoc(text)}


def schema_text() -> str:
    """Write the schema as it is shipped.

    Returns
    -------
    str
        Indented JSON.
    """
    return msgspec.json.format(msgspec.json.encode(facts_schema()), indent=1).decode() + "\n"


def shipped_schema() -> str:
    """Read the schema that came with this version.

    Returns
    -------
    str
        As `schema_text` wrote it.
    """
    return files("loopback.report").joinpath(SCHEMA_FILE).read_text(encoding="utf-8")
