"""`prep survey`: plain lines, JSON and nothing else, and a page on which to pick places."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from PIL import Image

from fixtures.drawn import tray
from prep.cli import run
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh


@pytest.fixture
def mesh(tmp_path: Path) -> Path:
    """A tray as a file."""
    write_mesh(tmp_path / "tray.stl", Solid.of(*tray()))
    return tmp_path / "tray.stl"


def test_lines_are_in_the_words_of_a_recipe(mesh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Size, mass, wall and flats are told, each flat with the place that finds it."""
    assert run(["survey", str(mesh)]) == 0
    out = capsys.readouterr().out
    for piece in ("40.00 x 30.00 x 12.00 mm", " g in pla", "3.00 mm at the thinnest", "at: {facing: -z}"):
        assert piece in out, piece


def test_json_is_all_there_is(mesh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json stdout is one document."""
    assert run(["survey", str(mesh), "--json"]) == 0
    caught = capsys.readouterr()
    assert list(json.loads(caught.out)["parts"]) == ["tray"]
    assert caught.err == ""


def test_page_has_the_picture_inside(mesh: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder gets a page that needs nothing beside it, a picture and the data; twice the same bytes."""
    out = tmp_path / "out"
    assert run(["survey", str(mesh), "-o", str(out)]) == 0
    files = {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert set(files) == {"pictures/tray.png", "survey.html", "survey.json"}
    page = files["survey.html"].decode()
    assert "data:image/png;base64," in page
    assert "facing: -z" in page
    with Image.open(out / "pictures" / "tray.png") as picture:
        assert len(picture.convert("RGB").getcolors(1 << 20) or []) > 50
    assert run(["survey", str(mesh), "-o", str(out)]) == 0
    assert files == {path.relative_to(out).as_posix(): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    capsys.readouterr()


def test_refused_file_is_status_2(mesh: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be read is told in four parts, after what could be measured."""
    assert run(["survey", str(mesh), str(mesh.with_name("gone.stl"))]) == 2
    out = capsys.readouterr().out
    assert out.index("thinnest") < out.index("error[missing-file]")
