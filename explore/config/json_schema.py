"""The schema as JSON Schema, for editors: they complete keys, show meanings, and mark what is wrong while one types."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel

from explore.config.reference import GROUPS
from explore.design.variables import RECORDS, STORE_MODES, Input
from explore.plant.governor import GOVERNORS

DIALECT = "https://json-schema.org/draft/2020-12/schema"
MARK = "Written by explore for editors; it is written anew and read by no command."
"""By which such a file is known and may be written over."""
OPTIONAL = ("speed_rev_per_min", "cylinders_per_stage", "governing", "sizing_share")
"""Inputs that a design may lack (:mod:`explore.design.designs`)."""
CHOICES = {"store_mode": STORE_MODES, "governing": GOVERNORS}


def schema_text(what: str) -> str:
    """Return the JSON Schema of a file of one kind: a group of :data:`GROUPS`, or ``design``."""
    made = _design() if what == "design" else _of_model(GROUPS[what])
    whole = {"$schema": DIALECT, "$comment": MARK, **made}
    return json.dumps(whole, indent=1, ensure_ascii=False) + "\n"


def _of_model(model: type[BaseModel]) -> dict[str, Any]:
    made = model.model_json_schema()
    for group in (made, *made.get("$defs", {}).values()):
        for field in group.get("properties", {}).values():
            _tell(field)
    return made


def _tell(field: dict[str, Any]) -> None:
    """Put unit and source, which an editor does not show, into the description, which it does."""
    field.pop("title", None)  # the key itself in other letters
    unit, source = field.get("unit", ""), field.get("source", "")
    words = [field.get("description", ""), f"[{unit}]" if unit not in ("", "-") else ""]
    told = "; ".join(filter(None, [" ".join(filter(None, words)), source]))
    if told:
        field["description"] = told


def _design() -> dict[str, Any]:
    return {
        "title": "Design",
        "type": "object",
        "additionalProperties": False,
        "properties": {one.name: _input(one) for one in RECORDS},
        "required": [one.name for one in RECORDS if one.applies == "always" and one.name not in OPTIONAL],
    }


def _input(one: Input) -> dict[str, Any]:
    words = f"{one.about or one.label}{f' [{one.unit}]' if one.unit else ''}; applies: {one.applies}"
    if one.name in CHOICES:
        return {"description": words, "enum": [*CHOICES[one.name], None]}
    if one.kind == "words":
        return {"description": words, "type": "string"}
    low, high = one.holds
    kind = "integer" if one.kind == "whole" else "number"
    return {"description": words, "type": [kind, "null"], "minimum": low, "maximum": high}
