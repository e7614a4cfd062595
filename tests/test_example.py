"""The example, from exported meshes to finished parts, as a person runs it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import lib3mf
import numpy as np
import pytest
import trimesh

from fixtures.kitchen_timer import write as write_timer
from prep.build.record import Record
from prep.cli import run
from prep.physics.pull_force import pull_force

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "recipes" / "kitchen-timer"


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the example's folder with its meshes."""
    folder = tmp_path_factory.mktemp("kitchen-timer")
    write_timer(folder)
    shutil.copy(EXAMPLE / "timer.yaml", folder)
    return folder


@pytest.fixture(scope="module")
def built(project: Path) -> tuple[Path, dict[str, Any]]:
    """The build's folder and its report."""
    before = {path.name: path.read_bytes() for path in project.glob("*.*")}
    assert run(["build", str(project / "timer.yaml")]) == 0
    assert {path.name: path.read_bytes() for path in project.glob("*.*")} == before, "an input was written to"
    out = project / "build" / "kitchen-timer-C"
    return out, json.loads((out / "report.json").read_text("utf-8"))


def at(report: Any, path: str) -> Any:
    """What stands under a dotted path."""
    for word in path.split("."):
        report = report[int(word)] if isinstance(report, list) else report[word]
    return report


@pytest.mark.parametrize("path", json.loads((EXAMPLE / "expected.json").read_text("utf-8")))
def test_the_report_is_as_expected(built: tuple[Path, dict[str, Any]], path: str) -> None:
    """Every number of expected.json, within its tolerance."""
    wanted = json.loads((EXAMPLE / "expected.json").read_text("utf-8"))[path]
    found = at(built[1], path)
    if isinstance(wanted["value"], str):
        assert found == wanted["value"], wanted["reason"]
    else:
        assert found == pytest.approx(wanted["value"], abs=wanted["tolerance"]), wanted["reason"]


def read_with_lib3mf(path: Path) -> trimesh.Trimesh:
    """A part read by the reference reader, in strict mode."""
    wrapper = lib3mf.get_wrapper()
    model = wrapper.CreateModel()
    reader = model.QueryReader("3mf")
    reader.SetStrictModeActive(True)
    reader.ReadFromFile(str(path))
    assert reader.GetWarningCount() == 0
    meshes = model.GetMeshObjects()
    assert meshes.MoveNext()
    mesh = meshes.GetCurrentMeshObject()
    assert mesh.IsManifoldAndOriented()
    assert not meshes.MoveNext()
    vertices = np.array([list(p.Coordinates) for p in mesh.GetVertices()])
    faces = np.array([list(t.Indices) for t in mesh.GetTriangleIndices()])
    return trimesh.Trimesh(vertices, faces, process=False)


RESIN_G_MM3 = 1.175e-3
"""Jetted rigid resin, middle of the published 1.17 to 1.18 g/cm3."""

SHOT_G_MM3 = 0.601 * 7.85e-3
"""Carbon steel, poured loose: 0.601 (Scott 1960)."""

EPOXY_G_MM3 = 1.15e-3


def test_the_written_files_weigh_what_was_asked(built: tuple[Path, dict[str, Any]]) -> None:
    """Mass and balance recomputed from the written files: volumes by other code, densities and magnets by hand.

    The ballast is taken from the pockets themselves: what the back lost beyond its four seats, filled to 1.5 mm under
    the rim. Only the places of the bought items are the report's.
    """
    out, report = built
    meshes = {name: read_with_lib3mf(out / part["output"]["path"]) for name, part in report["parts"].items()}
    assert all(mesh.is_watertight for mesh in meshes.values())
    lumps = [(mesh.volume * RESIN_G_MM3, mesh.center_mass) for mesh in meshes.values()]
    places = {item["id"]: np.array(item["at_mm"]) for item in report["items"]}
    disc = np.pi / 4.0 * 6.0**2 * 2.0 * 7.5e-3
    lumps += [(disc, places[f"M{k}"]) for k in range(1, 9)]
    lumps += [(3.1, places["C1"])]  # CR2032: 3.0 to 3.2 g
    filled = [pocket for pocket in report["steps"][1]["facts"]["pockets"] if pocket["fill"] != "empty"]
    assert filled
    for pocket in filled:
        area = pocket_area(meshes["back"], pocket)
        shot = area * (pocket["depth_mm"] - 1.5) * SHOT_G_MM3
        lumps += [(shot, places[pocket["id"]]), (area * 1.5 * EPOXY_G_MM3, places[f"{pocket['id']} cap"])]
    mass = sum(one for one, _ in lumps)
    centre = sum(one * where for one, where in lumps) / mass
    assert mass == pytest.approx(148.0, abs=0.05)
    assert mass == pytest.approx(report["model"]["mass_g"], abs=0.005)
    assert abs(centre[0]) <= 0.5
    assert abs(centre[1]) <= 0.5
    assert centre == pytest.approx(report["model"]["centre_mm"], abs=0.02)


def pocket_area(mesh: trimesh.Trimesh, pocket: dict[str, Any]) -> float:
    """Area of a pocket's floor, mm2: the triangles square to z at its depth under its own mouth."""
    x, y, z = pocket["at_mm"]
    floor = z + pocket["depth_mm"]
    middles, normals = mesh.triangles_center, mesh.face_normals
    reach = max(pocket["width_mm"], pocket["length_mm"]) / 2.0 + 0.5
    near = np.hypot(middles[:, 0] - x, middles[:, 1] - y) < reach
    rows = near & (np.abs(middles[:, 2] - floor) < 1e-3) & (normals[:, 2] < -0.999)
    return float(mesh.area_faces[rows].sum())


def test_trimesh_reads_the_parts_too(built: tuple[Path, dict[str, Any]]) -> None:
    """A second reader finds closed parts of the volume reported."""
    out, report = built
    for part in report["parts"].values():
        mesh = trimesh.load(out / part["output"]["path"], force="mesh", process=False)
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(part["output"]["volume_mm3"], rel=1e-6)


def test_magnets_face_one_another(built: tuple[Path, dict[str, Any]]) -> None:
    """Each magnet of the body has its partner in the back: on its axis, at the gap reported, the other pole out."""
    items = {item["id"]: item for item in built[1]["items"] if item["kind"] == "magnet"}
    gaps = built[1]["steps"][0]["facts"]["face_gap_mm"]
    pulls = built[1]["steps"][0]["facts"]["pull_each_n"]
    assert sorted(items) == [f"M{k}" for k in range(1, 9)]
    for k in range(1, 5):
        one, other = items[f"M{k}"], items[f"M{k + 4}"]
        assert one["pairs_with"] == other["id"]
        assert {one["pole_out"], other["pole_out"]} == {"N", "S"}
        between = np.array(other["at_mm"]) - np.array(one["at_mm"])
        axis = np.array(one["axis"])
        assert np.linalg.norm(np.cross(axis, between)) < 0.02
        assert abs(between @ axis) - 2.0 == pytest.approx(gaps[k - 1], abs=1e-5)
        assert pulls[k - 1] == pytest.approx(pull_force(6.0, 2.0, 1.3, 6.0, 2.0, 1.3, gaps[k - 1]), rel=1e-6)


def test_pictures_are_there_and_named(built: tuple[Path, dict[str, Any]]) -> None:
    """Each part before and after, and a section through every seat and pocket."""
    out, report = built
    for picture in report["pictures"]:
        assert (out / picture["path"]).read_bytes().startswith(b"\x89PNG")
    kinds = [picture["kind"] for picture in report["pictures"]]
    assert kinds.count("before-after") == 3
    pockets = sum(place["feature"] == "pocket" for place in report["steps"][1]["places"])
    assert kinds.count("section") == 4 + pockets


def test_the_same_recipe_gives_the_same_bytes(
    project: Path, built: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    """Parts to the byte, and the report but for timing, when every step is run again."""
    out, _ = built
    assert run(["build", str(project / "timer.yaml"), "--fresh", "-o", str(tmp_path / "again")]) == 0
    for path in sorted((out / "parts").iterdir()):
        assert path.read_bytes() == (tmp_path / "again" / "parts" / path.name).read_bytes()
    one, other = (Record.from_json((folder / "report.json").read_text("utf-8")) for folder in (out, tmp_path / "again"))
    assert one.to_json(timing=False) == other.to_json(timing=False)


def test_a_changed_target_solves_again_and_keeps_the_seats(project: Path, built: tuple[Path, dict[str, Any]]) -> None:
    """Only the weighing is run again; the new mass is met."""
    recipe = project / "heavier.yaml"
    text = (project / "timer.yaml").read_text("utf-8")
    recipe.write_text(text.replace("148 g ± 0.5 g", "155 g ± 0.5 g").replace("revision: C", "revision: D"), "utf-8")
    assert run(["build", str(recipe)]) == 0
    report = json.loads((project / "build" / "kitchen-timer-D" / "report.json").read_text("utf-8"))
    assert [step["reused"] for step in report["steps"]] == [True, False]
    assert report["model"]["mass_g"] == pytest.approx(155.0, abs=0.05)
    assert report["verdict"] == "pass"
    recipe.unlink()
    assert built[1]["model"]["mass_g"] == pytest.approx(148.0, abs=0.05)
