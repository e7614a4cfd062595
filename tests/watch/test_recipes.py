"""Recipes in the folder: built again when a mesh of theirs changes, one at a time, and a good result is kept."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

import prep.watch.worker
from fixtures.drawn import tray
from fixtures.mutated import stl_binary
from prep.watch.tasks import Build
from prep.watch.verdicts import Verdicts
from tests.watch.here import Turns, put

RECIPE = """recipe: 1
project: tray
process: extrusion-0.4
parts:
  body: {mesh: body.stl, material: pla}
"""
SOUND = stl_binary(tray((60.0, 40.0, 20.0), 3.0, 3.0))
TALLER = stl_binary(tray((60.0, 40.0, 24.0), 3.0, 3.0))


@pytest.fixture
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """A report of two short files instead of pictures."""

    def write(built, out: Path, tell) -> list[Path]:
        tell("pictures", 1.0)
        (out / "report.html").write_text(built.record.project, encoding="utf-8")
        (out / "report.json").write_text(built.record.to_json(), encoding="utf-8")
        return []

    monkeypatch.setattr(prep.watch.worker, "write_report", write)


@pytest.fixture
def inbox(tmp_path: Path, quick: None) -> Path:
    """A folder with a recipe and its mesh."""
    del quick
    (tmp_path / "tray.yaml").write_text(RECIPE, encoding="utf-8")
    put(tmp_path / "body.stl", SOUND)
    return tmp_path


def builds(tasks: list[object]) -> int:
    """How many builds were asked for."""
    return sum(isinstance(task, Build) for task in tasks)


def test_built_and_linked(inbox: Path, here) -> None:
    """A recipe is built into a folder of its own, its report linked; its mesh has its own verdict."""
    turns = Turns(inbox).go(8.0)
    line = turns.entry("tray.yaml")
    assert line is not None
    assert (line.kind, line.verdict) == ("recipe", "pass")
    assert line.report is not None
    assert (inbox / line.report).read_text(encoding="utf-8") == "tray"
    assert line.report.startswith(f"verdicts/builds/tray.yaml.{line.hash8}/")
    held = json.loads((inbox / line.report).with_name("report.json").read_text(encoding="utf-8"))
    assert line.reason == f"built: 1 part, {held['model']['mass_g']:.2f} g"
    assert (inbox / str(line.thumbnail)).read_bytes().startswith(b"\x89PNG")
    mesh = turns.entry("body.stl")
    assert mesh is not None
    assert mesh.verdict == "pass"
    board = (inbox / "board.html").read_text(encoding="utf-8")
    assert "print the finished parts of tray.yaml, unless the bare mesh is meant" in board
    assert builds(here) == 1
    assert (inbox / "tray.yaml").read_text(encoding="utf-8") == RECIPE
    assert not (inbox / "build").exists()


def test_mesh_that_changes_builds_again(inbox: Path, here) -> None:
    """A new mesh means a new build of the newest content; nothing changed means none, after a restart as well."""
    turns = Turns(inbox).go(8.0)
    first = turns.entry("tray.yaml")
    put(inbox / "body.stl", TALLER)
    turns.go(8.0)
    second = turns.entry("tray.yaml")
    assert first is not None
    assert second is not None
    assert first.report != second.report
    held = json.loads((inbox / str(second.report)).with_name("report.json").read_text(encoding="utf-8"))
    assert held["parts"]["body"]["output"]["extents_mm"][2] == pytest.approx(24.0)
    assert builds(here) == 2
    here.clear()
    assert Turns(inbox).go(8.0).entry("tray.yaml") == second
    assert builds(here) == 0


def test_broken_export_keeps_the_good_result(inbox: Path, here) -> None:
    """A mesh that cannot be built leaves the last good report linked and whole, and says what is wrong."""
    turns = Turns(inbox).go(8.0)
    good = turns.entry("tray.yaml")
    put(inbox / "body.stl", b"solid nothing of use\nendsolid\n")
    turns.go(8.0)
    now = turns.entry("tray.yaml")
    assert good is not None
    assert now is not None
    assert now.verdict == "refused"
    assert now.report == good.report
    assert (inbox / str(now.report)).exists()
    assert now.reason.startswith("not built: ")
    assert "last good result" in now.reason
    assert builds(here) == 2


@pytest.mark.usefixtures("here")
def test_mesh_half_copied_is_not_built(inbox: Path) -> None:
    """While a mesh of it is still being copied, a recipe has no new verdict; then it has one."""
    turns = Turns(inbox).go(8.0)
    put(inbox / "body.stl", TALLER[: len(TALLER) // 2])
    turns.go(8.0)
    assert len(turns.gate.verdicts.ledger.of_file("tray.yaml")) == 1
    put(inbox / "body.stl", TALLER)
    turns.go(8.0)
    assert [line.verdict for line in turns.gate.verdicts.ledger.of_file("tray.yaml")] == ["pass", "pass"]


def test_mesh_in_a_folder_below_is_minded(inbox: Path, here) -> None:
    """A mesh in a folder below is no drop of its own, and its change builds the recipe again."""
    (inbox / "parts").mkdir()
    put(inbox / "parts" / "body.stl", SOUND)
    (inbox / "tray.yaml").write_text(RECIPE.replace("body.stl", "parts/body.stl"), encoding="utf-8")
    turns = Turns(inbox).go(8.0)
    put(inbox / "parts" / "body.stl", TALLER)
    turns.go(8.0)
    assert len(turns.gate.verdicts.ledger.of_file("tray.yaml")) == 2
    assert builds(here) == 2


def test_mesh_outside_the_folder_is_not_read(tmp_path: Path, here) -> None:
    """A recipe that names a mesh outside the folder is refused, and the mesh never opened."""
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    put(tmp_path / "secret.stl", SOUND)
    (inbox / "tray.yaml").write_text(RECIPE.replace("body.stl", "../secret.stl"), encoding="utf-8")
    (line,) = Turns(inbox).go(8.0).lines
    assert line.verdict == "refused"
    assert "leads out" in line.reason
    assert builds(here) == 0


def test_one_build_at_a_time(inbox: Path, here) -> None:
    """While anybody on the folder builds, another recipe waits, and is built when that is over."""
    turns = Turns(inbox)
    turns.gate.verdicts.room.mkdir(parents=True, exist_ok=True)
    held = turns.gate.verdicts.claims.take("build")
    assert held is not None
    turns.go(8.0)
    assert turns.entry("tray.yaml") is None
    assert builds(here) == 0
    held.release()
    turns.go(4.0)
    assert turns.entry("tray.yaml") is not None
    assert builds(here) == 1


def test_mesh_that_changes_during_the_build(inbox: Path, here, monkeypatch: pytest.MonkeyPatch) -> None:
    """A build whose mesh changes on the way leaves no result and no verdict; the newest content gets them."""
    real, left = prep.watch.worker.run, [TALLER]

    def changing(*arguments, **more):
        made = real(*arguments, **more)
        if left:
            put(inbox / "body.stl", left.pop())
        return made

    monkeypatch.setattr(prep.watch.worker, "run", changing)
    turns = Turns(inbox).go(12.0)
    (line,) = turns.gate.verdicts.ledger.of_file("tray.yaml")
    assert [path.name for path in (inbox / "verdicts/builds").glob("tray*")] == [f"tray.yaml.{line.hash8}"]
    held = json.loads((inbox / str(line.report)).with_name("report.json").read_text(encoding="utf-8"))
    assert held["parts"]["body"]["output"]["extents_mm"][2] == pytest.approx(24.0)
    assert builds(here) == 2


def test_recipe_with_faults_says_the_first(inbox: Path, here) -> None:
    """A recipe with a wrong key is refused with the word and the line, and nothing is built."""
    (inbox / "tray.yaml").write_text(RECIPE.replace("material", "materal"), encoding="utf-8")
    line = Turns(inbox).go(8.0).entry("tray.yaml")
    assert line is not None
    assert line.verdict == "refused"
    assert line.reason.startswith("not built: `material` is missing")
    assert "tray.yaml:5" in line.reason
    assert "(and 1 more)" in line.reason
    assert not (inbox / "verdicts/builds/tray.yaml").exists()
    assert builds(here) == 1


def test_old_builds_are_taken_away(inbox: Path, here) -> None:
    """Of the results of a recipe the newest three stay; every verdict does; one that is wanted again is built again."""
    turns = Turns(inbox)
    meshes = [stl_binary(tray((60.0, 40.0, 20.0 + number), 3.0, 3.0)) for number in range(5)]
    for mesh in meshes:
        put(inbox / "body.stl", mesh)
        turns.go(8.0)
    lines = turns.gate.verdicts.ledger.of_file("tray.yaml")
    assert [(inbox / str(line.report)).exists() for line in lines] == [False, False, True, True, True]
    assert all((inbox / line.html_path).exists() for line in lines)
    here.clear()
    put(inbox / "body.stl", meshes[0])
    turns.go(8.0)
    now = turns.entry("tray.yaml")
    assert now == lines[0]
    assert (inbox / str(now.report)).exists()
    assert builds(here) == 1
    assert len(turns.gate.verdicts.ledger.of_file("tray.yaml")) == 5


@pytest.mark.usefixtures("here")
def test_last_good_is_the_one_that_stood_before(inbox: Path) -> None:
    """After a return to an older mesh it is that result which a broken export leaves linked."""
    turns = Turns(inbox).go(8.0)
    first = turns.entry("tray.yaml")
    for content in (TALLER, SOUND, b"solid nothing of use\nendsolid\n"):
        put(inbox / "body.stl", content)
        turns.go(8.0)
    now = turns.entry("tray.yaml")
    assert first is not None
    assert now is not None
    assert (now.verdict, now.report) == ("refused", first.report)


def test_half_made_results_are_swept(tmp_path: Path) -> None:
    """What a killed build has left is taken away when a gate starts, an hour later; kept steps and young ones stay."""
    builds = tmp_path / "verdicts" / "builds"
    for name in (".tray.yaml.ab12.xyz", ".tray.yaml.cd34.uvw", ".store", "tray.yaml.ef56"):
        (builds / name).mkdir(parents=True)
        (builds / name / "part.3mf").write_bytes(b"half")
    for name in (".tray.yaml.ab12.xyz", ".store", "tray.yaml.ef56"):
        os.utime(builds / name, (1_500_000_000, 1_500_000_000))
    Verdicts(tmp_path).open()
    assert sorted(path.name for path in builds.iterdir()) == [".store", ".tray.yaml.cd34.uvw", "tray.yaml.ef56"]
