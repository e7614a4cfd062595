"""The example, from exported meshes to finished parts, as a person runs it."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

import lib3mf
import manifold3d
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
    shutil.copytree(EXAMPLE / "shop", folder / "shop")
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

SMALL = ("L1", "L1 resistor", "L1 wire")
"""A lamp and what hangs on it: under a gram together, taken as the ledger has them."""


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
    lumps += [(3.1, places["L1 cell"])]  # CR2032: 3.0 to 3.2 g
    lumps += [(item["mass_g"], places[item["id"]]) for item in report["items"] if item["id"] in SMALL]
    filled = [pocket for pocket in report["steps"][-1]["facts"]["pockets"] if pocket["fill"] != "empty"]
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
    pockets = sum(place["feature"] == "pocket" for place in report["steps"][-1]["places"])
    assert kinds.count("section") == 4 + 1 + 2 + pockets  # seats, lamp, lips of two masks
    assert kinds.count("glow") == 1
    assert kinds.count("lift") == 2


def test_the_window_glows_and_nothing_else(built: tuple[Path, dict[str, Any]]) -> None:
    """The light wall measured on the written file is the thickness asked for, and the leak check is clean."""
    out, report = built
    leaks = [check for check in report["checks"] if check["check"] == "leak"]
    assert {check["verdict"] for check in leaks} == {"pass"}
    mesh = read_with_lib3mf(out / report["parts"]["body"]["output"]["path"])
    window = report["windows"][0]
    at, outward, across = (np.array(window[word]) for word in ("at_mm", "out", "across"))
    turn = np.arange(12) * np.pi / 6.0
    aside = np.cos(turn)[:, None] * across + np.sin(turn)[:, None] * np.cross(outward, across)
    for spot in at + 0.4 * window["half_mm"][0] * aside:
        start, normal = hit(mesh, spot + 6.0 * outward, -outward)
        end, _ = hit(mesh, start - 1e-4 * normal, -normal)
        assert np.linalg.norm(end - start) == pytest.approx(window["wall_mm"], abs=0.03)


def hit(mesh: trimesh.Trimesh, start: Any, along: Any) -> tuple[Any, Any]:
    """Where a ray first meets a mesh, and the normal there (Moeller and Trumbore 1997, written out)."""
    a, b, c = (mesh.triangles[:, k] for k in range(3))
    first, second = b - a, c - a
    p = np.cross(along, second)
    scale = np.einsum("ij,ij->i", first, p)
    with np.errstate(divide="ignore", invalid="ignore"):
        away = start - a
        u = np.einsum("ij,ij->i", away, p) / scale
        q = np.cross(away, first)
        v = q @ along / scale
        far = np.einsum("ij,ij->i", second, q) / scale
        met = (np.abs(scale) > 1e-12) & (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (far > 0.0)
    row = int(np.argmin(np.where(met, far, np.inf)))
    return start + far[row] * np.asarray(along), mesh.face_normals[row]


def test_the_remedy_for_leaks_is_its_own(project: Path, tmp_path: Path) -> None:
    """Without the black coat the lamp's light shows beside the window; the tool says by how much, and to coat it."""
    text = (project / "timer.yaml").read_text("utf-8")
    begin, lamp = text.index("  - step: seat_magnets"), text.index("  - step: house_led")
    bare = text[:begin] + text[lamp : text.index("  - step: mask_paint")] + "checks:\n  wall: 1.2 mm\n"
    recipe = project / "bare.yaml"
    recipe.write_text(bare.replace("    coat: black acrylic\n", ""), "utf-8")
    assert run(["build", str(recipe), "-o", str(tmp_path / "out")]) == 1
    report = json.loads((tmp_path / "out" / "report.json").read_text("utf-8"))
    recipe.unlink()
    leaks = [check for check in report["checks"] if check["check"] == "leak" and check["verdict"] == "fail"]
    assert leaks
    assert leaks[0]["value"] > 2.0
    assert any("black" in check["fix"] for check in leaks)


def test_masks_sit_clear_and_lift_off(built: tuple[Path, dict[str, Any]]) -> None:
    """Every piece of both masks is one closed body that shares nothing with its part, seated and on its way off."""
    out, report = built
    part_of = {step["name"]: ("dial" if step["name"] == "dial face" else "body") for step in report["steps"]}
    pulls = {f"{step['name']}": step["facts"].get("pulls", []) for step in report["steps"]}
    masks = [extra for extra in report["extra"] if "mask" in extra["name"]]
    assert len(masks) >= 3
    for extra in masks:
        name = extra["name"].rpartition("-mask")[0]
        piece = read_with_lib3mf(out / extra["path"])
        part = read_with_lib3mf(out / report["parts"][part_of[name]]["output"]["path"])
        assert piece.is_watertight
        assert piece.body_count == 1
        label = extra["name"].rpartition("mask")[2].strip()
        pull = next(one for one in pulls[name] if label in {"", one["piece"]})
        for share in (0.0, 0.02, 0.1, 0.3, 1.0):
            moved = kernel(piece, share * pull["mm"] * np.array(pull["along"]))
            assert (moved ^ kernel(part)).volume() <= 1e-3, (extra["name"], share)


def kernel(mesh: trimesh.Trimesh, shift: Any = (0.0, 0.0, 0.0)) -> manifold3d.Manifold:
    """A mesh as a solid of the boolean kernel, moved."""
    points = np.array(mesh.vertices, dtype=np.float64) + np.asarray(shift)
    return manifold3d.Manifold(manifold3d.Mesh64(points, np.array(mesh.faces, dtype=np.uint64)))


def test_the_plan_of_coats(built: tuple[Path, dict[str, Any]]) -> None:
    """Black inside first, then the light metallic, then the darker orange; magnets go in after the last mask is off."""
    report = built[1]
    assert [coat["paint"] for coat in report["paint"]] == ["black acrylic", "silver metallic", "orange enamel"]
    seats = [task for task in report["work"] if task["verb"] == "seat" and task["step"] == "back magnets"]
    assert seats
    assert all(any(before.startswith("unmask") for before in task["after"]) for task in seats)


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
    assert [step["reused"] for step in report["steps"]] == [True, True, True, True, False]
    assert report["model"]["mass_g"] == pytest.approx(155.0, abs=0.05)
    assert report["verdict"] == "pass"
    recipe.unlink()
    assert built[1]["model"]["mass_g"] == pytest.approx(148.0, abs=0.05)
