"""A small language of two steps and two checks, so that the reading of recipes is tested apart from the real ones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

import pytest
from pydantic import Field, model_validator

import prep.recipe.read
from prep.contract import Bench, Check, Finding, Outcome, Step
from prep.places.wanted import PlacesWanted
from prep.recipe import Recipe, read_recipe
from prep.units import Fraction, Length

HEAD = """\
recipe: 1
project: kitchen timer
process: extrusion-0.4
parts:
  body: {mesh: body.stl, material: pla}
  back: {mesh: back.stl, material: pla}
"""


class Drill(Step):
    """Bores a hole."""

    step: Literal["drill_hole"]
    part: str = Field(description="which part")
    width: Length = Field(gt=0, description="across")
    fixing: Literal["glue", "press"] = Field("glue", description="how it holds")
    at: PlacesWanted | None = Field(None, description="where")
    share: Fraction | None = Field(None, ge=0, le=1, description="how much")
    rest: Fraction | None = Field(None, ge=0, le=0.2, description="how much stays")
    count: int = Field(1, ge=1, description="how many")

    @model_validator(mode="after")
    def _not_both(self) -> Drill:
        if self.share is not None and self.count > 1:
            raise ValueError("`share` goes with one hole only")
        return self

    def changes(self) -> tuple[str, ...]:
        """The one part."""
        return (self.part,)

    def apply(self, bench: Bench) -> Outcome:
        """Never called here."""
        raise NotImplementedError


class Join(Step):
    """Joins a pair."""

    step: Literal["join_pair"]
    between: tuple[str, str] = Field(description="the two parts")

    def changes(self) -> tuple[str, ...]:
        """Both parts."""
        return self.between

    def apply(self, bench: Bench) -> Outcome:
        """Never called here."""
        raise NotImplementedError


class Wall(Check):
    """Walls are thick enough."""

    limit: Length | None = Field(None, gt=0, description="thinnest wall allowed; default: the process's")

    @classmethod
    def word(cls) -> str:
        """Its word."""
        return "wall"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Never called here."""
        raise NotImplementedError


class Loose(Check):
    """Nothing lies loose."""

    @classmethod
    def word(cls) -> str:
        """Its word."""
        return "loose"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Never called here."""
        raise NotImplementedError


@pytest.fixture
def read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Recipe]:
    """Writes a recipe beside two empty meshes and reads it, in a language of these two steps and two checks only."""
    monkeypatch.setattr(prep.recipe.read, "all_steps", lambda: {"drill_hole": Drill, "join_pair": Join})
    monkeypatch.setattr(prep.recipe.read, "all_checks", lambda: {"loose": Loose, "wall": Wall})

    def write_and_read(text: str, head: str = HEAD) -> Recipe:
        for name in ("body.stl", "back.stl"):
            (tmp_path / name).write_bytes(b"")
        path = tmp_path / "timer.yaml"
        path.write_text(head + text, encoding="utf-8")
        return read_recipe(path)

    return write_and_read
