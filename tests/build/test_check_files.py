"""Files examined before a print: verdicts, refusals, units, comparison, and the two ways of judging a mesh."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fixtures.benches import shipped_tables
from fixtures.drawn import box, joined, moved, overlapping_boxes, spherical_shell, tray, without_triangles
from fixtures.mutated import BASES, damaged_file
from prep.build.check_files import Asked, check_files, judged
from prep.build.checked import CheckedFile, heaviest
from prep.checks.gap import Gap
from prep.checks.wall import Wall
from prep.contract import Finding
from prep.errors import BadValue
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh
from prep.units import LENGTH, read_band

THIN = tray((40.0, 30.0, 12.0), 0.5, 1.0)


@cache
def asked(process: str = "extrusion-0.4") -> Asked:
    """What a person asks who gives no options."""
    tables = shipped_tables()
    return Asked(process=tables.processes.get(process), tables=tables)


def written(path: Path, drawing: tuple[np.ndarray, np.ndarray]) -> Path:
    """A drawing as a mesh file."""
    write_mesh(path, Solid.of(*drawing))
    return path


def raw(path: Path, drawing: tuple[np.ndarray, np.ndarray]) -> Path:
    """A drawing as binary STL whatever is wrong with it."""
    v, t = drawing
    record = np.zeros(len(t), dtype=[("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    record["v"] = v[t]
    path.write_bytes(b"\0" * 80 + np.uint32(len(t)).tobytes() + record.tobytes())
    return path


def one(path: Path, wanted: Asked | None = None) -> CheckedFile:
    """The record of a single file."""
    (file,) = check_files([path], wanted or asked()).report.files
    return file


def found(file: CheckedFile, check: str) -> list[Finding]:
    """What one check says of the only part of a file."""
    (part,) = file.parts.values()
    return [finding for finding in part.checks if finding.check == check]


@pytest.mark.parametrize("suffix", ["stl", "3mf", "ply"])
def test_sound_part_passes_in_every_format(tmp_path: Path, suffix: str) -> None:
    """A tray with stout walls passes, and every check says something of it."""
    file = one(written(tmp_path / f"tray.{suffix}", tray()))
    assert (file.verdict, file.kind, list(file.parts)) == ("pass", "mesh", ["tray"])
    spoken = {finding.check for finding in file.parts["tray"].checks}
    assert {"unit", "solid", "wall", "web", "gap", "pin", "feature", "escape", "overhang", "bed"} <= spoken
    assert file.parts["tray"].worst is None


def test_thin_wall_of_a_bare_mesh_fails(tmp_path: Path) -> None:
    """A wall of 0.5 mm that is only a warning in a build fails here, with place, number, limit and action."""
    file = one(written(tmp_path / "thin.stl", THIN))
    assert file.verdict == "fail"
    worst = file.parts["thin"].worst
    assert worst is not None
    assert (worst.check, worst.made_by, worst.limit) == ("wall", "input", 0.8)
    assert worst.value == pytest.approx(0.5, rel=1e-4)
    assert worst.at_mm is not None
    assert "thicken it by 0.30 mm" in worst.fix


def test_only_checks_that_say_so_fail_the_input() -> None:
    """A thin wall is raised to a failure, a knife edge without limit and a narrow gap are not, nor is a step's own."""
    thin = Finding(check="wall", part="p", verdict="warn", value=0.5, limit=0.8, says="thin", made_by="input")
    assert judged(Wall(), thin).verdict == "fail"
    assert judged(Wall(), thin.model_copy(update={"limit": None})).verdict == "warn"
    assert judged(Wall(), thin.model_copy(update={"made_by": "a step"})).verdict == "warn"
    assert judged(Gap(), thin.model_copy(update={"check": "gap"})).verdict == "warn"


def test_other_wall_wanted(tmp_path: Path) -> None:
    """A wall limit given by hand stands in for the process's, for walls and webs."""
    path = written(tmp_path / "thin.stl", THIN)
    assert one(path, replace(asked(), wall_mm=0.4)).verdict == "pass"
    assert one(written(tmp_path / "t.stl", tray()), replace(asked(), wall_mm=3.5)).verdict == "fail"


def test_refused_file_stops_no_other(tmp_path: Path) -> None:
    """An open mesh, a missing one and a text are refused in four parts; the sound one beside them is checked."""
    (tmp_path / "notes.txt").write_text("buy filament")
    paths = [
        raw(tmp_path / "open.stl", without_triangles(box(), 3)),
        tmp_path / "nowhere.stl",
        tmp_path / "notes.txt",
        written(tmp_path / "tray.stl", tray()),
    ]
    report = check_files(paths, asked()).report
    assert [file.verdict for file in report.files] == ["refused", "refused", "refused", "pass"]
    assert [file.faults[0].code for file in report.files[:3]] == ["open-mesh", "missing-file", "unknown-format"]
    for file in report.files[:3]:
        (fault,) = file.faults
        assert fault.what
        assert fault.found
        assert fault.fix
        assert str(tmp_path) in fault.where
    assert report.exit_status == 2


def test_exit_status_is_that_of_the_worst() -> None:
    """Warnings pass; a failure is 1; a refusal is 2, whatever else there is."""
    assert [heaviest(list(some)) for some in ((), ("warn", "pass"), ("fail", "warn"), ("refused", "fail"))] == [
        "pass",
        "warn",
        "fail",
        "refused",
    ]


def test_stated_size_in_another_unit_is_refused(tmp_path: Path) -> None:
    """A block of 5 that should be 127 mm long is refused, and inch is named with the option to give."""
    path = written(tmp_path / "block.stl", box((5.0, 2.5, 1.375)))
    wanted = replace(asked(), longest=read_band("127 mm", LENGTH))
    (fault,) = one(path, wanted).faults
    assert fault.code == "wrong-unit"
    assert "--unit inch" in fault.fix
    assert one(path, replace(wanted, unit="inch")).verdict == "pass"


@pytest.mark.parametrize(("size", "word"), [(5.0, "inch"), (2.0, "cm"), (0.04, "m"), (40_000.0, "micron")])
def test_odd_size_is_a_hint(tmp_path: Path, size: float, word: str) -> None:
    """A part of 5 mm, 2 mm, 0.04 mm or 40 m is taken for one in another unit, which is named; a usual size is not."""
    (hint,) = found(one(written(tmp_path / "a.3mf", box((size, size / 2.0, size / 4.0)))), "unit")
    assert hint.verdict == "warn"
    assert f"if {word}" in hint.says or f"--unit {word}" in hint.fix
    (fine,) = found(one(written(tmp_path / "b.stl", tray())), "unit")
    assert fine.verdict == "pass"


def test_overlapping_bodies_are_reported(tmp_path: Path) -> None:
    """Two boxes exported without being united are a warning that says what was done about it."""
    file = one(raw(tmp_path / "boxes.stl", overlapping_boxes()))
    assert any("united" in finding.says for finding in found(file, "solid"))
    assert file.verdict == "warn"
    (part,) = file.parts.values()
    assert part.input.volume_mm3 == pytest.approx(2000.0 - 4.0 * 7.0 * 8.0, rel=1e-5)


def test_sealed_void_by_process(tmp_path: Path) -> None:
    """A sealed ball of air is a warning in extrusion; in a vat it holds resin of a stated mass and fails."""
    path = written(tmp_path / "ball.3mf", spherical_shell(10.0, 8.0))
    (air,) = found(one(path), "sealed_void")
    (resin,) = found(one(path, asked("vat-0.05")), "sealed_void")
    assert (air.verdict, resin.verdict) == ("warn", "fail")
    assert resin.value == pytest.approx(2144.7, rel=0.02)
    assert "resin, 2." in resin.says


def test_json_is_one_document_with_stable_keys(tmp_path: Path) -> None:
    """The document has the keys promised, the same bytes twice but for the seconds, and no path but the one named."""
    paths = [written(tmp_path / "thin.stl", THIN), tmp_path / "nowhere.stl"]
    first, second = (check_files(paths, asked()).report for _ in range(2))
    assert first.to_json(timing=False) == second.to_json(timing=False)
    data = json.loads(first.to_json())
    assert list(data) == ["check", "prep", "verdict", "files", "timing_s"]
    assert list(data["files"][0]) == ["path", "kind", "verdict", "process", "parts", "faults", "accepted"]
    part = data["files"][0]["parts"]["thin"]
    assert list(part) == ["input", "fingerprint", "notes", "verdict", "worst", "checks", "against"]
    assert part["worst"]["check"] == "wall"
    assert data["files"][1]["faults"][0]["code"] == "missing-file"


def test_solids_are_kept_only_on_request(tmp_path: Path) -> None:
    """The solids come back for a map, and otherwise are let go."""
    path = written(tmp_path / "tray.stl", tray())
    assert check_files([path], asked()).solids == {}
    (kept,) = check_files([path], asked(), keep_solids=True).solids.values()
    assert kept.volume_mm3 == pytest.approx(Solid.of(*tray()).volume_mm3, rel=1e-6)


RECIPE = """\
recipe: 1
project: two trays
process: extrusion-0.4
parts:
  thin: {mesh: thin.stl, material: pla}
  stout: {mesh: stout.stl, material: pla, place: {move: "100, 0, 0 mm"}}
steps: []
"""


def test_recipe_is_checked_part_by_part(tmp_path: Path) -> None:
    """The parts of a recipe are checked together by its own limits; what it accepts is kept as a warning."""
    written(tmp_path / "thin.stl", THIN)
    written(tmp_path / "stout.stl", tray())
    path = tmp_path / "two.yaml"
    path.write_text(RECIPE)
    file = one(path)
    assert (file.kind, file.verdict, list(file.parts)) == ("recipe", "fail", ["thin", "stout"])
    assert file.parts["stout"].verdict == "pass"
    path.write_text(RECIPE + 'checks: {wall: {accept: "a mould, never handled"}}\n')
    file = one(path)
    assert file.verdict == "warn"
    assert [(held.check, held.reason) for held in file.accepted] == [("wall", "a mould, never handled")]


def test_broken_recipe_is_refused_with_every_fault(tmp_path: Path) -> None:
    """All faults of a recipe are told, and files beside it are checked."""
    path = tmp_path / "bad.yaml"
    path.write_text(RECIPE.replace("extrusion-0.4", "extrusion-9"))
    report = check_files([path, written(tmp_path / "tray.stl", tray())], asked()).report
    assert [file.verdict for file in report.files] == ["refused", "pass"]
    assert {fault.code for fault in report.files[0].faults} == {"missing-file", "unknown-row"}


def test_old_mesh_against_several_files_is_refused(tmp_path: Path) -> None:
    """One older mesh cannot be meant for two files."""
    paths = [written(tmp_path / name, tray()) for name in ("a.stl", "b.stl")]
    with pytest.raises(BadValue, match="several"):
        check_files(paths, replace(asked(), against=paths[0]))


def test_recipe_against_a_mesh_is_refused(tmp_path: Path) -> None:
    """A recipe has no older mesh."""
    written(tmp_path / "thin.stl", THIN)
    written(tmp_path / "stout.stl", tray())
    path = tmp_path / "two.yaml"
    path.write_text(RECIPE)
    (fault,) = one(path, replace(asked(), against=tmp_path / "thin.stl")).faults
    assert fault.code == "bad-value"


def test_several_bodies_are_a_warning(tmp_path: Path) -> None:
    """Two trays in one file are no failure: plates of several parts are exported so."""
    both = joined(tray(), moved(tray(), (60.0, 0.0, 0.0)))
    file = one(written(tmp_path / "two.stl", both))
    assert file.verdict == "warn"
    assert any("2 bodies" in finding.says for finding in found(file, "solid"))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.sampled_from(sorted(BASES)),
    st.integers(0, 3),
    st.lists(st.tuples(st.integers(0, 7), st.floats(0.0, 1.0), st.integers(0, 2**32 - 1)), max_size=3),
    st.booleans(),
)
def test_damaged_files_get_a_verdict_or_a_refusal(
    tmp_path: Path, form: str, base: int, edits: list[tuple[int, float, int]], inside: bool
) -> None:
    """Whatever is done to a file, it is judged or refused with what to do, never an exception."""
    path = tmp_path / f"damaged.{form.partition('-')[0]}"
    path.write_bytes(damaged_file(form, base, edits, inside=inside))
    file = one(path)
    assert file.verdict in {"pass", "warn", "fail", "refused"}
    assert (file.verdict == "refused") == bool(file.faults)
    assert all(fault.what and fault.fix for fault in file.faults)


def test_every_shared_mesh_gets_a_verdict(shared_meshes: Path) -> None:
    """No real mesh is refused, and no exception is raised; two known thin ones fail, two known stout ones pass."""
    verdicts = {
        path.name: one(path).verdict
        for path in sorted(shared_meshes.iterdir())
        if path.name in {"pair1-case-a.stl", "pair2-dongle-bottom.stl", "pair2-dongle-top.stl", "pair3-foot-bottom.stl",
                         "pair4-lightbox-bottom.stl", "knob-far-from-origin.stl", "3mf-six-instances.3mf"}
    }  # fmt: skip
    assert verdicts == {
        "pair1-case-a.stl": "fail",
        "pair2-dongle-bottom.stl": "pass",
        "pair2-dongle-top.stl": "fail",
        "pair3-foot-bottom.stl": "pass",
        "pair4-lightbox-bottom.stl": "warn",
        "knob-far-from-origin.stl": "pass",
        "3mf-six-instances.3mf": "warn",
    }
