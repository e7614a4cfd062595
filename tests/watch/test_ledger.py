"""The ledger of verdicts: one line for each file and content, whoever writes it and whatever crashes."""

from __future__ import annotations

import errno
import json
import subprocess
import sys
from pathlib import Path

import pytest

from prep.watch.claims import Claims
from prep.watch.ledger import LedgerBusy, VerdictLedger
from prep.watch.verdicts import Verdicts
from tests.watch.entries import entry

ROOT = Path(__file__).resolve().parents[2]
WRITER = """
import sys; sys.path.insert(0, sys.argv[2])
from pathlib import Path
from prep.watch.verdicts import Verdicts
from tests.watch.entries import entry
ledger = Verdicts(Path(sys.argv[1])).ledger
for number in range(60):
    ledger.add(entry(number, gate=sys.argv[3]))
"""


def ledger_in(folder: Path) -> VerdictLedger:
    """A ledger with a folder for its claims."""
    (folder / "verdicts").mkdir(exist_ok=True)
    return VerdictLedger(folder / "verdicts", Claims(folder / "verdicts" / "claims"))


def test_lines_come_back(tmp_path: Path) -> None:
    """What one adds another reads, in order, found by file, by content and by both; names in any script."""
    one, other = ledger_in(tmp_path), ledger_in(tmp_path)
    lines = [entry(1, file='船 "a"\n.stl'), entry(2), entry(3, file="b.stl", sha256=entry(2).sha256)]
    assert [one.add(line) for line in lines] == [True, True, True]
    assert other.refresh() == tuple(lines)
    assert other.refresh() == ()
    assert other.find(lines[1].file, lines[1].sha256, "") == lines[1]
    assert other.of_content(lines[1].sha256) == lines[1:]
    assert other.of_file("b.stl") == [lines[2]]
    assert other.find("b.stl", lines[0].sha256, "") is None
    assert other.find(lines[1].file, lines[1].sha256, "else") is None


def test_one_line_for_one_content(tmp_path: Path) -> None:
    """A line that another has added meanwhile is not added again."""
    one, other = ledger_in(tmp_path), ledger_in(tmp_path)
    assert one.add(entry(1))
    assert not other.add(entry(1, gate="late:1"))
    assert other.entries == [entry(1)]
    assert other.add(entry(1, asked="something else"))


@pytest.mark.slow
def test_three_processes_write_at_once(tmp_path: Path) -> None:
    """Three processes that add the same sixty verdicts at the same time leave sixty whole lines."""
    command = [sys.executable, "-c", WRITER, str(tmp_path), str(ROOT)]
    (tmp_path / "verdicts").mkdir()
    writers = [subprocess.Popen([*command, f"gate:{number}"], cwd=ROOT) for number in range(3)]
    assert [writer.wait(120) for writer in writers] == [0, 0, 0]
    lines = [json.loads(line) for line in (tmp_path / "verdicts/ledger.jsonl").read_bytes().splitlines()]
    assert sorted(line["sha256"] for line in lines) == sorted(entry(number).sha256 for number in range(60))


def test_torn_last_line_is_set_aside(tmp_path: Path) -> None:
    """Half a line at the end is not read, and is moved out of the ledger by the next who adds one; nothing is lost."""
    ledger = ledger_in(tmp_path)
    ledger.add(entry(1))
    with ledger.path.open("ab") as file:
        file.write(b'{"file": "half')
    again = ledger_in(tmp_path)
    assert again.refresh() == (entry(1),)
    assert again.add(entry(2))
    lines = [json.loads(line)["sha256"] for line in ledger.path.read_bytes().splitlines()]
    assert lines == [entry(1).sha256, entry(2).sha256]
    assert (tmp_path / "verdicts/ledger.torn").read_bytes() == b'{"file": "half\n'


def test_line_that_is_no_verdict_is_counted(tmp_path: Path) -> None:
    """A whole line that cannot be read is passed over and told, those after it are read."""
    ledger = ledger_in(tmp_path)
    ledger.add(entry(1))
    with ledger.path.open("ab") as file:
        file.write(b"somebody wrote this\n")
    assert ledger.add(entry(2))
    assert ledger.entries == [entry(1), entry(2)]
    assert ledger.unreadable == 1


def test_ledger_taken_away(tmp_path: Path) -> None:
    """A ledger that somebody removes is begun anew, not remembered."""
    ledger = ledger_in(tmp_path)
    ledger.add(entry(1))
    ledger.path.unlink()
    assert ledger.refresh() == ()
    assert ledger.entries == []
    assert ledger.add(entry(1))


def test_full_disk_leaves_the_ledger_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line that does not fit is taken back whole, and the claim on the ledger is given back."""
    ledger = ledger_in(tmp_path)
    ledger.add(entry(1))
    before = ledger.path.read_bytes()
    monkeypatch.setattr("prep.watch.ledger.os.fsync", lambda _: (_ for _ in ()).throw(OSError(errno.ENOSPC, "full")))
    with pytest.raises(OSError, match="full"):
        ledger.add(entry(2))
    monkeypatch.undo()
    assert ledger.path.read_bytes() == before
    assert ledger.add(entry(2))


def test_ledger_held_for_too_long(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where another gate holds the ledger, adding gives up after a while, to be tried again."""
    ledger = ledger_in(tmp_path)
    monkeypatch.setattr("prep.watch.ledger.WAIT_S", 0.05)
    held = ledger.claims.take("ledger")
    assert held is not None
    with pytest.raises(LedgerBusy):
        ledger.add(entry(1))
    held.release()
    assert ledger.add(entry(1))


def test_half_written_files_of_killed_gates_are_cleared(tmp_path: Path) -> None:
    """What has lain in the room for half-written files for over an hour goes; what is young may be somebody's."""
    import os

    verdicts = Verdicts(tmp_path)
    verdicts.room.mkdir(parents=True)
    for name, age in (("old", 7200.0), ("young", 60.0)):
        path = verdicts.room / name
        path.write_bytes(b"half")
        then = path.stat().st_mtime - age
        os.utime(path, (then, then))
    verdicts.open()
    assert [path.name for path in verdicts.room.iterdir()] == ["young"]


def test_json_that_is_no_verdict_is_left_alone(tmp_path: Path) -> None:
    """A JSON file in the folder of verdicts that is none is neither entered nor removed."""
    (tmp_path / "verdicts").mkdir()
    (tmp_path / "verdicts" / "notes.json").write_text('["mine"]', encoding="utf-8")
    verdicts = Verdicts(tmp_path)
    verdicts.open()
    assert verdicts.ledger.entries == []
    assert (tmp_path / "verdicts" / "notes.json").exists()
