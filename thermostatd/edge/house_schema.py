"""The JSON Schema of a house file, made from the models: `python -m thermostatd.edge.house_schema`.

Rules: keys, defaults and durations as an owner writes them; TOML has no null, so none is offered.
A table's own defaults stand at its keys.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from thermostatd.core.house import House
from thermostatd.core.house.base import Table

DIALECT = "https://json-schema.org/draft/2020-12/schema"


class _AsWritten(GenerateJsonSchema):
    """Leaves null out: a key that may be absent is simply not required."""

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        return self.generate_inner(schema["schema"])

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        inner = self.generate_inner(schema["schema"])
        default = schema.get("default")
        if default is None or isinstance(default, Table):
            return inner
        writer = schema["schema"].get("serialization")
        if writer and writer["type"] == "function-plain":
            default = writer["function"](default)
        return {**inner, "default": self.encode_default(default)}

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False


def house_schema() -> dict[str, Any]:
    """The schema as a table."""
    schema = House.model_json_schema(by_alias=True, schema_generator=_AsWritten)
    return {"$schema": DIALECT, **schema, "title": "A house file of thermostatd"}


def schema_text() -> str:
    """The schema as the file in config/ holds it."""
    return json.dumps(house_schema(), ensure_ascii=False, indent=2) + "\n"


if __name__ == "__main__":
    print(schema_text(), end="")
