"""Judging: who is woken by a verdict, what is looked at again, and what is not given as a verdict."""

from __future__ import annotations

import errno
import hashlib
import json
import os
from dataclasses import replace
from pathlib import Path

import pytest

import prep.watch.worker
from fixtures.drawn import tray
from fixtures.mutated import stl_binary
from prep.watch.claims import Claim
from prep.watch.listing import Listing, Seen
from prep.watch.verdicts import Verdicts
from tests.watch.entries import entry
from tests.watch.here import BOX, OTHER, THIN, BlindListing, Turns, kinds, put

pytestmark = pytest.mark.usefixtures("here")

CUT = BOX[:400]
STUCK = b"stuck: 20 s\n"


class AgedListing(Listing):
    """A share that tells of files whose name begins with "old" that they have not changed for a quarter of an hour."""

    def look(self) -> dict[str, Seen]:
        """Every file, the old ones with an older time."""
        found = super().look()
        return {
            name: replace(seen, changed=seen.changed - 900.0 * name.startswith("old")) for name, seen in found.items()
        }


def lines_by_step(turns: Turns, steps: int = 8) -> list[int]:
    """How many verdicts there are after each half second."""
    return [len(turns.go(0.5).lines) for _ in range(steps)]


def test_held_revision_is_begun_with_at_once(tmp_path: Path) -> None:
    """A revision that waits for an earlier one is begun with as soon as that has its verdict, and compared with it."""
    for number in (1, 2, 3):
        put(tmp_path / f"lid v{number}.stl", stl_binary(tray((60.0 + number, 40.0, 20.0), 3.0, 3.0)))
    turns = Turns(tmp_path, workers=4)
    assert set(lines_by_step(turns)) == {0, 3}
    assert [line.file for line in turns.lines] == ["lid v1.stl", "lid v2.stl", "lid v3.stl"]
    assert [one.other for line in turns.lines for one in line.relations if one.kind == "differs"] == [
        "lid v1.stl",
        "lid v2.stl",
    ]


def test_who_waits_for_a_claim_is_begun_with_at_once(tmp_path: Path, here) -> None:
    """A second file of the same content gets the verdict of the first as soon as there is one, and is not judged."""
    for name in ("arm.stl", "lid.stl"):
        put(tmp_path / name, BOX)
    turns = Turns(tmp_path, workers=4)
    assert set(lines_by_step(turns)) == {0, 2}
    assert kinds(here) == ["Hash", "Hash", "Judge", "Hash"]


@pytest.mark.parametrize(("content", "tasks"), [(OTHER, ["Hash", "Judge"]), (BOX, ["Hash"])], ids=["new", "same"])
def test_changed_after_it_was_read(
    tmp_path: Path, here, monkeypatch: pytest.MonkeyPatch, content: bytes, tasks: list[str]
) -> None:
    """A file written to after its worker has read it, before its verdict, settles anew and is looked at again."""
    path = put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path)
    real, left = prep.watch.worker.write_thumbnail, [content]

    def writing(*arguments):
        if left:
            put(path, left.pop())
            os.utime(path, (1_500_000_000, 1_500_000_000))
            turns.gate.scan(turns.now)
        real(*arguments)

    monkeypatch.setattr("prep.watch.worker.write_thumbnail", writing)
    turns.go(8.0)
    assert left == []
    assert kinds(here) == ["Hash", "Judge", *tasks]
    assert [line.sha256 for line in turns.lines] == [
        hashlib.sha256(one).hexdigest() for one in dict.fromkeys((BOX, content))
    ]
    assert turns.entry("part.stl") == turns.lines[-1]


def test_verdict_entered_just_before_the_claim(tmp_path: Path, here, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another gate gives the verdict between the look at the ledger and the claim, it is not given again."""
    put(tmp_path / "part.stl", THIN)
    slow, quick = Turns(tmp_path), Turns(tmp_path)
    claims = slow.gate.verdicts.claims
    real, taken = claims.take, []

    def overtaken(name: str) -> Claim | None:
        if len(name) == 64 and not taken:
            taken.append(name)
            quick.go(4.0)
        return real(name)

    monkeypatch.setattr(claims, "take", overtaken)
    slow.go(4.0)
    assert taken == [hashlib.sha256(THIN).hexdigest()]
    assert kinds(here).count("Judge") == 1
    assert (len(quick.said), slow.said) == (1, [])
    assert slow.entry("part.stl") == slow.lines[0]


def test_stuck_is_no_verdict_on_a_copy(tmp_path: Path) -> None:
    """Content once called stuck under one name is still being copied under another, until it has stood still there."""
    put(tmp_path / "gate.yaml", STUCK)
    put(tmp_path / "cut.stl", CUT)
    turns = Turns(tmp_path).go(25.0)
    assert [(line.file, line.verdict) for line in turns.lines] == [("cut.stl", "stuck")]
    put(tmp_path / "again.stl", CUT)
    turns.go(10.0)
    assert [line.file for line in turns.lines] == ["cut.stl"]
    assert [file for file, _ in turns.gate.state().copying] == ["again.stl"]
    turns.go(15.0)
    assert [(line.file, line.verdict) for line in turns.lines] == [("cut.stl", "stuck"), ("again.stl", "stuck")]


def test_trouble_at_the_second_reading(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that cannot be read when it is read once more keeps its verdict, gets none, and is read again later."""
    put(tmp_path / "gate.yaml", STUCK)
    path = put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path, BlindListing(tmp_path)).go(4.0)
    (line,) = turns.lines
    real, refused = os.open, []

    def refuse(name, *arguments, **more):
        if Path(name) == path:
            refused.append(name)
            raise OSError(errno.EIO, "Input/output error")
        return real(name, *arguments, **more)

    monkeypatch.setattr("prep.watch.content.os.open", refuse)
    for _ in range(50):
        turns.go(1.0)
        assert turns.entry("part.stl") == line
        assert turns.gate.state().copying == ()
    assert turns.lines == [line]
    assert len(refused) in {2, 3}
    monkeypatch.undo()
    put(path, OTHER)
    turns.go(30.0)
    assert [one.sha256 for one in turns.lines] == [line.sha256, hashlib.sha256(OTHER).hexdigest()]


def test_one_run_calls_stuck_what_is_old(tmp_path: Path) -> None:
    """With --once a file cut short is called stuck at once where its own times are older than `stuck`, else not."""
    put(tmp_path / "old.stl", CUT)
    put(tmp_path / "young.stl", CUT + b"1")
    turns = Turns(tmp_path, AgedListing(tmp_path)).go(4.0)
    assert turns.lines == []
    turns = Turns(tmp_path, AgedListing(tmp_path))
    turns.gate.judging.once = True
    turns.go(4.0)
    assert [(line.file, line.verdict) for line in turns.lines] == [("old.stl", "stuck")]
    assert [file for file, _ in turns.gate.state().copying] == ["young.stl"]


@pytest.mark.parametrize("changed", [{"file": "lid.stl"}, {"sha256": "a" * 8 + "c" * 56}, {"asked": "4321"}, {}])
def test_verdict_left_behind_is_that_of_the_file(tmp_path: Path, changed: dict[str, str]) -> None:
    """A JSON without a line is entered for the file, the content and what was asked that it speaks of, and no other."""
    about = {"file": "arm.stl", "sha256": "a" * 8 + "b" * 56, "asked": "1234"}
    verdicts = Verdicts(tmp_path)
    verdicts.open()
    held = entry(0, **about | changed)
    path = tmp_path / verdicts.paths(**about)[0]
    path.write_text(json.dumps({"verdict": held.model_dump(mode="json")}), encoding="utf-8")
    found = None if changed else held
    assert verdicts.left_behind(**about) == found
    assert verdicts.ledger.entries == ([] if changed else [held])
