"""Bodies and colours on the bench, and in the keys of the steps that read them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np
import pytest
import trimesh
from pydantic import Field

import prep.recipe.read
from fixtures.drawn import Drawn, box, inside_out, moved, without_triangles
from prep.build.keys import step_key
from prep.build.parts import read_bench
from prep.build.run import run
from prep.build.store import Store
from prep.contract import Bench, Outcome, Prediction, Step
from prep.errors import Faults, MissingFile, OpenMesh
from prep.places.region import find_region
from prep.places.region_wanted import RegionWanted
from prep.recipe import read_recipe

HEAD = "recipe: 1\nproject: p\nprocess: jetting-0.027\nparts:\n  body: {mesh: body.ply, material: jetted-rigid}\n"
STEPS = """\
steps:
  - step: mark_skin
    part: body
    region:
      all:
        - {solid: band.stl}
        - {solid: post.stl}
"""


class MarkSkin(Step):
    """Finds a region and changes nothing."""

    step: Literal["mark_skin"]
    part: str = Field(description="which part")
    region: RegionWanted = Field(description="which skin")

    def changes(self) -> tuple[str, ...]:
        """The one part."""
        return (self.part,)

    def bodies(self) -> tuple[str, ...]:
        """Those of the region."""
        return self.region.bodies()

    def apply(self, bench: Bench) -> Outcome:
        """Says the area."""
        part = bench.parts[self.part]
        patch = find_region(part, self.region, bench.bodies)
        still = Prediction(part=self.part, volume_mm3=0.0, volume_tolerance_mm3=1e-6)
        return Outcome({self.part: part.solid}, (still,), facts={"area_mm2": patch.area_mm2})


def save(path: Path, drawn: Drawn) -> None:
    """A drawn solid as a file."""
    trimesh.Trimesh(*drawn, process=False).export(path)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A block with an orange top, a recipe that marks it, and two bodies: a post inside out, and a band."""
    monkeypatch.setattr(prep.recipe.read, "all_steps", lambda: {"mark_skin": MarkSkin})
    body = trimesh.Trimesh(*box((40.0, 30.0, 20.0)), process=False)
    tops = body.triangles_center[:, 2] > 9.9
    body.visual.face_colors = np.where(tops[:, None], [255, 136, 0, 255], [40, 40, 40, 255]).astype(np.uint8)
    body.export(tmp_path / "body.ply")
    save(tmp_path / "band.stl", moved(box((10.0, 40.0, 40.0)), (5.0, 0.0, 0.0)))
    save(tmp_path / "post.stl", inside_out(moved(box((6.0, 6.0, 10.0)), (3.0, 0.0, 10.0))))
    (tmp_path / "p.yaml").write_text(HEAD + STEPS, "utf-8")
    return tmp_path


def test_a_region_by_bodies_in_a_build(folder: Path) -> None:
    """A build reads the bodies, mends the one that is inside out and says so, and the step finds its region."""
    (folder / "out").mkdir()
    built = run(read_recipe(folder / "p.yaml"), folder / "out")
    assert built.record.steps[0].facts["area_mm2"] == pytest.approx(36.0)
    said = [finding for finding in built.record.checks if "post.stl mended" in finding.says]
    assert [finding.verdict for finding in said] == ["warn"]


def test_colours_follow_the_part(folder: Path) -> None:
    """Colours of the file stand on the bench, and still on the right faces once the part is put in its place."""
    text = HEAD.replace("jetted-rigid}", 'jetted-rigid, place: {turn: "90, 0, 0 deg", move: "5, 6, 7 mm"}}')
    (folder / "p.yaml").write_text(text, "utf-8")
    part = read_bench(read_recipe(folder / "p.yaml")).bench.parts["body"]
    assert part.colours is not None
    orange = np.array(part.colours) == "#ff8800"
    assert part.original.triangle_areas[orange].sum() == pytest.approx(1200.0)
    assert np.allclose(part.original.triangle_normals[orange], [0.0, -1.0, 0.0], atol=1e-6)
    assert set(part.colours) == {"#ff8800", "#282828"}


def test_a_body_that_is_not_there(folder: Path) -> None:
    """A body's file that is missing is a fault of the recipe, on the line where it is written, with the nearest."""
    (folder / "p.yaml").write_text(HEAD + STEPS.replace("band.stl", "bandd.stl"), "utf-8")
    with pytest.raises(MissingFile) as caught:
        read_recipe(folder / "p.yaml")
    assert caught.value.where.endswith("p.yaml:11")
    assert caught.value.fix == "did you mean `band.stl`?"


def test_bodies_that_are_no_solids(folder: Path) -> None:
    """Every body that cannot be mended is a fault that names its step."""
    save(folder / "band.stl", without_triangles(box(), 3))
    with pytest.raises(OpenMesh) as caught:
        read_bench(read_recipe(folder / "p.yaml"))
    assert 'step "mark skin", body band.stl' in caught.value.where
    save(folder / "post.stl", without_triangles(box(), 3))
    with pytest.raises(Faults):
        read_bench(read_recipe(folder / "p.yaml"))


def test_a_changed_body_is_read_again(folder: Path) -> None:
    """A step is reused only while its bodies are what they were; the reason is named by the body's path."""
    recipe, store = read_recipe(folder / "p.yaml"), Store(folder / "kept")
    for name in ("one", "two", "three"):
        (folder / name).mkdir()
    assert not run(recipe, folder / "one", store).record.steps[0].reused
    assert run(recipe, folder / "two", store).record.steps[0].reused
    before = step_key(recipe.steps[0], read_bench(recipe).bench)
    save(folder / "post.stl", moved(box((6.0, 8.0, 10.0)), (3.0, 0.0, 10.0)))
    assert step_key(recipe.steps[0], read_bench(recipe).bench).changed_since(before.pieces) == ("body post.stl",)
    third = run(recipe, folder / "three", store).record.steps[0]
    assert not third.reused
    assert third.facts["area_mm2"] == pytest.approx(48.0)


def test_changed_colours_are_a_changed_part(folder: Path) -> None:
    """The key of a step depends on the colours of its part."""
    recipe = read_recipe(folder / "p.yaml")
    bench = read_bench(recipe).bench
    part = bench.parts["body"]
    other = replace(bench, parts={"body": replace(part, colours=("#000000",) * len(part.colours or ()))})
    key = step_key(recipe.steps[0], bench)
    assert step_key(recipe.steps[0], other).changed_since(key.pieces) == ("part body",)
