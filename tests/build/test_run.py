"""A recipe run to its end, and what stops it."""

from __future__ import annotations

import hashlib
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fixtures.drawn import box, flush_pair, spherical_shell
from prep.build.parts import read_bench
from prep.build.run import run
from prep.build.store import Store
from prep.build.why import why
from prep.contract import weigh
from prep.errors import ContractBroken, DoesNotFit, Faults, PrepError
from prep.geometry.solid import Solid, subtract
from prep.recipe import read_recipe
from prep.steps.seat_magnets import SeatMagnets

HEAD = "recipe: 1\nproject: pair\nprocess: jetting-0.027\n"
PARTS = "parts:\n  low: {mesh: low.stl, material: jetted-rigid}\n  high: {mesh: high.stl, material: jetted-rigid}\n"
SEATS = "steps:\n  - {step: seat_magnets, between: [low, high], magnet: disc 6x2 N42, count: 2, hold: 5 N}\n"


def save(path: Path, drawn: tuple[np.ndarray, np.ndarray]) -> None:
    """A drawn solid as a file."""
    trimesh.Trimesh(*drawn, process=False).export(path)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Two blocks that meet at z = 0, and a recipe that puts two magnets between them."""
    low, high = flush_pair()
    save(tmp_path / "low.stl", low)
    save(tmp_path / "high.stl", high)
    (tmp_path / "pair.yaml").write_text(HEAD + PARTS + SEATS)
    return tmp_path


def recipe_of(project: Path, text: str = HEAD + PARTS + SEATS):
    """The project's recipe with this text."""
    (project / "pair.yaml").write_text(text, "utf-8")
    return read_recipe(project / "pair.yaml")


def out_of(project: Path, name: str = "out") -> Path:
    """An empty folder to build into."""
    (project / name).mkdir()
    return project / name


def test_a_recipe_runs_to_finished_parts(project: Path) -> None:
    """Parts are cut, weighed, checked and written, the record says so, and inputs keep their bytes."""
    hashes = {path: hashlib.sha256(path.read_bytes()).digest() for path in project.glob("*.stl")}
    built = run(recipe_of(project), out_of(project))
    record = built.record
    assert record.verdict == "pass"
    assert [item.id for item in record.items] == ["M1", "M2", "M3", "M4"]
    for name, height in (("low", 8.0), ("high", 12.0)):
        mesh = trimesh.load(project / "out" / record.parts[name].output.path, force="mesh")
        assert mesh.is_watertight
        assert mesh.volume == pytest.approx(record.parts[name].output.volume_mm3, rel=1e-6)
        assert mesh.volume < 40.0 * 30.0 * height
    magnets = 4 * np.pi * 9.0 * 2.0 * 7.5e-3
    plastic = sum(part.output.volume_mm3 for part in record.parts.values()) * 1.175e-3
    assert record.model.mass_g == pytest.approx(magnets + plastic, rel=5e-3)
    assert {path: hashlib.sha256(path.read_bytes()).digest() for path in project.glob("*.stl")} == hashes


def test_both_formats_are_written(project: Path) -> None:
    """STL on request, beside 3MF, both read back and both in the record by their hash; the 3MF is the one named."""
    built = run(recipe_of(project, HEAD + PARTS + SEATS + "outputs: {format: both}\n"), out_of(project))
    assert sorted(path.name for path in (project / "out" / "parts").iterdir()) == [
        "high.3mf", "high.stl", "low.3mf", "low.stl"
    ]  # fmt: skip
    for name, part in built.record.parts.items():
        listed = {file.path: file.sha256 for file in part.output.files}
        assert listed == {
            path: hashlib.sha256((project / "out" / path).read_bytes()).hexdigest()
            for path in (f"parts/{name}.stl", f"parts/{name}.3mf")
        }
        assert (part.output.path, part.output.sha256) == (f"parts/{name}.3mf", listed[f"parts/{name}.3mf"])


def test_a_step_that_cannot_names_its_line(project: Path) -> None:
    """A fault from a step carries the recipe's file and line, and nothing is written."""
    text = HEAD + PARTS + SEATS.replace("count: 2", "count: 30")
    with pytest.raises(DoesNotFit) as caught:
        run(recipe_of(project, text), out_of(project))
    assert "pair.yaml:8" in caught.value.where
    assert list((project / "out").iterdir()) == []


def test_every_bad_mesh_is_named(project: Path) -> None:
    """Two meshes that cannot be read are both reported, each with its line."""
    (project / "low.stl").write_bytes(b"")
    (project / "high.stl").write_bytes(b"nothing of the sort")
    with pytest.raises(Faults) as caught:
        read_bench(recipe_of(project))
    assert [fault.where.split(",")[0].rpartition(":")[2] for fault in caught.value.faults] == ["5", "6"]


def test_a_wrong_unit_is_caught(project: Path) -> None:
    """A part drawn in inches and read as mm is refused with the likely unit."""
    text = (HEAD + PARTS).replace("mesh: low.stl,", "mesh: low.stl, longest: 1016 mm ± 1 mm,")
    with pytest.raises(PrepError) as caught:
        read_bench(recipe_of(project, text))
    assert "inch" in str(caught.value)


def test_a_part_is_put_in_its_place(project: Path) -> None:
    """`place` turns and moves a part from its file's frame; the file's own size is what is recorded as input."""
    text = (HEAD + PARTS).replace("mesh: low.stl,", 'mesh: low.stl, place: {turn: "0, 0, 90 deg", move: "0, 0, 5 mm"},')
    laid = read_bench(recipe_of(project, text))
    assert laid.bench.parts["low"].solid.bounds_mm == pytest.approx(np.array([[-15, -20, -3], [15, 20, 5]]), abs=1e-9)
    assert laid.inputs["low"].extents_mm == pytest.approx((40.0, 30.0, 8.0))


def test_carried_items_are_weighed(project: Path) -> None:
    """A bought item adds its mass at its place."""
    text = HEAD + PARTS + 'carries:\n  - {item: brass nut, part: low, at: "0, 0, 50 mm", mass: 10 g}\n'
    without, with_nut = (weigh(read_bench(recipe_of(project, one)).bench) for one in (HEAD + PARTS, text))
    assert with_nut.mass_g == pytest.approx(without.mass_g + 10.0)
    lever = (without.mass_g * without.centre_mm[2] + 10.0 * 50.0) / with_nut.mass_g
    assert with_nut.centre_mm[2] == pytest.approx(lever)


def test_a_step_that_lies_is_stopped(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A step whose cut leaves a sealed void it did not predict does not get through."""
    honest = SeatMagnets.apply

    def lies(self, bench):
        outcome = honest(self, bench)
        sealed = subtract(outcome.solids["high"], [Solid.of(*box((2.0, 2.0, 2.0), (0.0, 0.0, 6.0)))])
        return type(outcome)(**{**vars(outcome), "solids": {**outcome.solids, "high": sealed}})

    monkeypatch.setattr(SeatMagnets, "apply", lies)
    with pytest.raises(ContractBroken, match="high") as caught:
        run(recipe_of(project), out_of(project))
    assert "sealed voids +1" in caught.value.found
    assert "seat magnets" in caught.value.where


def test_an_accepted_finding_becomes_a_warning(project: Path) -> None:
    """`accept` lowers a failure, and the report keeps the reason; without it the build fails."""
    hollow = spherical_shell(12.0, 8.0)
    save(project / "low.stl", hollow)
    text = HEAD + "parts:\n  low: {mesh: low.stl, material: jetted-rigid}\n"
    assert run(recipe_of(project, text), out_of(project)).record.verdict == "fail"
    accepted = text + "checks: {sealed_void: {accept: the void is wanted}}\n"
    record = run(recipe_of(project, accepted), out_of(project, "again")).record
    assert record.verdict == "warn"
    assert [(one.check, one.reason) for one in record.accepted] == [("sealed_void", "the void is wanted")]


def test_a_second_build_reuses_what_did_not_change(project: Path) -> None:
    """The step is kept, the parts have the same bytes, and `why` says so before and after a change."""
    recipe, store = recipe_of(project), Store(project / "store")
    assert [(one.again, one.because) for one in why(recipe, store)] == [(True, ("never built",))]
    first = run(recipe, out_of(project), store).record
    second = run(recipe, out_of(project, "again"), store).record
    assert [step.reused for step in (*first.steps, *second.steps)] == [False, True]
    for name in ("low.3mf", "high.3mf"):
        assert (project / "out" / "parts" / name).read_bytes() == (project / "again" / "parts" / name).read_bytes()
    assert first.to_json(timing=False) == second.to_json(timing=False)
    assert [one.again for one in why(recipe, store)] == [False]
    changed = recipe_of(project, HEAD + PARTS + SEATS.replace("hold: 5 N", "hold: 6 N"))
    assert [(one.again, one.because) for one in why(changed, store)] == [(True, ("settings",))]
    save(project / "low.stl", box((40.0, 30.0, 9.0), (0.0, 0.0, -4.5)))
    assert [one.because for one in why(recipe_of(project), store)] == [("part low",)]


def test_overrides_of_the_shop_are_reported(project: Path) -> None:
    """A row the shop changed and a figure the recipe sets are both named in the record."""
    (project / "shop").mkdir()
    (project / "shop" / "magnets.csv").write_text("name,size_tolerance_mm\ndisc 6x2 N42,0.05\n")
    text = HEAD.replace("process: jetting-0.027", "process: {based_on: jetting-0.027, glue_fit: 0.1 mm}")
    record = run(recipe_of(project, text + PARTS + SEATS), out_of(project)).record
    assert {(one.table, one.row) for one in record.overrides} == {
        ("magnets", "disc 6x2 N42"), ("processes", "jetting-0.027")
    }  # fmt: skip
    assert record.steps[0].facts["seat_diameter_mm"] == pytest.approx(6.2)
    assert record.steps[0].facts["seat_depth_mm"] == pytest.approx(2.15)


def test_a_loosened_limit_is_told(project: Path) -> None:
    """A limit under the process's, in `checks` or in the process itself, warns and stands in the report."""
    checks = "checks: {wall: {limit: 0.3 mm, accept: a trial print}}\n"
    record = run(recipe_of(project, HEAD + PARTS + checks), out_of(project)).record
    assert record.verdict == "warn"
    assert [(one.check, one.reason) for one in record.accepted] == [("wall", "a trial print")]
    (told,) = [finding for finding in record.checks if finding.made_by == "recipe"]
    assert (told.value, told.limit) == (pytest.approx(0.3), pytest.approx(0.8))
    loose = HEAD.replace("process: jetting-0.027", "process: {based_on: jetting-0.027, web_limit: 0.2 mm}")
    record = run(recipe_of(project, loose + PARTS), out_of(project, "again")).record
    (told,) = [finding for finding in record.checks if finding.made_by == "recipe"]
    assert (told.check, told.verdict, told.value) == ("web", "warn", pytest.approx(0.2))
