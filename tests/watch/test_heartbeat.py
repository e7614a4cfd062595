"""The heartbeat: who is alive on a folder, and when it was last looked at."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from prep.errors import NoGate
from prep.watch.claims import gate_name
from prep.watch.heartbeat import Heartbeat, status_of
from prep.watch.whole_file import utc
from tests.watch.entries import state


def beat_of(folder: Path, name: str, scanned_s_ago: float, **changed: object) -> Path:
    """The heartbeat of a gate that had a good look so many seconds ago."""
    gates = folder / "verdicts" / "gates"
    gates.mkdir(parents=True, exist_ok=True)
    said = state(last_good_scan=utc(time.time() - scanned_s_ago), **changed)
    path = gates / f"{name}.json"
    path.write_text(said.model_dump_json(), encoding="utf-8")
    return path


def test_latest_look_of_any_gate_counts(tmp_path: Path) -> None:
    """The last good look is that of the gate that had one last; ten seconds ago is not late, ten minutes is."""
    beat_of(tmp_path, "a-1", 600.0)
    assert status_of(tmp_path).late
    assert not status_of(tmp_path, within_s=3600.0).late
    beat_of(tmp_path, "b-2", 10.0, known=7)
    found = status_of(tmp_path)
    assert not found.late
    assert found.state.known == 7
    assert 9.0 <= found.age_s <= 15.0
    assert status_of(tmp_path, within_s=5.0).late


def test_slow_interval_is_given_its_time(tmp_path: Path) -> None:
    """A gate that looks every ten minutes is not late after five."""
    beat_of(tmp_path, "a-1", 300.0, interval_s=600.0)
    assert not status_of(tmp_path).late


def test_no_gate_is_a_fault(tmp_path: Path) -> None:
    """Where no gate has ever looked, or none could list the folder, that is said."""
    with pytest.raises(NoGate, match="no gate has had a good look"):
        status_of(tmp_path)
    (tmp_path / "verdicts" / "gates").mkdir(parents=True)
    (tmp_path / "verdicts" / "gates" / "a-1.json").write_text(state(last_good_scan="").model_dump_json(), "utf-8")
    (tmp_path / "verdicts" / "gates" / "b-1.json").write_text("half", "utf-8")
    with pytest.raises(NoGate) as caught:
        status_of(tmp_path)
    assert "1 gates, none of which could list it" in caught.value.found


def test_who_is_alive(tmp_path: Path) -> None:
    """Gates that have written lately are alive, this one first; an old one is not, and a day-old one is forgotten."""
    verdicts = tmp_path / "verdicts"
    heart = Heartbeat(verdicts, verdicts / "room")
    heart.beat(state())
    beat_of(tmp_path, "desk-top-7.5f3a", 0.0)
    for name, age in (("late-8.5f3a", 300.0), ("ancient-9.5f3a", 100_000.0)):
        path = beat_of(tmp_path, name, 0.0)
        then = path.stat().st_mtime - age
        os.utime(path, (then, then))
    assert heart.alive(2.0) == (gate_name(), "desk-top:7")
    assert not (verdicts / "gates" / "ancient-9.5f3a.json").exists()
    heart.end()
    assert [path.name for path in sorted((verdicts / "gates").iterdir())] == [
        "desk-top-7.5f3a.json",
        "ended.json",
        "late-8.5f3a.json",
    ]
    assert status_of(tmp_path).state.folder == "inbox"


def test_two_containers_of_one_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two gates of the same host name and process number, as in two containers, each have a heartbeat of their own."""
    verdicts = tmp_path / "verdicts"
    one = Heartbeat(verdicts, verdicts / "room")
    monkeypatch.setattr("prep.watch.heartbeat.this_machine", lambda: "vm/0123456789ab")
    other = Heartbeat(verdicts, verdicts / "room")
    one.beat(state())
    other.beat(state())
    assert one.alive(2.0) == other.alive(2.0) == (gate_name(), gate_name())


def test_a_clock_that_was_ahead_is_not_believed(tmp_path: Path) -> None:
    """A last look two hours from now is no look to rely on; a clock a minute ahead is."""
    beat_of(tmp_path, "a-1.5f3a", -7200.0)
    assert status_of(tmp_path).late
    beat_of(tmp_path, "a-1.5f3a", -60.0)
    assert not status_of(tmp_path).late
