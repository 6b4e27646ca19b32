"""JSON Schema of the files as people write them, so that editors complete them."""

from __future__ import annotations

from typing import Any, Final

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from netcheck.errors import UsageError
from netcheck.files._base import NUMBER_KEY, ROLE_PATTERN
from netcheck.files._load import KINDS
from netcheck.files._vehicle import RoleSource
from netcheck.files._wording import one_of

DIALECT: Final = "https://json-schema.org/draft/2020-12/schema"


class _AsWritten(GenerateJsonSchema):
    """TOML has no null: what may be left out is not in ``required``, and that is all."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        written = super().default_schema(schema)
        if written.get("default", ...) in (None, [], {}, ""):
            del written["default"]
        return written

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        written = super().dict_schema(schema)
        keys = schema.get("keys_schema", {"type": "any"})
        if keys["type"] == "function-before":  # a number, which a TOML key writes as text
            written["propertyNames"] = {"pattern": f"^({NUMBER_KEY})$"}
        return written


def json_schema(kind: str) -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a file kind: vehicle, retrofit, job, marks, readouts or script.

    It describes the file as written. Rules between tables, such as a reference to a network, are beyond it.
    Raises UsageError for another kind.
    """
    if kind not in KINDS:
        raise UsageError(f"'{kind}' is not a file kind", remedy=one_of(kind, KINDS))
    schema = KINDS[kind].model_json_schema(by_alias=True, schema_generator=_AsWritten)
    if kind == "vehicle":
        _write_role_groups(schema)
    if kind in {"vehicle", "job"}:
        _write_fact_groups(schema)
    return {"$schema": DIALECT, **schema, "title": f"netcheck {kind} file"}


def _write_role_groups(schema: dict[str, Any]) -> None:
    """Roles may be written in nested tables, one for each word of the name."""
    names = "|".join(RoleSource.model_fields)
    word = {"pattern": f"^{ROLE_PATTERN.pattern}$"}
    group = {"$ref": "#/$defs/RoleGroup"}
    roles = schema["properties"]["role"]
    schema["$defs"]["RoleGroup"] = {
        "description": "entries of one role, or a table of roles that share the beginning of their names",
        "anyOf": [
            {"type": "array", "items": {"$ref": "#/$defs/RoleSource"}},
            {"type": "object", "propertyNames": word, "additionalProperties": group},
        ],
    }
    schema["$defs"]["RoleSource"]["patternProperties"] = {f"^(?!({names})$){ROLE_PATTERN.pattern}$": group}
    roles.pop("patternProperties", None)
    roles.update(propertyNames=word, additionalProperties=group)


def _write_fact_groups(schema: dict[str, Any]) -> None:
    """Facts too may be written in nested tables."""
    facts = schema["properties"]["facts"]
    schema["$defs"]["Facts"] = {
        "anyOf": [
            facts["additionalProperties"],
            {"type": "object", "additionalProperties": {"$ref": "#/$defs/Facts"}},
        ]
    }
    facts["additionalProperties"] = {"$ref": "#/$defs/Facts"}
