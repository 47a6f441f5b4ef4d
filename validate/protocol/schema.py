"""JSON Schema (draft 2020-12) of a protocol, so that editors complete and check while one types.

The generated file is `validate/protocol/schema.json`; a test keeps it current.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, models_json_schema

from validate.protocol.model import STUDY_NAME_PATTERN, Protocol
from validate.protocol.settings import StudySettings

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _WithoutFieldTitles(GenerateJsonSchema):
    """Titles made from key names say nothing that the key does not."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def protocol_schema(settings_of_kind: Mapping[str, type[StudySettings]]) -> dict[str, Any]:
    """The schema for the kinds of study given; numbers and texts alike are accepted where an editor sees either."""
    kinds = sorted(settings_of_kind)
    models = [Protocol, *(settings_of_kind[kind] for kind in kinds)]
    references, together = models_json_schema(
        [(model, "validation") for model in models],
        by_alias=True,
        schema_generator=_WithoutFieldTitles,
    )
    definitions = together["$defs"]
    protocol = definitions.pop(_name(references[Protocol, "validation"]))
    protocol["properties"]["studies"] = _studies(
        protocol["properties"]["studies"],
        {kind: references[settings_of_kind[kind], "validation"] for kind in kinds},
    )
    protocol["properties"]["use"] = _one_or_many(protocol["properties"]["use"])
    for name in ("Portion", "PortionTolerances"):
        steps = definitions[name]["properties"]
        steps["dilute"] = _one_or_many(steps["dilute"])
    return {"$schema": DIALECT, **protocol, "title": "Validation protocol", "$defs": dict(sorted(definitions.items()))}


def schema_text(settings_of_kind: Mapping[str, type[StudySettings]]) -> str:
    """The schema as the text of the generated file."""
    return json.dumps(protocol_schema(settings_of_kind), indent=2, ensure_ascii=False) + "\n"


def _studies(schema: dict[str, Any], reference_of_kind: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    """Every study by the schema of its kind."""
    study = {
        "type": "object",
        "required": ["kind"],
        "properties": {"kind": {"enum": list(reference_of_kind), "description": "The kind of study."}},
        "allOf": [
            {"if": {"properties": {"kind": {"const": kind}}, "required": ["kind"]}, "then": reference}
            for kind, reference in reference_of_kind.items()
        ],
    }
    return {
        "description": schema["description"],
        "type": "object",
        "minProperties": 1,
        "propertyNames": {"pattern": STUDY_NAME_PATTERN, "maxLength": 60},
        "additionalProperties": study,
    }


def _one_or_many(schema: dict[str, Any]) -> dict[str, Any]:
    """A list, or a single entry of it without brackets."""
    kept = {key: value for key, value in schema.items() if key in ("description", "default")}
    listed = {key: value for key, value in schema.items() if key not in kept}
    return {**kept, "anyOf": [listed["items"], listed]}


def _name(reference: dict[str, Any]) -> str:
    return reference["$ref"].rsplit("/", 1)[-1]
