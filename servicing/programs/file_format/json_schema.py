"""The JSON Schema of the program file (draft 2020-12), for editors that help while one writes."""

from typing import Any

from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue
from pydantic_core import core_schema

from servicing.programs.file_format.grammar import Program

ABOUT = (
    "The file that load_program and the page “Load a YAML file” read; fixtures/programs/README.md says what "
    "each key means. Hourmark checks more than a schema can: that places, fitments and steps named are "
    "there, that limits are in order, that units are known."
)


class _Generator(GenerateJsonSchema):
    """Says nothing that says nothing: no titles that repeat a key, no defaults that are empty."""

    def field_title_should_be_set(self, schema: Any) -> bool:
        return False

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        return (
            super().default_schema(schema) if schema.get("default") else self.generate_inner(schema["schema"])
        )

    def normalize_name(self, name: str) -> str:
        return super().normalize_name(name).lower()


def program_schema() -> dict[str, Any]:
    """Return the schema: the grammar, and of what rows must fit together as much as a schema can say."""
    schema = Program.model_json_schema(schema_generator=_Generator)
    rows = schema["$defs"]
    first, every = ("first_hours", "first_months"), ("every_hours", "every_months")
    rows["interval"] |= {
        "if": {"properties": {"once": {"const": True}}, "required": ["once"]},
        "then": _some(*first) | {"not": _some(*every, "anchor")},
        "else": _some(*every) | {"required": ["anchor"]},
    }
    rows["measure"] |= _some("lower", "upper")
    rows["task"] |= {
        "if": {"required": ["checks"]},
        "then": {"required": ["outside", "outside_text"]},
        "else": {"not": _some("outside", "outside_text")},
    }
    head = {
        "$schema": GenerateJsonSchema.schema_dialect,
        "title": "A service programme",
        "description": ABOUT,
    }
    return head | {name: value for name, value in schema.items() if name not in head}


def _some(*keys: str) -> dict[str, Any]:
    """At least one of the keys is there."""
    return {"anyOf": [{"required": [key]} for key in keys]}
