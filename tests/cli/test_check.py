"""`prep check`: one line a file, the rest on request, JSON and nothing else, exit statuses."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import trimesh

from fixtures.drawn import box, tray
from prep.cli import run
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a stout tray, a thin one and a text, which is the one at hand."""
    write_mesh(tmp_path / "stout.stl", Solid.of(*tray()))
    write_mesh(tmp_path / "thin.stl", Solid.of(*tray((40.0, 30.0, 12.0), 0.5, 1.0)))
    (tmp_path / "notes.txt").write_text("buy filament")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_one_line_a_file(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A sound part is one line with its size and thinnest wall; status 0."""
    assert run(["check", str(folder / "stout.stl")]) == 0
    (line,) = capsys.readouterr().out.splitlines()
    assert line.startswith("pass")
    assert "thinnest wall 3.00 mm" in line


def test_failure_names_place_number_limit_and_action(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A thin part fails with status 1, and its line says where, how thin, the limit and what to do."""
    assert run(["check", "thin.stl"]) == 1
    line = capsys.readouterr().out.splitlines()[0]
    for piece in ("fail", "thin.stl", "0.50 mm", "at (", "limit 0.8 mm", "thicken it by 0.30 mm"):
        assert piece in line, piece
    assert folder.is_dir()


def test_several_files_go_on_after_a_refusal(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be read gets its error in four parts, the others are checked, and the status is 2."""
    assert run(["check", "notes.txt", "stout.stl", "thin.stl"]) == 2
    out = capsys.readouterr().out
    assert out.index("error[unknown-format]") < out.index("pass    stout.stl") < out.index("fail    thin.stl")
    for label in ("where:", "found:", "fix:"):
        assert label in out
    assert out.rstrip().endswith("3 files: 1 fail, 1 refused")
    assert folder.is_dir()


def test_all_lists_everything(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On request every check says something."""
    assert run(["check", "stout.stl", "--all"]) == 0
    out = capsys.readouterr().out
    for word in ("wall", "web", "gap", "pin", "feature", "escape", "overhang", "sealed_void", "solid", "bed", "unit"):
        assert f"pass {word}:" in out, word
    assert folder.is_dir()


def test_json_is_all_there_is(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json stdout is one document and stderr is silent."""
    assert run(["check", "thin.stl", "notes.txt", "--json"]) == 2
    caught = capsys.readouterr()
    data = json.loads(caught.out)
    assert [file["verdict"] for file in data["files"]] == ["fail", "refused"]
    assert caught.err == ""
    assert folder.is_dir()


def test_doubtful_unit_is_said_first(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A block of 5 mm is likely in inches; that is said before its thin walls."""
    write_mesh(folder / "block.stl", Solid.of(*box((5.0, 2.5, 0.4))))
    assert run(["check", "block.stl"]) == 1
    line = capsys.readouterr().out.splitlines()[0]
    assert line.startswith("fail")
    assert "127.00 mm if inch" in line
    assert "--unit inch" in line
    assert run(["check", "block.stl", "--unit", "inch", "--longest", "127 mm"]) == 0


def test_process_limits_and_wall(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Another process or wall changes the verdict; an unknown process is a fault with status 2."""
    assert run(["check", "thin.stl", "--wall", "0.4 mm"]) == 0
    assert run(["check", "stout.stl", "--wall", "3.2 mm"]) == 1
    assert run(["check", "stout.stl", "--process", "vat-0.05"]) == 0
    assert run(["check", "stout.stl", "--process", "vat"]) == 2
    assert "error[unknown-row]" in capsys.readouterr().err
    assert folder.is_dir()


def test_map_is_a_coloured_mesh_of_the_part(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The map opens in another library with the part's volume and more than one colour; it goes over no input."""
    assert run(["check", "thin.stl", "--map", "walls.ply"]) == 1
    found = trimesh.load(folder / "walls.ply", process=False)  # an independent reader
    assert found.volume == pytest.approx(Solid.of(*tray((40.0, 30.0, 12.0), 0.5, 1.0)).volume_mm3, rel=1e-4)
    assert len({tuple(colour) for colour in found.visual.vertex_colors.tolist()}) > 2
    before = (folder / "walls.ply").read_bytes()
    assert run(["check", "walls.ply", "--map", "walls.ply"]) == 2
    assert (folder / "walls.ply").read_bytes() == before
    assert run(["check", "thin.stl", "--map", "walls.png"]) == 2
    assert run(["check", "thin.stl", "stout.stl", "--map", "m.ply"]) == 1
    assert {path.name for path in folder.glob("m-*.ply")} == {"m-thin.ply", "m-stout.ply"}
    capsys.readouterr()


def test_against_is_said_below_the_line(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A comparison is a line of its own, and new thin places are listed."""
    assert run(["check", "thin.stl", "--against", "stout.stl"]) == 1
    out = capsys.readouterr().out
    assert "differs from stout.stl by up to" in out
    assert "new: wall:" in out
    assert run(["check", "stout.stl", "--against", "stout.stl"]) == 0
    assert "same shape as stout.stl" in capsys.readouterr().out
    assert folder.is_dir()


def test_fine_finds_the_same_wall(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Measured finer, the thin wall is as thin, and a smaller spot would have been seen."""
    assert run(["check", "stout.stl", "--fine", "--all"]) == 0
    fine = capsys.readouterr().out
    assert run(["check", "stout.stl", "--all"]) == 0
    usual = capsys.readouterr().out
    seen = [float(text.partition("wider than ")[2].split()[0]) for text in (fine, usual)]
    assert seen[0] < seen[1]
    assert folder.is_dir()
