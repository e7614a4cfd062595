"""A mesh beside an older one: what changed, and which thin places are new."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fixtures.benches import shipped_tables
from fixtures.drawn import box, tray, turned
from prep.build.check_files import Asked, check_files
from prep.build.checked import AgainstRecord
from prep.geometry.solid import Solid, subtract
from prep.geometry.write_mesh import write_mesh


def told(new: Path, old: Path) -> AgainstRecord:
    """What a check against an older mesh says."""
    tables = shipped_tables()
    asked = Asked(process=tables.processes.get("extrusion-0.4"), tables=tables, against=old)
    ((part,),) = (tuple(file.parts.values()) for file in check_files([new], asked).report.files)
    assert part.against is not None
    return part.against


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A tray with walls of 3 mm, one of them already thinned to 0.5 mm."""
    path = tmp_path / "old" / "tray.stl"
    write_mesh(path, body())
    return path


def body() -> Solid:
    """The tray: a dent from outside leaves 0.5 mm of the wall at +y."""
    return subtract(Solid.of(*tray()), [Solid.of(*box((8.0, 5.0, 6.0), (0.0, 15.0, 8.0)))])


def changed() -> Solid:
    """The same with a second dent, which leaves 0.4 mm of the wall at -x."""
    return subtract(body(), [Solid.of(*box((5.2, 8.0, 6.0), (-20.0, 0.0, 8.0)))])


def test_other_format_and_name_is_the_same(old: Path, tmp_path: Path) -> None:
    """The same tray as 3MF under another name is the same shape; nothing is new."""
    write_mesh(tmp_path / "final-v7.3mf", body())
    found = told(tmp_path / "final-v7.3mf", old)
    assert (found.likeness, found.new_thin, found.share) == ("same", (), 0.0)
    assert found.says == "same shape as tray.stl, in the same place"


def test_moved_copy_says_how_far(old: Path, tmp_path: Path) -> None:
    """Turned by 30 degrees about z and exported, it is the same shape, only moved."""
    solid = body()
    write_mesh(tmp_path / "turned.ply", Solid.of(*turned((solid.vertices, solid.triangles), (0, 0, 1), 30.0)))
    found = told(tmp_path / "turned.ply", old)
    assert found.likeness == "moved"
    assert found.turn_deg == pytest.approx(30.0, abs=1e-4)
    assert "turned by 30.00 deg" in found.says
    assert found.new_thin == ()


@pytest.mark.parametrize("move", [False, True])
def test_only_the_new_thin_place_is_new(old: Path, tmp_path: Path, move: bool) -> None:
    """Of two thin walls the one that the old tray has not is named, in the new mesh's frame, moved or not."""
    matrix = np.eye(4)
    if move:
        matrix[:3, 3] = (200.0, -40.0, 3.0)
    write_mesh(tmp_path / "new.stl", changed().moved(matrix))
    found = told(tmp_path / "new.stl", old)
    assert found.likeness == "differs"
    assert found.largest_mm == pytest.approx(2.6, abs=1e-3)
    assert found.volume_change_mm3 == pytest.approx(-2.6 * 8.0 * 6.0, rel=1e-3)
    (new,) = found.new_thin
    assert (new.check, new.verdict, new.made_by) == ("wall", "fail", "the change since tray.stl")
    assert new.value == pytest.approx(0.4, rel=1e-3)
    assert new.at_mm is not None
    assert new.at_mm[0] - matrix[0, 3] < -16.9
    assert "undo what changed here since tray.stl" in new.fix


def test_folder_of_older_meshes_is_matched_by_name(old: Path, tmp_path: Path) -> None:
    """A folder stands for the file of the same name in it."""
    write_mesh(tmp_path / "tray.stl", body())
    assert told(tmp_path / "tray.stl", old.parent).likeness == "same"


def test_older_mesh_that_cannot_be_read_is_a_refusal(tmp_path: Path) -> None:
    """A comparison that cannot be made is not passed over in silence."""
    write_mesh(tmp_path / "tray.stl", body())
    tables = shipped_tables()
    asked = Asked(process=tables.processes.get("extrusion-0.4"), tables=tables, against=tmp_path / "gone.stl")
    (file,) = check_files([tmp_path / "tray.stl"], replace(asked)).report.files
    assert (file.verdict, file.faults[0].code) == ("refused", "missing-file")
