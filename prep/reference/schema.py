"""`recipe_schema`, `gate_schema`: the JSON schemas of the files that people write, from the models that read them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaValue, models_json_schema
from pydantic_core import SchemaSerializer, core_schema

from prep.checks import all_checks
from prep.recipe import CheckWanted, Recipe
from prep.recipe.gate_rules import Rules
from prep.recipe.models import PART_NAME
from prep.recipe.overrides import process_words
from prep.reference.setting import first_line
from prep.steps import all_steps


class _AsWritten(GenerateJsonSchema):
    """Defaults as a person would write them: `2 mm`, not 2.0; no titles that repeat the key."""

    def default_schema(self, schema: core_schema.WithDefaultSchema) -> JsonSchemaValue:
        """The schema of a setting with its default as text."""
        described = super().default_schema(schema)
        if "default" in described:
            try:
                serializer = SchemaSerializer(schema["schema"])
                described["default"] = serializer.to_python(schema.get("default"), mode="json", by_alias=True)
            except Exception:  # noqa: BLE001  # a reference that cannot be followed here leaves pydantic's own text
                return described
        return described

    def function_before_schema(self, schema: core_schema.BeforeValidatorFunctionSchema) -> JsonSchemaValue:
        """A list that something is put before may be written as one item alone."""
        described = super().function_before_schema(schema)
        if described.get("type") == "array" and isinstance(described.get("items"), dict):
            return {"anyOf": [described["items"], described]}
        return described

    def field_title_should_be_set(self, schema: Any) -> bool:  # noqa: ANN401, ARG002  # the signature is pydantic's
        """Never: the key is the title."""
        return False


def recipe_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) by which an editor completes and checks a recipe while it is written."""
    steps, checks = all_steps(), all_checks()
    models: list[type[BaseModel]] = [Recipe, process_words(), *steps.values(), *checks.values()]
    places, rest = models_json_schema([(model, "validation") for model in models], schema_generator=_AsWritten)
    definitions = rest.get("$defs", {})
    references = {model: places[model, "validation"] for model in models}
    whole = dict(definitions[_name(references[Recipe])])
    keys = dict(whole["properties"])
    keys["process"] = _described(keys["process"], {"anyOf": [{"type": "string"}, references[process_words()]]})
    keys["parts"] = keys["parts"] | {"propertyNames": {"pattern": PART_NAME}}
    keys["steps"] = _described(
        keys["steps"], {"type": "array", "items": {"oneOf": [references[step] for step in steps.values()]}}
    )
    keys["checks"] = _described(
        keys["checks"],
        {
            "type": "object",
            "additionalProperties": False,
            "properties": {
                word: _check_schema(definitions[_name(references[check])]) for word, check in checks.items()
            },
        },
    )
    for word, step in steps.items():
        own = definitions[_name(references[step])]
        own["properties"]["step"] = {"const": word, "description": "this step's word"}
        own["required"] = ["step", *(key for key in own.get("required", []) if key != "step")]
    whole["properties"] = keys
    return _document("recipe", whole, definitions)


def gate_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) by which an editor completes and checks `gate.yaml` while it is written."""
    places, rest = models_json_schema([(Rules, "validation")], schema_generator=_AsWritten)
    definitions = rest["$defs"]
    whole = dict(definitions[_name(places[Rules, "validation"])])
    whole["description"] = first_line(Rules)
    return _document("gate", whole, definitions)


def _document(title: str, whole: dict[str, Any], definitions: dict[str, Any]) -> dict[str, Any]:
    """A schema with its title and those definitions that it needs."""
    used = sorted(_used({"whole": whole}, definitions))
    whole |= {"title": title, "$defs": {name: definitions[name] for name in used}}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | {
        key: _tidied(value) for key, value in whole.items()
    }


def _tidied(schema: Any) -> Any:  # noqa: ANN401  # whatever JSON holds
    """Without what says nothing to a person who writes: nulls, titles of definitions, limits on text."""
    if isinstance(schema, list):
        return [_tidied(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    kept = {key: _tidied(value) for key, value in schema.items()}
    if kept.get("type") == "string":
        kept = {key: value for key, value in kept.items() if key not in {"gt", "ge", "lt", "le"}}
    if "title" in kept and "type" in kept:
        del kept["title"]
    if kept.get("default", "") is None:
        del kept["default"]
    branches = [each for each in kept.get("anyOf", []) if each != {"type": "null"}]
    if len(branches) == 1 and len(kept["anyOf"]) == 2:
        del kept["anyOf"]
        return branches[0] | kept
    return kept | ({"anyOf": branches} if branches else {})


def _check_schema(own: dict[str, Any]) -> dict[str, Any]:
    accept = CheckWanted.model_json_schema()["properties"]["accept"]
    mapping = own | {"properties": own.get("properties", {}) | {"accept": accept}}
    says = {"description": own.get("description", "").split("\n", 1)[0]}
    limit = own.get("properties", {}).get("limit")
    return says | ({"anyOf": [limit, mapping]} if limit is not None else mapping)


def _described(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    return new | {key: old[key] for key in ("description", "examples") if key in old}


def _name(reference: dict[str, Any]) -> str:
    return str(reference["$ref"]).rpartition("/")[2]


def _used(root: object, definitions: dict[str, Any]) -> set[str]:
    """Names of the definitions that are reached from a schema."""
    found: set[str] = set()
    waiting = [root]
    while waiting:
        here = waiting.pop()
        if isinstance(here, dict):
            name = _name(here) if isinstance(here.get("$ref"), str) else ""
            if name and name not in found:
                found.add(name)
                waiting.append(definitions[name])
            waiting += here.values()
        elif isinstance(here, list):
            waiting += here
    return found
