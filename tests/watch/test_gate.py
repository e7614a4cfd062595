"""The gate: each file one verdict for its final content, and nothing done twice."""

from __future__ import annotations

import hashlib
import io
import json
import os
from pathlib import Path

import pytest

import prep.watch.verdicts
from prep.watch.tasks import Judge
from tests.watch.here import BOX, OTHER, THIN, ZEROS, BlindListing, Turns, kinds, put

pytestmark = pytest.mark.usefixtures("here")


def test_verdict_beside_the_file(tmp_path: Path, here) -> None:
    """A thin part fails: JSON, page, picture and ledger line stand in verdicts, named by name and hash."""
    put(tmp_path / "thin.stl", THIN)
    turns = Turns(tmp_path).go(4.0)
    (line,) = turns.lines
    digits = hashlib.sha256(THIN).hexdigest()
    assert (line.file, line.sha256, line.verdict, line.kind) == ("thin.stl", digits, "fail", "mesh")
    assert "0.50 mm" in line.reason
    assert "thicken" in line.action
    assert line.json_path == f"verdicts/thin.stl.{digits[:8]}.json"
    for path in (line.json_path, line.html_path, line.thumbnail):
        assert (tmp_path / str(path)).stat().st_size > 0
    held = json.loads((tmp_path / line.json_path).read_text(encoding="utf-8"))
    assert held["verdict"]["sha256"] == digits
    assert held["report"]["files"][0]["parts"]["thin"]["input"]["sha256"] == digits
    assert "thin.stl" in (tmp_path / "board.html").read_text(encoding="utf-8")
    assert kinds(here) == ["Hash", "Judge"]


def test_nothing_before_it_has_settled(tmp_path: Path, here) -> None:
    """A file that is written to again and again is not even read until it has stood still for the quiet period."""
    turns = Turns(tmp_path)
    for length in range(200, 600, 100):
        put(tmp_path / "slow.stl", BOX[:length])
        turns.go(1.0)
    assert here == []
    put(tmp_path / "slow.stl", BOX)
    turns.go(1.5)
    assert turns.lines == []
    turns.go(2.0)
    assert [line.verdict for line in turns.lines] == ["pass"]


def test_zero_filled_tail_is_still_copying(tmp_path: Path) -> None:
    """A copy whose size was set before its content came has no verdict, is named on the board, and then gets one."""
    path = put(tmp_path / "preset.stl", ZEROS)
    turns = Turns(tmp_path).go(5.0)
    assert turns.lines == []
    ((file, says),) = turns.gate.state().copying
    assert file == "preset.stl"
    assert "copying" in says
    put(path, BOX)
    turns.go(4.0)
    assert [line.verdict for line in turns.lines] == ["pass"]
    assert turns.gate.state().copying == ()


def test_stuck_copy_says_so(tmp_path: Path) -> None:
    """A file cut short that stands still for longer than `stuck` gets that verdict once, and a new one when whole."""
    put(tmp_path / "gate.yaml", b"stuck: 20 s\n")
    path = put(tmp_path / "cut.stl", BOX[:400])
    turns = Turns(tmp_path).go(19.0)
    assert turns.lines == []
    turns.go(60.0)
    (line,) = turns.lines
    assert line.verdict == "stuck"
    assert "stood still" in line.reason
    assert line.action
    assert turns.gate.state().stuck == (("cut.stl", line.reason),)
    put(path, BOX)
    turns.go(4.0)
    assert [line.verdict for line in turns.lines] == ["stuck", "pass"]
    assert turns.gate.state().stuck == ()


def test_content_that_comes_after_its_date(tmp_path: Path) -> None:
    """Where neither size nor time ever change, a file is read again until whole, and once more a while later."""
    put(tmp_path / "gate.yaml", b"stuck: 30 s\n")
    path = put(tmp_path / "late.stl", ZEROS)
    turns = Turns(tmp_path, BlindListing(tmp_path)).go(4.0)
    assert turns.lines == []
    put(path, BOX)
    turns.go(10.0)
    assert [line.sha256 for line in turns.lines] == [hashlib.sha256(BOX).hexdigest()]
    put(path, OTHER)
    turns.go(35.0)
    assert turns.lines[-1].sha256 == hashlib.sha256(OTHER).hexdigest()
    assert turns.entry("late.stl") == turns.lines[-1]


def test_rename_costs_one_reading(tmp_path: Path, here) -> None:
    """A renamed file is not judged again: its verdict is entered under the new name, and says what it was."""
    put(tmp_path / "old.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    (tmp_path / "old.stl").rename(tmp_path / "new.stl")
    here.clear()
    turns.go(6.0)
    assert kinds(here) == ["Hash"]
    assert [(line.file, line.verdict) for line in turns.lines] == [("old.stl", "pass"), ("new.stl", "pass")]
    (relation,) = turns.lines[-1].relations
    assert (relation.kind, relation.other) == ("exact copy", "old.stl")
    assert (tmp_path / str(turns.lines[-1].thumbnail)).exists()
    assert [entry.file for entry in turns.gate.board_entries()] == ["new.stl"]


def test_copy_under_other_demands_is_judged(tmp_path: Path, here) -> None:
    """The same content under a name of which another size is expected is judged by that."""
    put(tmp_path / "gate.yaml", b"longest: [{match: 'big*', longest: 60 mm \xc2\xb1 1 mm}]\n")
    put(tmp_path / "small.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    put(tmp_path / "Big one.stl", BOX)
    turns.go(4.0)
    assert [line.verdict for line in turns.lines] == ["pass", "fail"]
    assert kinds(here).count("Judge") == 2


def test_restart_and_replay_cost_nothing(tmp_path: Path, here) -> None:
    """A new gate on a folder that is known reads nothing; a file touched without change is read, not judged."""
    for number in range(5):
        put(tmp_path / f"{number}.stl", BOX + bytes(0) if number == 0 else OTHER)
    Turns(tmp_path).go(5.0)
    here.clear()
    turns = Turns(tmp_path).go(5.0)
    assert here == []
    assert turns.gate.state().known == 5
    os.utime(tmp_path / "0.stl")
    turns.go(4.0)
    assert kinds(here) == ["Hash"]
    assert len(turns.lines) == 5


def test_back_to_older_content(tmp_path: Path) -> None:
    """A file that returns to what it held before shows that verdict again, without a second line."""
    path = put(tmp_path / "part.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    put(path, THIN)
    turns.go(4.0)
    put(path, BOX)
    turns.go(4.0)
    assert [line.verdict for line in turns.lines] == ["pass", "fail"]
    assert [entry.verdict for entry in turns.gate.board_entries()] == ["fail", "pass"]


def test_idle_folder_is_listed_once_a_scan_and_never_read(
    tmp_path: Path, here, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With every file known, a scan is one listing: no drop is opened, no worker is asked anything."""
    for number in range(12):
        put(tmp_path / f"{number}.stl", BOX[:-1] + bytes([number]))
    turns = Turns(tmp_path, workers=8).go(4.0)
    assert turns.gate.state().known == 12
    here.clear()
    opened: list[str] = []
    listed: list[str] = []
    real_open, real_scandir, real_io = os.open, os.scandir, io.open
    monkeypatch.setattr(io, "open", lambda path, *a, **k: (opened.append(str(path)), real_io(path, *a, **k))[1])
    monkeypatch.setattr(os, "open", lambda path, *a, **k: (opened.append(str(path)), real_open(path, *a, **k))[1])
    monkeypatch.setattr(os, "scandir", lambda path: (listed.append(str(path)), real_scandir(path))[1])
    turns.gate.scan(turns.now + 1.0)
    turns.gate.turn(turns.now + 1.0)
    assert here == []
    assert [path for path in opened if path.endswith(".stl")] == []
    assert [path for path in listed if path == str(tmp_path)] == [str(tmp_path)]


def test_rewritten_while_it_is_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Content that changes between the first reading and the verdict gets none; the content that stays gets one."""
    path = put(tmp_path / "part.stl", BOX)
    real, left = prep.watch.worker.check_files, [THIN]

    def rewriting(*arguments, **more):
        found = real(*arguments, **more)
        if left:
            path.write_bytes(left.pop())
        return found

    monkeypatch.setattr("prep.watch.worker.check_files", rewriting)
    turns = Turns(tmp_path).go(8.0)
    assert [(line.sha256, line.verdict) for line in turns.lines] == [(hashlib.sha256(THIN).hexdigest(), "fail")]


def test_who_is_told(tmp_path: Path) -> None:
    """Board and page name who is told of a file."""
    put(tmp_path / "gate.yaml", b"longest: [{match: 'dial*', told: [Ada]}]\ntold: [Ben]\n")
    put(tmp_path / "dial.stl", BOX)
    put(tmp_path / "lid.stl", OTHER)
    turns = Turns(tmp_path).go(4.0)
    assert {line.file: line.told for line in turns.lines} == {"dial.stl": ("Ada", "Ben"), "lid.stl": ("Ben",)}
    assert "for Ada, Ben" in (tmp_path / "board.html").read_text(encoding="utf-8")
    assert "Ada, Ben" in (tmp_path / turns.lines[0].html_path).read_text(encoding="utf-8")


def test_other_rules_judge_again(tmp_path: Path, here) -> None:
    """What a change of gate.yaml asks something else of is judged again, after what is new; the old verdict stays."""
    rules = put(tmp_path / "gate.yaml", b"longest: [{match: 'dial*', longest: 10 mm}]\n")
    put(tmp_path / "dial.stl", BOX)
    put(tmp_path / "lid.stl", OTHER)
    turns = Turns(tmp_path, workers=1).go(4.0)
    assert {line.file: line.verdict for line in turns.lines} == {"dial.stl": "fail", "lid.stl": "pass"}
    first = next(line for line in turns.lines if line.file == "dial.stl")
    page = (tmp_path / first.html_path).read_bytes()
    assert (tmp_path / str(first.thumbnail)).exists()  # a part of the wrong size is shown: it tells which part it is
    put(rules, b"longest: [{match: 'dial*', longest: 30 mm \xc2\xb1 1 mm}]\n")
    put(tmp_path / "arm.stl", THIN)
    turns.go(1.5)
    assert turns.gate._judged_otherwise() == set()  # rules too have to stand still before they count
    here.clear()
    turns.now += 2.0
    turns.gate.scan(turns.now)
    turns.gate.turn(turns.now)
    assert "by the rules of before" in turns.gate.folder.joinpath("board.html").read_text(encoding="utf-8")
    assert turns.gate._judged_otherwise() == {"dial.stl"}
    assert turns.entry("dial.stl") == first
    turns.go(4.0)
    assert [task.path.name for task in here if isinstance(task, Judge)] == ["arm.stl", "dial.stl"]
    second = turns.entry("dial.stl")
    assert second is not None
    assert (second.verdict, second.sha256) == ("pass", first.sha256)
    assert second.json_path != first.json_path
    assert (tmp_path / first.html_path).read_bytes() == page
    assert json.loads((tmp_path / second.json_path).read_bytes())["verdict"]["verdict"] == "pass"
    assert turns.gate._judged_otherwise() == set()
    assert len(turns.lines) == 4
    here.clear()
    put(rules, b"longest: [{match: 'dial*', longest: 10 mm}]\n")
    assert turns.go(4.0).entry("dial.stl") == first
    assert here == []


def test_rules_changed_while_no_gate_ran(tmp_path: Path, here) -> None:
    """A gate that starts on other rules judges again what they concern, and nothing else."""
    put(tmp_path / "dial.stl", BOX)
    put(tmp_path / "lid.stl", OTHER)
    Turns(tmp_path).go(4.0)
    put(tmp_path / "gate.yaml", b"longest: [{match: 'dial*', longest: 10 mm}]\n")
    here.clear()
    turns = Turns(tmp_path).go(4.0)
    assert {task.path.name for task in here} == {"dial.stl"}
    assert [(line.file, line.verdict) for line in turns.lines][-1] == ("dial.stl", "fail")
    assert len(turns.lines) == 3


def test_rules_changed_while_a_file_is_judged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A verdict that was under way by the old rules is followed by one by the new."""
    put(tmp_path / "dial.stl", BOX)
    turns = Turns(tmp_path)
    real, left = prep.watch.worker.check_files, [b"longest: [{match: 'dial*', longest: 10 mm}]\n"]

    def changing(*arguments, **more):
        if left:
            put(tmp_path / "gate.yaml", left.pop())
            turns.gate.scan(turns.now)
            turns.gate.scan(turns.now + 3.0)
        return real(*arguments, **more)

    monkeypatch.setattr("prep.watch.worker.check_files", changing)
    turns.go(8.0)
    assert [line.verdict for line in turns.lines] == ["pass", "fail"]
    assert turns.entry("dial.stl") == turns.lines[-1]


def test_half_saved_rules_judge_nothing(tmp_path: Path, here) -> None:
    """A gate.yaml that is cut short for a moment, which would be valid and mean the defaults, changes nothing."""
    rules = b"longest: [{match: 'dial*', longest: 30 mm \xc2\xb1 1 mm}]\nwall: 1.5 mm\n"
    put(tmp_path / "gate.yaml", rules)
    put(tmp_path / "dial.stl", BOX)
    turns = Turns(tmp_path).go(4.0)
    here.clear()
    put(tmp_path / "gate.yaml", b"")
    turns.go(1.0)
    put(tmp_path / "gate.yaml", rules)
    turns.go(6.0)
    assert turns.gate.rules.wall == 1.5
    assert (here, len(turns.lines)) == ([], 1)


def test_other_figures_of_the_process_judge_again(tmp_path: Path) -> None:
    """A wall limit changed in the shop's own table counts like one changed in gate.yaml, for copies too."""
    shop = tmp_path / "shop" / "processes.csv"
    shop.parent.mkdir()
    put(tmp_path / "thin.stl", THIN)
    turns = Turns(tmp_path).go(4.0)
    put(shop, b"name,wall_limit_mm,web_limit_mm,source\nextrusion-0.4,0.2,0.2,measured here\n")
    put(tmp_path / "copy.stl", THIN)
    turns.go(8.0)
    said = {line.file: line.verdict for line in turns.lines}
    assert turns.lines[0].verdict == "fail"
    assert "fail" not in said.values()
    assert turns.entry("thin.stl") == [line for line in turns.lines if line.file == "thin.stl"][-1]


def test_a_raised_limit_counts(tmp_path: Path) -> None:
    """What was refused for its length is judged when `largest` is raised, as its verdict said it would be."""
    rules = put(tmp_path / "gate.yaml", b"largest: 1\n")
    content = THIN + bytes(0)
    with (tmp_path / "long.stl").open("wb") as file:
        file.write(content[:80] + (len(content[84:]) // 50).to_bytes(4, "little") + content[84:])
        file.truncate(1_500_000)
    turns = Turns(tmp_path).go(4.0)
    assert "raise `largest`" in turns.lines[0].action
    assert Turns(tmp_path).go(4.0).lines == turns.lines
    put(rules, b"largest: 2\n")
    turns.go(8.0)
    now = turns.entry("long.stl")
    assert now is not None
    assert "raise `largest`" not in now.action
    assert len(turns.lines) == 2


def test_rewritten_while_it_is_compared(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A verdict never stands beside the size and times of bytes that came after those it is about."""
    put(tmp_path / "part v1.stl", OTHER)
    turns = Turns(tmp_path).go(4.0)
    path = put(tmp_path / "part v2.stl", BOX)
    real, left = prep.watch.worker.compare, [THIN]

    def rewriting(*arguments, **more):
        if left:
            put(path, left.pop())
            turns.gate.scan(turns.now)
        return real(*arguments, **more)

    monkeypatch.setattr("prep.watch.worker.compare", rewriting)
    turns.go(3.0)
    first = next(line for line in turns.lines if line.file == "part v2.stl")
    assert first.sha256 == hashlib.sha256(BOX).hexdigest()
    assert first.size == len(BOX)
    again = Turns(tmp_path)
    again.gate.scan(again.now)
    believed = again.gate.files.files["part v2.stl"].entry
    assert believed is None or believed.sha256 == hashlib.sha256(THIN).hexdigest()
    turns.go(4.0)
    now = turns.entry("part v2.stl")
    assert now is not None
    assert (now.sha256, now.verdict) == (hashlib.sha256(THIN).hexdigest(), "fail")
