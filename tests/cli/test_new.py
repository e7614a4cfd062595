"""`prep new`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prep.cli import run
from prep.cli._round_box import round_box
from prep.recipe import read_recipe
from prep.reference import recipe_schema
from prep.tables import Tables


@pytest.fixture
def project(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project just started."""
    monkeypatch.chdir(tmp_path)
    assert run(["new", "egg timer"]) == 0
    return tmp_path / "egg-timer"


def test_recipe_reads(project: Path) -> None:
    """The recipe of a new project has no fault, its meshes and shop tables included."""
    recipe = read_recipe(project / "egg-timer.yaml")
    assert recipe.project == "egg timer"
    assert list(recipe.parts) == ["box", "cover"]
    assert recipe.steps[0].changes() == ("box", "cover")


def test_what_stands_there(project: Path) -> None:
    """A recipe, its schema, a hint, shop tables and two meshes; nothing else, in the folder or beside it."""
    assert sorted(path.name for path in project.iterdir()) == [
        "README.md",
        "box.stl",
        "cover.stl",
        "egg-timer.yaml",
        "recipe.schema.json",
        "shop",
    ]
    assert [path.name for path in project.parent.iterdir()] == ["egg-timer"]
    assert json.loads((project / "recipe.schema.json").read_text("utf-8")) == recipe_schema()


def test_shop_tables_are_empty(project: Path) -> None:
    """The shop's tables have headings and no rows, and are read as they stand."""
    assert len(list((project / "shop").glob("*.csv"))) == 5
    assert Tables.load(project / "shop") == Tables.load()


def test_meshes_are_as_stated(project: Path) -> None:
    """The meshes are solids whose longest side is what the recipe states."""
    from prep.geometry.read_mesh import read_mesh

    recipe = read_recipe(project / "egg-timer.yaml")
    assert read_mesh(recipe.mesh_path("box")) is not None
    box = round_box()["box"]
    longest = recipe.parts["box"].longest
    assert longest is not None
    assert longest.holds(float(box.extents_mm.max()))
    assert box.topology.genus == 0


def test_sample_mates() -> None:
    """Box and cover touch at the seam and share no volume."""
    box, cover = round_box().values()
    assert box.bounds_mm[1, 2] == cover.bounds_mm[0, 2]


def test_same_bytes_twice(project: Path) -> None:
    """A project of the same name elsewhere is the same, byte for byte."""
    other = project.parent / "other"
    other.mkdir()
    assert run(["new", str(other / "egg timer")]) == 0
    for path in project.rglob("*"):
        if path.is_file():
            assert path.read_bytes() == (other / "egg-timer" / path.relative_to(project)).read_bytes()


def test_never_over_a_folder(project: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is already there is never written to."""
    (project / "box.stl").write_text("mine")
    assert run(["new", "egg timer"]) == 2
    assert "error[folder-exists]" in capsys.readouterr().err
    assert (project / "box.stl").read_text() == "mine"


def test_name_without_letters(capsys: pytest.CaptureFixture[str]) -> None:
    """A name that leaves no name for a folder is refused."""
    assert run(["new", "***"]) == 2
    assert "error[bad-value]" in capsys.readouterr().err
