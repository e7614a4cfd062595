"""A build's folder appears whole or not at all, and takes nothing with it that no build made."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from prep.build.folder import Staged
from prep.build.record import FileRecord, ModelRecord, RecipeRecord, Record
from prep.errors import CannotWriteFile, FolderTaken, OverwritesInput


def report(project: str) -> str:
    """The report of a build that wrote one piece."""
    return Record(
        prep="0",
        verdict="pass",
        project=project,
        revision="A",
        recipe=RecipeRecord(path="a.yaml", sha256=""),
        process={},
        model=ModelRecord(mass_g=1.0, mass_band_g=(1.0, 1.0), centre_mm=(0.0, 0.0, 0.0)),
        parts={},
        extra=(FileRecord(path="extra/plug.3mf", sha256="", name="plug", triangles=4, volume_mm3=1.0),),
    ).to_json()


def build_into(out: Path, project: str, *inputs: Path) -> None:
    """A build that writes its report and one piece."""
    with Staged(out, inputs) as stage:
        (stage / "report.json").write_text(report(project))
        (stage / "extra").mkdir()
        (stage / "extra" / "plug.3mf").write_text(project)


def built(out: Path) -> str:
    """Which project a folder was built for; its report and its piece agree."""
    project = Record.from_json((out / "report.json").read_text()).project
    assert (out / "extra" / "plug.3mf").read_text() == project
    return project


def test_a_result_appears_at_the_end(tmp_path: Path) -> None:
    """Nothing is to be seen until the build is whole; then all of it, and nothing left over."""
    out = tmp_path / "new" / "build"
    with Staged(out) as stage:
        (stage / "report.json").write_text("one")
        assert not out.exists()
    assert (out / "report.json").read_text() == "one"
    assert list(out.parent.iterdir()) == [out]


def test_an_earlier_result_is_replaced_whole(tmp_path: Path) -> None:
    """Files that the earlier build wrote do not linger beside those of the new one."""
    out = tmp_path / "build"
    build_into(out, "one")
    (out / ".DS_Store").write_text("left by looking at the folder")
    with Staged(out) as stage:
        (stage / "report.json").write_text(report("two"))
    assert [path.name for path in out.iterdir()] == ["report.json"]
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("name", ["notes.txt", "body.stl", "parts/sliced.txt", "drawings/deep/er.svg", ".hidden"])
def test_a_stranger_in_an_earlier_result_is_kept(tmp_path: Path, name: str) -> None:
    """A file that the earlier report does not list stops the build by its name, and stays, wherever it lies."""
    out = tmp_path / "build"
    build_into(out, "one")
    (out / name).parent.mkdir(parents=True, exist_ok=True)
    (out / name).write_text("work")
    with pytest.raises(FolderTaken) as caught:
        build_into(out, "two")
    assert f"`{name}`" in caught.value.found
    assert (out / name).read_text() == "work"
    assert built(out) == "one"
    assert list(tmp_path.iterdir()) == [out]


def test_a_stranger_that_comes_during_the_build_is_kept(tmp_path: Path) -> None:
    """What is laid into the folder while the build runs is not lost at its end either."""
    out = tmp_path / "build"
    build_into(out, "one")
    with pytest.raises(FolderTaken, match="something else"), Staged(out):
        (out / "notes.txt").write_text("work")
    assert (out / "notes.txt").read_text() == "work"
    assert list(tmp_path.iterdir()) == [out]


def test_a_failed_build_leaves_the_earlier_result(tmp_path: Path) -> None:
    """A fault half way keeps what was there, and leaves no half result beside it."""
    out = tmp_path / "build"
    build_into(out, "one")
    with pytest.raises(RuntimeError), Staged(out) as stage:
        (stage / "half").write_text("")
        raise RuntimeError
    assert built(out) == "one"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("text", [None, "{}", "[1]", "not json"])
def test_a_folder_with_other_things_is_refused(tmp_path: Path, text: str | None) -> None:
    """A folder that no build made is left alone, and a `report.json` of something else does not make it ours."""
    (tmp_path / "thesis.txt").write_text("years of work")
    if text is not None:
        (tmp_path / "report.json").write_text(text)
    with pytest.raises(FolderTaken, match="something else"), Staged(tmp_path):
        pytest.fail("it began")
    assert (tmp_path / "thesis.txt").read_text() == "years of work"


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    """An empty folder that is already there will do."""
    out = tmp_path / "empty"
    out.mkdir()
    build_into(out, "one")
    assert built(out) == "one"


@pytest.mark.parametrize("out", [".", "thing", "thing/meshes", "thing/shop", "thing/model.yaml", "thing/meshes/.."])
def test_an_input_is_never_in_the_way(tmp_path: Path, out: str) -> None:
    """A folder that is, or holds, the recipe, a mesh or the shop's tables is refused; all stays as it was."""
    for name in ("meshes/body.stl", "shop/magnets.csv", "model.yaml"):
        (tmp_path / "thing" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "thing" / name).write_text(name)
    (tmp_path / "thing" / "report.json").write_text(report("one"))
    before = sorted(tmp_path.rglob("*"))
    thing = tmp_path / "thing"
    with pytest.raises(OverwritesInput) as caught:
        build_into(tmp_path / out, "two", thing / "model.yaml", thing / "shop", thing / "meshes" / "body.stl")
    assert caught.value.found
    assert caught.value.fix
    assert sorted(tmp_path.rglob("*")) == before


def test_an_input_behind_a_link_is_seen(tmp_path: Path) -> None:
    """A mesh that is a link into an earlier result is an input there, by either name of the folder."""
    out = tmp_path / "build"
    build_into(out, "one")
    (tmp_path / "body.3mf").symlink_to(out / "extra" / "plug.3mf")
    (tmp_path / "other").symlink_to(out)
    for name in ("build", "other"):
        with pytest.raises(OverwritesInput):
            build_into(tmp_path / name, "two", tmp_path / "body.3mf")
    assert built(out) == "one"


def test_the_folder_one_stands_in_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """`-o .` and a folder above are refused even where they hold nothing."""
    (tmp_path / "a" / "b").mkdir(parents=True)
    monkeypatch.chdir(tmp_path / "a" / "b")
    for out in (Path(), Path(".."), tmp_path):
        with pytest.raises(OverwritesInput, match="begins from"):
            build_into(out, "one")
    assert sorted(path.name for path in tmp_path.rglob("*")) == ["a", "b"]


def test_a_folder_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    """A file in the way of the folder, or links in a ring, are faults with a way out, and leave nothing behind."""
    (tmp_path / "afile").write_text("kept")
    (tmp_path / "ring").symlink_to(tmp_path / "ring")
    for name in ("afile/sub", "afile/sub/sub", "ring", "long" * 99):
        with pytest.raises(CannotWriteFile) as caught:
            build_into(tmp_path / name, "one")
        assert caught.value.found
        assert caught.value.fix
    with pytest.raises(FolderTaken):
        build_into(tmp_path / "afile", "one")
    assert (tmp_path / "afile").read_text() == "kept"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["afile", "ring"]


def test_a_result_that_cannot_be_put_in_place_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the last move is refused the earlier result stands again, and no hidden folder is left."""
    out, move = tmp_path / "build", os.replace
    build_into(out, "one")

    def refuse(old: Path, new: Path) -> None:
        if Path(new) == out and not Path(old).name.endswith(".old"):
            raise PermissionError(13, "Permission denied")
        move(old, new)

    monkeypatch.setattr(os, "replace", refuse)
    with pytest.raises(CannotWriteFile):
        build_into(out, "two")
    assert built(out) == "one"
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("there", [True, False])
def test_a_link_keeps_pointing(tmp_path: Path, there: bool) -> None:
    """A result asked for by a link goes where the link points, whether that is there yet or not."""
    (tmp_path / "target").mkdir() if there else None
    link = tmp_path / "link"
    link.symlink_to("target")
    for project in ("one", "two"):
        build_into(link, project)
        assert link.is_symlink()
        assert built(tmp_path / "target") == project
    assert sorted(path.name for path in tmp_path.iterdir()) == ["link", "target"]


def test_outcomes_kept_in_the_folder_stay(tmp_path: Path) -> None:
    """Where the result is the folder `build` itself, the store in it outlives every build."""
    out = tmp_path / "build"
    for project in ("one", "two"):
        with Staged(out) as stage:
            (stage / "report.json").write_text(report(project))
            (out / ".prep-store").mkdir(parents=True, exist_ok=True)
            (out / ".prep-store" / project).write_text("")
    assert sorted(path.name for path in (out / ".prep-store").iterdir()) == ["one", "two"]
