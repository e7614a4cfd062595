"""The JSON schema of a recipe agrees with what the reader reads."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from prep.checks import all_checks
from prep.recipe import PartWanted, Recipe
from prep.reference import recipe_schema
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
