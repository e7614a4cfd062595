"""Revisions: what a name says, what a shape says, and what the gate says of both."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fixtures.drawn import Drawn, moved, subdivided, tray, turned
from fixtures.mutated import stl_binary
from prep.watch.entry import Entry
from prep.watch.revisions import by_name, earlier, revision_of, superseded
from tests.watch.entries import entry
from tests.watch.here import BOX, Turns, in_turn, put

TRAY = tray((60.0, 40.0, 20.0), 3.0, 3.0)


@pytest.mark.parametrize(
    ("file", "stem", "kind", "label"),
    [
        ("body_revC.stl", "body", "letter", "rev C"),
        ("body-C.stl", "body", "letter", "rev C"),
        ("Body Rev c.STL", "body", "letter", "rev C"),
        ("body v3.stl", "body", "number", "version 3"),
        ("bodyv3.stl", "body", "number", "version 3"),
        ("body_v3.1.stl", "body", "number", "version 3.1"),
        ("body_rev_12.stl", "body", "number", "version 12"),
        ("body (2).stl", "body", "copy", "(2)"),
        ("body 2026-05-04.stl", "body", "date", "2026-05-04"),
        ("body_20260504.3mf", "body", "date", "2026-05-04"),
        ("body.stl", "body", "", ""),
        ("cover.stl", "cover", "", ""),
        ("servo.stl", "servo", "", ""),
        ("revC.stl", "revc", "", ""),
        ("v3.stl", "v3", "", ""),
        ("part_1.stl", "part1", "", ""),
        ("arm-left.stl", "arm-left", "", ""),
    ],
)
def test_what_a_name_says(file: str, stem: str, kind: str, label: str) -> None:
    """The mark of a revision is told from the rest of the name; words that only end alike have none."""
    found = revision_of(file)
    assert (found.stem, found.kind, found.label) == (stem, kind, label)


@given(st.text(max_size=40))
def test_any_name_has_a_revision(name: str) -> None:
    """No name is too odd, and a name is never older than itself."""
    assert revision_of(f"{name}.stl").stem == revision_of(f"{name}.stl").stem
    assert by_name(f"{name}.stl", [f"{name}.stl"]) == ()


def test_order_of_revisions() -> None:
    """Letters, numbers and dates are ordered as people order them: v10 after v9, version 2.10 after 2.9."""
    for first, then in (("a_revB", "a_revC"), ("a v9", "a v10"), ("a v2.9", "a v2.10"), ("a 2025-12-31", "a 20260101")):
        assert revision_of(f"{first}.stl").order < revision_of(f"{then}.stl").order
    relations = by_name("a v9.stl", ["a v10.stl", "a v8.stl", "b v11.stl", "a (3).stl"])
    assert [(one.kind, one.other) for one in relations] == [("older than", "a v10.stl")]
    assert "older than version 10, which is here already" in relations[0].says


def test_names_alike() -> None:
    """Names that differ only by case, spaces or how an accent is stored are noticed, and no others."""
    alike = by_name("Body revC.stl", ["body_revC.stl", "bodyrevc.STL", "body-revC.stl", "body_revB.stl"])
    assert [one.other for one in alike if one.kind == "like name"] == ["body_revC.stl", "bodyrevc.STL"]
    assert by_name("caf\u00e9.stl", ["cafe\u0301.stl"])[0].kind == "like name"


def test_nearest_earlier_revision() -> None:
    """The one below it of the same line; else an unmarked one; never a later one, nor one that could not be read."""

    def there(*files: str) -> list[Entry]:
        return [entry(number, file=file, fingerprint="s1-1") for number, file in enumerate(files)]

    def found(file: str, *files: str) -> str | None:
        one = earlier(file, there(*files))
        return one.file if one is not None else None

    assert found("a_revD.stl", "a_revA.stl", "a_revC.stl", "a_revE.stl", "b_revC.stl") == "a_revC.stl"
    assert found("a_revA.stl", "a_revB.stl") is None
    assert found("a_revB.stl", "a.stl", "a_revC.stl") == "a.stl"
    assert found("a (2).stl", "a.stl") == "a.stl"
    assert earlier("a_revD.stl", [entry(1, file="a_revC.stl", fingerprint=None)]) is None


def relations_of(folder: Path, drops: dict[str, Drawn]) -> dict[str, list[tuple[str, str, str]]]:
    """What is said of each drop, dropped in turn."""
    turns = Turns(folder)
    for name, drawing in drops.items():
        put(folder / name, stl_binary(drawing))
        turns.go(4.0)
    return {line.file: [(one.kind, one.other, one.says) for one in line.relations] for line in turns.lines}


@pytest.mark.usefixtures("here")
def test_moved_only(tmp_path: Path) -> None:
    """The same shape turned and moved, under a new revision, is said to be moved only."""
    drops = {"body_revC.stl": TRAY, "body_revD.stl": moved(turned(TRAY, (0.0, 0.0, 1.0), 30.0), (50.0, 0.0, 7.0))}
    said = relations_of(tmp_path, drops)
    assert said["body_revC.stl"] == []
    assert said["body_revD.stl"] == [("same shape", "body_revC.stl", "same shape as body_revC.stl (moved only)")]


@pytest.mark.usefixtures("here")
def test_differs_by_numbers_and_new_thin_wall(tmp_path: Path) -> None:
    """A revision with thinner walls says by how much it differs, over how much, and which wall is thin now."""
    thin = tray((60.0, 40.0, 20.0), 0.6, 3.0)
    said = relations_of(tmp_path, {"body_revC.stl": subdivided(TRAY, 1), "body_revD.stl": thin})
    ((kind, other, says),) = said["body_revD.stl"]
    assert (kind, other) == ("differs", "body_revC.stl")
    assert "differs from body_revC.stl by up to 2.4" in says
    assert "% of the surface" in says
    assert "0.60 mm" in says


@pytest.mark.usefixtures("here")
def test_late_older_revision(tmp_path: Path) -> None:
    """Rev C that arrives after rev D is said to be older than what is here."""
    said = relations_of(tmp_path, {"lid-D.stl": TRAY, "lid-C.stl": tray((61.0, 40.0, 20.0), 3.0, 3.0)})
    assert said["lid-C.stl"] == [("older than", "lid-D.stl", "older than rev D, which is here already (lid-D.stl)")]


@pytest.mark.usefixtures("here")
def test_exact_copy_and_like_name(tmp_path: Path) -> None:
    """A copy under a name that differs by a space and a capital is both: exact copy, and a like name."""
    turns = Turns(tmp_path)
    for name in ("my part.stl", "MyPart.stl"):
        put(tmp_path / name, BOX)
        turns.go(4.0)
    kinds = {relation.kind: relation.says for relation in turns.lines[-1].relations}
    assert kinds["exact copy"] == "exact copy of my part.stl"
    assert set(kinds) == {"exact copy", "like name"}


@pytest.mark.usefixtures("here")
def test_revisions_dropped_together_are_compared(tmp_path: Path) -> None:
    """Two revisions that came at the same moment are judged one after the other, so that the later is compared."""
    thinner = stl_binary(tray((60.0, 40.0, 20.0), 2.0, 3.0))
    put(tmp_path / "tray v10.stl", thinner)
    put(tmp_path / "tray v9.stl", stl_binary(TRAY))
    turns = Turns(tmp_path, workers=4).go(5.0)
    later = turns.entry("tray v10.stl")
    assert later is not None
    assert [(one.kind, one.other) for one in later.relations] == [("differs", "tray v9.stl")]


@pytest.mark.usefixtures("here")
def test_revisions_dropped_before_two_gates_are_compared(tmp_path: Path) -> None:
    """Whichever gate has the earlier revision, the other waits with the later one until it can be compared."""
    put(tmp_path / "tray v10.stl", stl_binary(tray((60.0, 40.0, 20.0), 2.0, 3.0)))
    put(tmp_path / "tray v9.stl", stl_binary(TRAY))
    one, other = Turns(tmp_path), Turns(tmp_path)
    in_turn(one, other)
    lines = {line.file: line for line in one.lines}
    assert [(its.kind, its.other) for its in lines["tray v10.stl"].relations] == [("differs", "tray v9.stl")]
    assert len(one.lines) == 2


def test_superseded() -> None:
    """Every revision but the latest of its family and kind of mark has a later one; copies and unmarked names none."""
    files = [
        "lid v9.stl",
        "lid v10.stl",
        "lid v2.3mf",
        "lid-A.stl",
        "lid.stl",
        "lid (2).stl",
        "lid (3).stl",
        "arm v1.stl",
    ]
    assert superseded(files) == {"lid v9.stl": "lid v10.stl", "lid v2.3mf": "lid v10.stl"}


@pytest.mark.usefixtures("here")
def test_an_older_revision_is_not_called_good(tmp_path: Path) -> None:
    """A sound part of which a later revision is there is looked at first: whether it came after or before that."""
    put(tmp_path / "tray_revC.stl", stl_binary(TRAY))
    turns = Turns(tmp_path).go(4.0)
    put(tmp_path / "tray_revB.stl", stl_binary(tray((61.0, 40.0, 20.0), 3.0, 3.0)))
    turns.go(4.0)
    board = tmp_path / "board.html"
    assert "print tray_revC.stl instead" in board.read_text(encoding="utf-8")
    put(tmp_path / "tray_revD.stl", stl_binary(tray((62.0, 40.0, 20.0), 3.0, 3.0)))
    turns.go(4.0)
    assert {line.verdict for line in turns.lines} == {"pass"}
    said = board.read_text(encoding="utf-8")
    assert "print tray_revD.stl instead" in said
    assert said.count('data-word="warn"') == 3  # two files, and the button that shows them
    (tmp_path / "tray_revD.stl").unlink()
    turns.go(6.0)
    said = board.read_text(encoding="utf-8")
    assert "print tray_revC.stl instead" in said
    assert "print tray_revD.stl instead" not in said


def test_sides_sizes_and_radii_are_no_revisions() -> None:
    """Left and right, S, M, L and the axes mark nothing; a bare letter or an r and a number downgrade nobody."""
    for name in ("arm-L.stl", "arm-R.stl", "case_S.stl", "case_M.stl", "plate-X.stl"):
        assert revision_of(name).kind == ""
    assert superseded(["knob r5.stl", "knob r8.stl", "lid-B.stl", "lid-C.stl"]) == {}
    assert superseded(["lid-B.stl", "lid-C.stl"], letters=True) == {"lid-B.stl": "lid-C.stl"}


@pytest.mark.usefixtures("here")
def test_copy_of_what_a_file_was_before(tmp_path: Path) -> None:
    """Bytes that another file held before it was changed are no rename, for that file is still there."""
    put(tmp_path / "a.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    put(tmp_path / "a.stl", stl_binary(TRAY))
    put(tmp_path / "b.stl", BOX)
    turns.go(4.0)
    copy = turns.entry("b.stl")
    assert copy is not None
    assert [one.says for one in copy.relations] == ["exact copy of a.stl as it was before"]
