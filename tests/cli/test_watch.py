"""`prep watch`: one look for cron, the status, and a gate that a person starts and ends."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from fixtures.drawn import box, tray
from fixtures.mutated import stl_binary
from prep.cli import run


@pytest.fixture
def inbox(tmp_path: Path) -> Path:
    """A folder with a sound part and a thin one."""
    (tmp_path / "sound.stl").write_bytes(stl_binary(box((20.0, 30.0, 10.0))))
    (tmp_path / "thin.stl").write_bytes(stl_binary(tray((40.0, 30.0, 12.0), 0.5, 1.0)))
    return tmp_path


@pytest.mark.slow
def test_once(inbox: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A verdict and what to do, files beside, 1 for a failed one; a second look has nothing to say, the status does."""
    assert run(["watch", str(inbox), "--once", "--quiet", "0.2 s"]) == 1
    passed, failed, action = capsys.readouterr().out.splitlines()
    assert passed.startswith("pass    sound.stl: ")
    assert failed.startswith("fail    thin.stl: ")
    assert "0.50 mm" in failed
    assert action == "        -> thicken it by 0.30 mm in the model"
    assert (inbox / "board.html").is_file()
    assert len(list((inbox / "verdicts").glob("*.html"))) == 2
    assert run(["watch", str(inbox), "--once", "--quiet", "0.2 s"]) == 0
    assert capsys.readouterr().out == ""
    assert run(["watch", str(inbox), "--status"]) == 0
    assert "2 files known" in capsys.readouterr().out
    time.sleep(1.1)
    assert run(["watch", str(inbox), "--status", "--within", "1 s"]) == 1
    assert "too long ago" in capsys.readouterr().out


@pytest.mark.slow
def test_ended_by_a_person(inbox: Path) -> None:
    """A gate that watches says where the board is, judges, and ends at once with status 0 when it is told to."""
    command = [sys.executable, "-m", "prep", "watch", str(inbox), "--workers", "2"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8") as gate:
        assert gate.stdout is not None
        said = [gate.stdout.readline() for _ in range(4)]  # where the board is, two verdicts, and one action
        gate.send_signal(signal.SIGTERM)
        begun = time.monotonic()
        assert gate.wait(30.0) == 0
        assert time.monotonic() - begun < 10.0
    assert "board.html" in said[0]
    assert sorted(line[:4] for line in said[1:]) == ["    ", "fail", "pass"]
    assert not list((inbox / "verdicts" / "claims").glob("*.0"))
    assert (inbox / "verdicts" / "gates" / "ended.json").is_file()


def test_faults(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No folder, broken rules, no gate yet, and a time without unit: each in four parts, status 2."""
    assert run(["watch", str(tmp_path / "nowhere")]) == 2
    assert "error[no-folder]" in capsys.readouterr().err
    assert run(["watch", str(tmp_path), "--status"]) == 2
    assert "error[no-gate]" in capsys.readouterr().err
    assert run(["watch", str(tmp_path), "--once", "--quiet", "3"]) == 2
    assert "write `3 s`" in capsys.readouterr().err
    (tmp_path / "gate.yaml").write_text("wal: 1 mm\n", encoding="utf-8")
    assert run(["watch", str(tmp_path), "--once"]) == 2
    said = capsys.readouterr().err
    assert "did you mean `wall`" in said
    assert "gate.yaml:1" in said


def test_every_fault_of_gate_yaml_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three mistakes of different kinds: each is on stderr with its line and what to write, status 2, nothing begun."""
    rules = "longest: [{match: 'lid*', unit: inches}]\nquiet: 4\nproces: extrusion-0.4\n"
    (tmp_path / "gate.yaml").write_text(rules, encoding="utf-8")
    for options in ([], ["--once"]):
        assert run(["watch", str(tmp_path), *options]) == 2
        captured = capsys.readouterr()
        assert captured.out == ""
        blocks = captured.err.split("\n\n")
        for number, fix in enumerate(("did you mean `inch`?", "write `4 s`", "did you mean `process`?")):
            assert f"gate.yaml:{number + 1}" in blocks[number]
            assert fix in blocks[number]
    assert [path.name for path in tmp_path.iterdir()] == ["gate.yaml"]


def test_once_tells_what_waits(inbox: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is still being copied when a look for cron ends has no verdict, but is not passed over in silence."""
    (inbox / "cut.stl").write_bytes((inbox / "thin.stl").read_bytes()[:500])
    run(["watch", str(inbox), "--once", "--quiet", "0.2 s"])
    assert "waits   cut.stl: still copying: " in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt" or (os.geteuid() == 0 and shutil.which("setpriv") is None), reason="may read all")
def test_file_without_permission_for_real(inbox: Path) -> None:
    """A file that the system does not let the gate read waits, with the reason; the others get their verdicts."""
    locked = inbox / "locked.stl"
    locked.write_bytes((inbox / "sound.stl").read_bytes()[:-1] + b"\1")
    locked.chmod(0)
    bound = ["setpriv", "--bounding-set=-dac_override,-dac_read_search"] if os.geteuid() == 0 else []
    command = [*bound, sys.executable, "-m", "prep", "watch", str(inbox), "--once", "--quiet", "0.2 s"]
    run = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    lines = run.stdout.splitlines()
    assert "waits   locked.stl: the file cannot be read: Permission denied" in lines
    assert any(line.startswith("pass    sound.stl") for line in lines)
    assert len((inbox / "verdicts" / "ledger.jsonl").read_bytes().splitlines()) == 2


def test_wrong_time_names_its_option(inbox: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A time without a unit is refused with the option it was given for."""
    assert run(["watch", str(inbox), "--once", "--quiet", "3"]) == 2
    assert "where: --quiet" in capsys.readouterr().err
