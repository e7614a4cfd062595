"""What is measured on meshes before there is a recipe."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from fixtures.benches import shipped_tables
from fixtures.drawn import box, flush_pair, moved, spherical_shell, tray
from prep.build.survey import Setting, Surveyed, flats_in_words, survey
from prep.errors import BadValue
from prep.geometry.solid import Solid, subtract
from prep.geometry.write_mesh import write_mesh
from prep.places.find import find_places
from prep.places.wanted import PlaceWanted
from prep.recipe.source import read_source


def measured(*paths: Path, process: str = "vat-0.05") -> Surveyed:
    """A survey with a process that prints full."""
    tables = shipped_tables()
    return survey(paths, Setting(tables.processes.get(process), tables.materials.get("pla"), tables))


def written(path: Path, solid: Solid) -> Path:
    """A solid as a file."""
    write_mesh(path, solid)
    return path


def words(place: str, folder: Path) -> PlaceWanted:
    """A place as a recipe reads it, by the recipe's own YAML."""
    file = folder / "place.yaml"
    file.write_text(f"at: {place}\n")
    return PlaceWanted.model_validate(read_source(file).data["at"])


def test_box_weighs_its_volume_and_has_six_flats(tmp_path: Path) -> None:
    """A box of 30 x 20 x 10 in PLA weighs 6 cm³ of it and has six flats of the areas of its faces."""
    report = measured(written(tmp_path / "block.stl", Solid.of(*box((30.0, 20.0, 10.0))))).report
    part = report.parts["block"]
    pla = shipped_tables().materials.get("pla")
    assert part.mass_g == pytest.approx(6.0 * pla.density_g_cm3, rel=1e-6)
    assert sorted(flat.area_mm2 for flat in part.flats) == pytest.approx([200, 200, 300, 300, 600, 600])
    assert {flat.place for flat in part.flats} == {f"{{facing: {s}{a}}}" for s in "+-" for a in "xyz"}
    assert part.thinnest is not None
    assert part.thinnest.thickness_mm == pytest.approx(10.0)


def test_every_place_leads_back_to_its_flat(tmp_path: Path) -> None:
    """Written into a recipe, the words for each flat lead to that flat, holes in its middle or not."""
    holed = subtract(Solid.of(*tray()), [Solid.of(*box((4.0, 4.0, 40.0)))])
    flats = flats_in_words(holed)
    assert any("point" in flat.place for flat in flats)
    assert any("near" in flat.place for flat in flats)
    for flat in flats:
        (place,) = find_places(holed, [words(flat.place, tmp_path)])
        assert np.dot(place.inward, flat.normal) == pytest.approx(-1.0, abs=1e-6)
        assert abs(np.dot(np.array(place.at_mm) - np.array(flat.at_mm), flat.normal)) < 1e-3


def test_seam_of_a_pair_is_its_area_and_direction(tmp_path: Path) -> None:
    """Two blocks that meet on a face share a seam of its area, at its middle, facing the second."""
    lower, upper = box((30.0, 20.0, 10.0)), moved(box((20.0, 20.0, 5.0)), (0.0, 0.0, 7.5))
    paths = [written(tmp_path / f"{name}.3mf", Solid.of(*d)) for name, d in (("low", lower), ("high", upper))]
    (seam,) = measured(*paths).report.seams
    assert seam.touching
    assert seam.area_mm2 == pytest.approx(400.0, rel=0.015)
    assert seam.at_mm == pytest.approx((0.0, 0.0, 5.0), abs=0.2)
    assert seam.normal == pytest.approx((0.0, 0.0, 1.0), abs=1e-6)
    assert seam.gap_mm == pytest.approx(0.0, abs=1e-5)
    assert seam.overlap_mm3 == 0.0
    assert "between: [low, high]" in seam.says


def test_parts_apart_say_how_far(tmp_path: Path) -> None:
    """Parts that do not touch are told apart with their distance; those that overlap with what both claim."""
    one = written(tmp_path / "one.3mf", Solid.of(*box()))
    far = written(tmp_path / "far.3mf", Solid.of(*moved(box(), (25.0, 0.0, 0.0))))
    over = written(tmp_path / "over.3mf", Solid.of(*moved(box(), (9.0, 1.0, 1.0))))
    seams = {seam.parts: seam for seam in measured(one, far, over).report.seams}
    assert not seams["one", "far"].touching
    assert "nearest 15.00 mm apart" in seams["one", "far"].says
    assert seams["one", "over"].overlap_mm3 == pytest.approx(81.0, rel=1e-6)


def test_pair_of_the_drawings_mates(tmp_path: Path) -> None:
    """The drawn flush pair is found to mate."""
    paths = [written(tmp_path / f"{k}.3mf", Solid.of(*drawing)) for k, drawing in enumerate(flush_pair()[:2])]
    (seam,) = measured(*paths).report.seams
    assert seam.touching
    assert seam.area_mm2 > 1.0


def test_sealed_void_is_listed(tmp_path: Path) -> None:
    """A hollow ball has one sealed void, of the inner ball's volume."""
    (void,) = (
        measured(written(tmp_path / "ball.3mf", Solid.of(*spherical_shell(10.0, 8.0))))
        .report.parts["ball"]
        .sealed_voids
    )
    assert void.volume_mm3 == pytest.approx(2144.7, rel=0.02)
    assert np.linalg.norm(void.at_mm) < 1e-6


def test_refused_mesh_is_told_and_the_others_are_measured(tmp_path: Path) -> None:
    """One file that is no mesh does not hide the other."""
    (tmp_path / "no.stl").write_text("nothing")
    report = measured(tmp_path / "no.stl", written(tmp_path / "yes.stl", Solid.of(*box()))).report
    assert list(report.parts) == ["yes"]
    assert len(report.faults) == 1
    assert "no.stl" in report.faults[0].where
    assert json.loads(report.to_json())["survey"] == 1


def test_recipe_is_surveyed_alone_and_in_place(tmp_path: Path) -> None:
    """A recipe brings its parts placed in the assembly; beside other files it is refused."""
    written(tmp_path / "one.stl", Solid.of(*box()))
    (tmp_path / "r.yaml").write_text(
        "recipe: 1\nproject: p\nprocess: vat-0.05\nparts:\n  a: {mesh: one.stl, material: pla}\n"
        '  b: {mesh: one.stl, material: pla, place: {move: "10, 0, 0 mm"}}\nsteps: []\n'
    )
    report = measured(tmp_path / "r.yaml").report
    (seam,) = report.seams
    assert (seam.touching, seam.parts) == (True, ("a", "b"))
    assert seam.area_mm2 == pytest.approx(100.0, rel=0.02)
    with pytest.raises(BadValue, match="alone"):
        measured(tmp_path / "r.yaml", tmp_path / "one.stl")
