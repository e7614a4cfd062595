"""The JSON schemas of a recipe and of gate.yaml agree with what the readers read."""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from prep.checks import all_checks
from prep.errors import PrepError
from prep.recipe import PartWanted, Recipe
from prep.recipe.gate_rules import Expected, Rules, read_rules
from prep.recipe.source import read_source
from prep.reference import gate_schema, recipe_schema
from prep.steps import all_steps


def references(schema: object) -> Iterator[str]:
    """Every reference inside a schema."""
    if isinstance(schema, dict):
        if isinstance(schema.get("$ref"), str):
            yield schema["$ref"]
        for each in schema.values():
            yield from references(each)
    elif isinstance(schema, list):
        for each in schema:
            yield from references(each)


def mappings(schema: object) -> Iterator[dict[str, Any]]:
    """Every mapping inside a schema that lists its keys."""
    if isinstance(schema, dict):
        if isinstance(schema.get("properties"), dict):
            yield schema
        for each in schema.values():
            yield from mappings(each)
    elif isinstance(schema, list):
        for each in schema:
            yield from mappings(each)


def test_keys_are_the_readers() -> None:
    """Every key the reader knows is in the schema, and no other is allowed."""
    schema = recipe_schema()
    assert set(schema["properties"]) == set(Recipe.model_fields)
    assert set(schema["$defs"]["PartWanted"]["properties"]) == set(PartWanted.model_fields)
    assert all(each.get("additionalProperties") is False for each in mappings(schema) if "properties" in each)


def test_every_step_and_check() -> None:
    """Every step found is a choice, told by its word; every check found is a key."""
    schema = recipe_schema()
    names = [each["$ref"].rpartition("/")[2] for each in schema["properties"]["steps"]["items"]["oneOf"]]
    assert [schema["$defs"][name]["properties"]["step"]["const"] for name in names] == list(all_steps())
    assert list(schema["properties"]["checks"]["properties"]) == list(all_checks())


def test_references_resolve() -> None:
    """Every reference leads to a definition, and every definition is reached."""
    schema = recipe_schema()
    wanted = {each.removeprefix("#/$defs/") for each in references(schema)}
    assert wanted == set(schema["$defs"])


def test_defaults_are_text() -> None:
    """A quantity's default is written with its unit, and fits the quantity's own pattern."""
    seen = 0
    for mapping in mappings(recipe_schema()):
        for key, setting in mapping["properties"].items():
            if "pattern" in setting and "default" in setting:
                assert re.search(setting["pattern"], setting["default"]), key
                seen += 1
    assert seen >= 3


def test_examples_fit_their_patterns() -> None:
    """An example beside a pattern fits it."""
    for mapping in mappings(recipe_schema()):
        for setting in mapping["properties"].values():
            for example in setting.get("examples", []) if "pattern" in setting else []:
                assert re.search(setting["pattern"], example)


def test_short_forms() -> None:
    """What may be one name or a mapping, or one item or a list, says both."""
    schema = recipe_schema()
    assert {"type": "string"} in schema["properties"]["process"]["anyOf"]
    assert {"type": "string"} in schema["$defs"]["PartWanted"]["properties"]["material"]["anyOf"]
    at = schema["$defs"]["SeatMagnets"]["properties"]["at"]
    assert {"$ref": "#/$defs/PlaceWanted"} in at["anyOf"]


def test_same_text_twice() -> None:
    """The schema is the same text every time."""
    assert json.dumps(recipe_schema()) == json.dumps(recipe_schema())


KINDS = {"object": dict, "array": list, "string": str, "integer": int}


def plain_misfits(schema: dict[str, Any], value: str | int) -> Iterator[str]:
    """Why a text or a number does not fit."""
    if "enum" in schema and value not in schema["enum"]:
        yield "not one of the words"
    if isinstance(value, str) and not re.search(schema.get("pattern", ""), value):
        yield "not of the pattern"
    if isinstance(value, int) and (
        value < schema.get("minimum", value) or value <= schema.get("exclusiveMinimum", value - 1)
    ):
        yield "too small"


def misfits(schema: dict[str, Any], value: object, whole: dict[str, Any], at: str = "") -> Iterator[str]:
    """Where a value does not fit a schema, by as much of the standard as the gate's schema uses."""
    # https://json-schema.org/draft/2020-12/json-schema-validation: type, enum, pattern, minimum, required, items
    if "$ref" in schema:
        yield from misfits(whole["$defs"][schema["$ref"].rpartition("/")[2]], value, whole, at)
        return
    kind = KINDS[schema["type"]]
    if not isinstance(value, kind) or isinstance(value, bool):
        yield f"{at}: no {schema['type']}"
    elif isinstance(value, dict):
        yield from (f"{at}/{key}: missing" for key in schema.get("required", []) if key not in value)
        for key, each in value.items():
            if key in schema["properties"]:
                yield from misfits(schema["properties"][key], each, whole, f"{at}/{key}")
            elif schema["additionalProperties"] is False:
                yield f"{at}/{key}: unknown"
    elif isinstance(value, list):
        for index, each in enumerate(value):
            yield from misfits(schema["items"], each, whole, f"{at}/{index}")
    elif isinstance(value, str | int):
        yield from (f"{at}: {says}" for says in plain_misfits(schema, value))


def gate_misfits(folder: Path, text: str) -> list[str]:
    """Where a text does not fit the schema of gate.yaml."""
    path = folder / "gate.yaml"
    path.write_text(text, encoding="utf-8")
    schema = gate_schema()
    return list(misfits(schema, read_source(path).data, schema))


def test_gate_keys_are_the_readers() -> None:
    """Every key of gate.yaml is in its schema with its description, and no other is allowed."""
    schema = gate_schema()
    for model, mapping in ((Rules, schema), (Expected, schema["$defs"]["Expected"])):
        assert list(mapping["properties"]) == list(model.model_fields)
        assert all(each["description"] for each in mapping["properties"].values())
        assert mapping["additionalProperties"] is False
    assert {each.removeprefix("#/$defs/") for each in references(schema)} == set(schema["$defs"]) == {"Expected"}


def test_gate_defaults_and_examples_fit() -> None:
    """Defaults and examples of gate.yaml's keys are as a person would write them, and fit."""
    schema = gate_schema()
    seen = 0
    for mapping in mappings(schema):
        for key, setting in mapping["properties"].items():
            for value in [*setting.get("examples", []), *([setting["default"]] if "default" in setting else [])]:
                assert list(misfits(setting, value, schema)) == [], key
                seen += 1
    assert seen >= 15


def test_gate_example_fits_its_schema(tmp_path: Path) -> None:
    """What stands under `Examples` on the gate's page fits the schema."""
    _, _, section = inspect.cleandoc(Rules.__doc__ or "").partition("Examples\n--------\n")
    assert gate_misfits(tmp_path, inspect.cleandoc("\n" + section.partition("\n\n")[0]) + "\n") == []


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("wal: 1 mm\n", "/wal: unknown"),
        ("wall: 3\n", "/wall: no string"),
        ("wall: '3'\n", "/wall: not of the pattern"),
        ("quiet: 3 mm\n", "/quiet: not of the pattern"),
        ("told: Ada\n", "/told: no array"),
        ("memory: 12\n", "/memory: too small"),
        ("longest: [{longest: 92 mm}]\n", "/longest/0/match: missing"),
        ("longest: [{match: a, longest: 92}]\n", "/longest/0/longest: no string"),
        ("longest: [{match: a, unit: inches}]\n", "/longest/0/unit: not one of the words"),
    ],
)
def test_gate_schema_refuses_what_the_reader_refuses(tmp_path: Path, text: str, where: str) -> None:
    """An unknown key, a bare number, a wrong word or form: neither the schema nor the reader takes it."""
    assert gate_misfits(tmp_path, text) == [where]
    with pytest.raises(PrepError):
        read_rules(tmp_path)
