"""The gate while shares, disks, rules and other gates behave badly."""

from __future__ import annotations

import errno
import os
import shutil
import time
from pathlib import Path

import pytest

import prep.watch.verdicts
import prep.watch.worker
from prep.errors import NoFolder
from prep.watch.gate import Gate
from prep.watch.listing import Listing, Seen
from prep.watch.tasks import Judge
from prep.watch.verdicts import Verdicts
from tests.watch.here import BOX, ZEROS, BlindListing, HereWorker, Turns, in_turn, kinds, put

pytestmark = pytest.mark.usefixtures("here")


class HidingListing(Listing):
    """A share that for a while hides, reorders or refuses."""

    hidden: tuple[str, ...] | None = ()
    turned = False

    def look(self) -> dict[str, Seen]:
        """What it shows just now."""
        if self.hidden is None:
            raise OSError(errno.ESTALE, "stale handle")
        found = {name: seen for name, seen in super().look().items() if name not in self.hidden}
        return dict(reversed(found.items())) if self.turned else found


def test_share_that_hides_reorders_and_goes_away(tmp_path: Path, here) -> None:
    """Files that a listing leaves out for a while, or a share that is gone, cost no verdict and no second one."""
    names = [f"{number}.stl" for number in range(8)]
    for number, name in enumerate(names):
        put(tmp_path / name, BOX[:-1] + bytes([number]))
    share = HidingListing(tmp_path)
    turns = Turns(tmp_path, share).go(8.0)
    here.clear()
    share.hidden = tuple(names[1:])
    turns.go(1.0)
    assert "hiccup" in turns.faults
    assert turns.gate.state().known == 8
    share.hidden = None
    turns.go(1.0)
    assert "cannot be listed" in turns.faults
    share.hidden, share.turned = (), True
    turns.go(2.0)
    assert turns.faults == ""
    assert (turns.gate.state().known, here, len(turns.lines)) == (8, [], 8)
    share.hidden = tuple(names[1:])
    turns.go(8.0)
    assert turns.gate.state().known == 1


def test_full_disk_waits_and_recovers(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """While the disk is full the gate lives on and says so; when there is room the verdict is written."""
    put(tmp_path / "part.stl", BOX)
    real, full = prep.watch.verdicts.write_whole, [True]

    def refusing(path, *arguments, **more):
        if full[0]:
            raise OSError(errno.ENOSPC, "No space left on device", str(path))
        return real(path, *arguments, **more)

    monkeypatch.setattr("prep.watch.verdicts.write_whole", refusing)
    turns = Turns(tmp_path).go(5.0)
    assert turns.lines == []
    assert "No space left on device" in turns.faults
    assert "No space left" in capsys.readouterr().err
    full[0] = False
    turns.go(12.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert turns.faults == ""
    assert "over:" in capsys.readouterr().err


def test_full_disk_in_the_middle_of_a_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A line of which only the beginning fits on the disk is taken back, and written whole when there is room."""
    put(tmp_path / "part.stl", BOX)
    real, full = os.write, [True]

    def short(handle: int, data: bytes) -> int:
        return real(handle, data[:40]) if full[0] and data.startswith(b'{"file"') else real(handle, data)

    monkeypatch.setattr("prep.watch.ledger.os.write", short)
    turns = Turns(tmp_path).go(5.0)
    assert (tmp_path / "verdicts/ledger.jsonl").read_bytes() == b""
    full[0] = False
    turns.go(12.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert len((tmp_path / "verdicts/ledger.jsonl").read_bytes().splitlines()) == 1


def test_broken_shop_table_lets_files_wait(tmp_path: Path) -> None:
    """A table of the shop that breaks while the gate runs stops no gate and refuses no file: they wait."""
    (tmp_path / "shop").mkdir()
    turns = Turns(tmp_path).go(1.0)
    table = put(tmp_path / "shop" / "processes.csv", b"name,nonsense\nx,1\n")
    put(tmp_path / "part.stl", BOX)
    turns.go(5.0)
    assert turns.lines == []
    assert "files wait" in turns.faults
    table.unlink()
    turns.go(12.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert turns.faults == ""


def test_two_gates_one_verdict(tmp_path: Path) -> None:
    """Two gates on one folder, taking turns in every step, give each content one line, and both know it."""
    for number in range(6):
        put(tmp_path / f"{number}.stl", BOX[:-1] + bytes([number]))
    one, other = Turns(tmp_path), Turns(tmp_path)
    in_turn(one, other)
    assert sorted(line.file for line in one.lines) == [f"{number}.stl" for number in range(6)]
    assert len((tmp_path / "verdicts/ledger.jsonl").read_bytes().splitlines()) == 6
    assert one.said != []
    assert other.said != []
    assert one.gate.state().known == other.gate.state().known == 6
    assert list((tmp_path / "verdicts/claims").glob("*.0")) == []


def test_verdict_without_its_line_is_entered_not_judged(tmp_path: Path, here) -> None:
    """A gate killed between the verdict's files and the ledger loses nothing: the next enters it from the JSON."""
    put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    (line,) = turns.lines
    ledger = tmp_path / "verdicts" / "ledger.jsonl"
    ledger.write_bytes(b"")
    here.clear()
    again = Turns(tmp_path).go(4.0)
    assert [one.model_copy(update={"seconds": 0.0}) for one in again.lines] == [
        line.model_copy(update={"seconds": 0.0})
    ]
    assert kinds(here) in ([], ["Hash"])


def test_gate_that_slept_gives_no_verdict(tmp_path: Path, here, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gate whose claim another has taken meanwhile writes nothing, and finds the other's verdict later."""
    put(tmp_path / "part.stl", BOX)
    real = prep.watch.worker.check_files
    taken: list[Path] = []

    def sleeping(*arguments, **more):
        (lock,) = (tmp_path / "verdicts" / "claims").glob("*.0")
        taken.append(lock.with_suffix(".1"))
        taken[0].write_text('{"machine": "another/0", "pid": 1, "started": "1"}', encoding="utf-8")
        monkeypatch.undo()
        return real(*arguments, **more)

    turns = Turns(tmp_path)
    monkeypatch.setattr("prep.watch.worker.check_files", sleeping)
    turns.go(4.0)
    assert turns.lines == []
    taken[0].unlink()
    turns.go(4.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert sum(isinstance(task, Judge) for task in here) == 2


def test_ledger_taken_away_while_it_runs(tmp_path: Path, here) -> None:
    """Somebody deletes the ledger, or all of verdicts: the gate enters or judges again what is in the folder."""
    for number in range(3):
        put(tmp_path / f"{number}.stl", BOX[:-1] + bytes([number]))
    turns = Turns(tmp_path).go(4.0)
    before = {line.file: line.sha256 for line in turns.lines}
    (tmp_path / "verdicts/ledger.jsonl").unlink()
    here.clear()
    turns.go(3.0)
    assert {line.file: line.sha256 for line in turns.lines} == before
    assert "Judge" not in kinds(here)
    shutil.rmtree(tmp_path / "verdicts")
    turns.go(3.0)
    assert {line.file: line.sha256 for line in turns.lines} == before
    assert len((tmp_path / "verdicts/ledger.jsonl").read_bytes().splitlines()) == 3
    assert all((tmp_path / line.html_path).exists() for line in turns.lines)
    assert turns.faults == ""


def test_share_away_for_a_moment_at_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gate started while the share hiccups tries again; one that may not write is told at once."""
    monkeypatch.setattr("prep.watch.gate.AGAIN_S", 0.0)
    real, left = Verdicts.open, [errno.EIO, errno.ESTALE]

    def opening(verdicts: Verdicts) -> None:
        if left:
            raise OSError(left.pop(), "away")
        real(verdicts)

    monkeypatch.setattr(Verdicts, "open", opening)
    put(tmp_path / "part.stl", BOX)
    assert len(Turns(tmp_path).go(4.0).lines) == 1
    left.extend([errno.EACCES, errno.EIO])
    left.reverse()
    with pytest.raises(NoFolder, match="cannot be written to"):
        Turns(tmp_path)
    left[:] = [errno.EIO] * 9
    with pytest.raises(NoFolder):
        Turns(tmp_path)
    assert len(left) == 9 - 4


def test_claims_are_renewed_through_a_long_interval(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a look every ten minutes a file that takes long is not lost to another gate: the gate wakes to renew."""
    waited: list[float] = []
    put(tmp_path / "gate.yaml", b"interval: 600 s\n")
    put(tmp_path / "part.stl", BOX)
    gate = Gate(tmp_path)
    gate._open()
    gate.scan(time.monotonic() - 10.0)
    gate._board_due = time.monotonic() + 1000.0

    def wait(_workers: list[object], seconds: float, _pipe: object) -> None:
        waited.append(seconds)
        gate.stopping = len(waited) > 1

    monkeypatch.setattr("prep.watch.gate.wait_for", wait)
    monkeypatch.setattr(gate, "scan", lambda _: None)
    monkeypatch.setattr(gate.judging, "collect", lambda _: False)
    gate._work(None, once=False)
    assert gate.judging.jobs
    assert max(waited) <= 15.0


def test_ledger_deleted_after_other_rules_keeps_the_first_verdict(tmp_path: Path) -> None:
    """Lines come back from the files of verdicts, all of them: no later verdict is written over an earlier one."""
    rules = put(tmp_path / "gate.yaml", b"longest: [{match: '*', longest: 30 mm}]\n")
    put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    (tmp_path / "verdicts/ledger.jsonl").unlink()
    put(rules, b"longest: [{match: '*', longest: 10 mm}]\n")
    turns.go(8.0)
    assert [line.verdict for line in turns.lines] == ["pass", "fail"]
    assert len({line.json_path for line in turns.lines}) == 2


def test_another_ledger_in_its_place(tmp_path: Path) -> None:
    """A ledger that somebody replaced by a longer one of another folder is read anew, and our files get their lines."""
    put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    line = (tmp_path / "verdicts/ledger.jsonl").read_bytes()
    other = line.replace(b'"file":"part.stl"', b'"file":"elsewhere.stl"')
    (tmp_path / "verdicts/ledger.jsonl").write_bytes(other + other.replace(b"elsewhere", b"far away"))
    turns.go(4.0)
    assert sorted(one.file for one in turns.lines) == ["elsewhere.stl", "far away.stl", "part.stl"]


def test_once_ends_while_the_disk_is_full(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A look for cron does not wait for room on the disk; its faults say why there is no verdict."""

    def refusing(path, *_arguments, **_more):
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    put(tmp_path / "gate.yaml", b"quiet: 0.05 s\n")
    put(tmp_path / "part.stl", BOX)
    gate = Gate(tmp_path)
    monkeypatch.setattr("prep.watch.verdicts.write_whole", refusing)
    begun = time.monotonic()
    gate.run(once=True)
    assert time.monotonic() - begun < 30.0
    assert "No space left" in "; ".join(gate.state().faults)


def test_no_process_can_be_started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine out of processes ends no gate: the files wait, with words of their own, and are judged later."""
    put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path)
    real, left = HereWorker.send, [1]

    def failing(worker: HereWorker, task: object, limit_s: float) -> None:
        if left:
            left.pop()
            raise OSError(errno.EAGAIN, "Resource temporarily unavailable")
        real(worker, task, limit_s)

    monkeypatch.setattr(HereWorker, "send", failing)
    turns.go(3.0)
    assert "no worker can be started" in turns.faults
    turns.go(12.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert turns.faults == ""


def test_fault_of_a_file_that_went_is_forgotten(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was wrong with one file is said no longer than the file is there."""
    path = put(tmp_path / "part.stl", BOX)
    monkeypatch.setattr("prep.watch.judging.fingerprint_in", lambda _: 1 / 0)
    turns = Turns(tmp_path).go(4.0)
    assert "a fault of prep, ZeroDivisionError" in turns.faults
    path.unlink()
    assert turns.go(4.0).faults == ""


def test_copy_that_goes_on_after_hours(tmp_path: Path) -> None:
    """A stuck copy is read again for as long as it is stuck, even where size and time never change."""
    put(tmp_path / "gate.yaml", b"stuck: 20 s\n")
    path = put(tmp_path / "late.stl", ZEROS)
    turns = Turns(tmp_path, BlindListing(tmp_path)).go(70.0)
    assert [line.verdict for line in turns.lines] == ["stuck"]
    put(path, BOX)
    turns.go(45.0)
    assert [line.verdict for line in turns.lines] == ["stuck", "pass"]
