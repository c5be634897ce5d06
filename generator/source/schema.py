"""JSON Schemas of the YAML files, so that an editor completes and checks them by the rules of the models."""

from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaMode, JsonSchemaValue
from pydantic_core import core_schema

from generator.model.catalogue import CatalogueFile
from generator.model.job import JobFile, TransitsFile, WallsFile
from generator.model.procedure import ProcedureFile
from generator.model.record import RecordOne, RecordTwo

_FILES: dict[str, tuple[str, type[BaseModel]]] = {
    "job.schema.json": ("job.yaml", JobFile),
    "walls.schema.json": ("walls.yaml", WallsFile),
    "transits.schema.json": ("transits.yaml, or a file of the folder transits/", TransitsFile),
    "catalogue.schema.json": ("a file of the folder catalogues/", CatalogueFile),
    "procedure.schema.json": ("procedure.yaml", ProcedureFile),
    "record.schema.json": ("record.json of a record, version 1", RecordOne),
    "record-2.schema.json": ("record.json of a record, version 2", RecordTwo),
}

_EMPTY: list[JsonSchemaValue] = [{"type": "null"}, {"type": "string", "maxLength": 0}]
"""What the models take as not given: an editor sees null where nothing follows the colon."""


def schemas() -> dict[str, dict[str, Any]]:
    """Return the JSON Schema (draft 2020-12) of each YAML file, by the name of the schema's file.

    What no schema can say is left to the program: that a least does not exceed its most, that bays lie in
    their frame, that names lead somewhere.
    """
    return {name: _schema(model, title) for name, (title, model) in _FILES.items()}


def _schema(model: type[BaseModel], title: str) -> dict[str, Any]:
    made = model.model_json_schema(schema_generator=_Generator)
    return {"$schema": GenerateJsonSchema.schema_dialect, "title": f"Wallwork: {title}", **made}


class _Generator(GenerateJsonSchema):
    """Pydantic's own schemas, with what the models do before pydantic looks: empty means not given."""

    def generate(self, schema: core_schema.CoreSchema, mode: JsonSchemaMode = "validation") -> JsonSchemaValue:
        made = super().generate(schema, mode)
        made.pop("title", None)
        for part in made.get("$defs", {}).values():
            part.pop("title", None)
        return made

    def model_schema(self, schema: core_schema.ModelSchema) -> JsonSchemaValue:
        made = super().model_schema(schema)
        model: type[BaseModel] = schema["cls"]
        required = made.get("required", [])
        for name, field in model.model_fields.items():
            shown = made["properties"][name]
            shown.pop("title", None)
            least = next((rule.ge for rule in field.metadata if hasattr(rule, "ge")), None)
            most = next((rule.le for rule in field.metadata if hasattr(rule, "le")), None)
            if most:  # a count with a limit of so many nines
                first = "[1-9]" if least else "(?:0$|[1-9])"
                shown["anyOf"] = [
                    {"type": "integer", "minimum": least or 0, "maximum": most},
                    {"type": "string", "pattern": f"^{first}[0-9]{{0,{len(str(most)) - 1}}}$"},
                ]
            if name not in required:
                made["properties"][name] = _or_empty(shown)
        if "description" in made:
            made["description"] = made["description"].replace("``", "")
        made.pop("title", None)
        if model.__name__ in _RULES:
            made["allOf"] = _RULES[model.__name__]
        return made

    def dict_schema(self, schema: core_schema.DictSchema) -> JsonSchemaValue:
        """Return a mapping's schema: its keys are text, whatever else their type takes as a value."""
        keys = {key: value for key, value in self.generate_inner(schema["keys_schema"]).items() if key != "minimum"}
        made: JsonSchemaValue = {
            "type": "object",
            "propertyNames": keys | {"type": "string"},
            "additionalProperties": self.generate_inner(schema["values_schema"]),
        }
        if schema.get("min_length"):
            made["minProperties"] = schema["min_length"]
        return made

    def tuple_schema(self, schema: core_schema.TupleSchema) -> JsonSchemaValue:
        """Return a list's schema; one of fixed length in words that older editors know too."""
        made = super().tuple_schema(schema)
        items = made.get("prefixItems", [])
        if items and all(item == items[0] for item in items):
            made = {"type": "array", "items": items[0], "minItems": len(items), "maxItems": len(items)}
        return made

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """Return a field's schema without its default: leaving the key out already says it."""
        return self.generate_inner(schema["schema"])

    def nullable_schema(self, schema: core_schema.NullableSchema) -> JsonSchemaValue:
        """Return the schema of the value itself: ``_or_empty`` says what stands for none."""
        return self.generate_inner(schema["schema"])


def _or_empty(field: JsonSchemaValue) -> JsonSchemaValue:
    outside = {key: field[key] for key in ("description",) if key in field}
    inner = {key: value for key, value in field.items() if key not in outside}
    choices = inner["anyOf"] if set(inner) == {"anyOf"} else [inner]
    return {**outside, "anyOf": [*choices, *_EMPTY]}


# -- rules between the keys of one model: the models' own validators, as far as a schema can say them


def _given(*names: str) -> JsonSchemaValue:
    """Every one of the keys is there and not empty."""
    return {"required": list(names), "properties": {name: {"not": {"anyOf": _EMPTY}} for name in names}}


def _filled(name: str) -> JsonSchemaValue:
    """A list or mapping is there and has an entry."""
    return {
        "required": [name],
        "properties": {
            name: {"anyOf": [{"type": "array", "minItems": 1}, {"type": "object", "minProperties": 1}]},
        },
    }


def _absent(*names: str) -> JsonSchemaValue:
    return {"not": {"anyOf": [_given(name) for name in names]}}


_PEELING: JsonSchemaValue = {"anyOf": [_given("layers"), _filled("table")]}
_FIXINGS: JsonSchemaValue = {
    "properties": {
        "fixings": {
            "additionalProperties": {
                "anyOf": [_given("sleeve"), {"allOf": [_given("opening", "plate"), _filled("materials")]}]
            },
            "allOf": [{"properties": {"sleeve": _given("sleeve"), "welded": _given("weld")}}],
        }
    }
}
_RULES: dict[str, list[JsonSchemaValue]] = {
    "Block": [_PEELING],
    "SplitSeal": [_PEELING, _FIXINGS],
    "Frame": [_FIXINGS],
    "Tightening": [{"anyOf": [_given("torque_nm"), _given("protrusion")]}],
    "Opening": [
        {
            "oneOf": [
                {"allOf": [_given("diameter"), _absent("width", "height")]},
                {"allOf": [_given("width", "height"), _absent("diameter")]},
            ]
        }
    ],
    "Wall": [
        {"if": {"properties": {"division": {"const": "deck"}}}, "then": _given("up")},
        {"properties": {"sides": {"uniqueItems": True}}},
    ],
    "Transit": [
        {"oneOf": [_given("frame"), _given("split_seal")]},
        {
            "if": _given("split_seal"),
            "then": {"not": {"anyOf": [_filled("spares"), _filled("placeholders"), _filled("keep")]}},
        },
        {
            "if": {"required": ["rest"], "properties": {"rest": {"const": "solid"}}},
            "then": {"properties": {"spares": {"items": _given("size")}}},
        },
    ],
    "Apart": [{"properties": {"classes": {"uniqueItems": True}}}],
    "Spare": [
        {
            "oneOf": [
                {"allOf": [_given("count", "size"), _absent("share")]},
                {"allOf": [_given("share"), _absent("count")]},
            ]
        }
    ],
    "ProcedureFile": [{"properties": {"steps": {"items": _given("after")}}}],
}
