"""Worker processes: a file that eats memory, hangs or kills its worker gets a plain verdict, and the gate lives on."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

import pytest

from fixtures.benches import shipped_tables
from fixtures.drawn import tray
from fixtures.mutated import stl_binary
from prep.errors import CheckBroke, OutOfMemory, TookTooLong
from prep.recipe.gate_rules import Asking
from prep.watch.pool import Failed, Pool, Worker, wait_for
from prep.watch.tasks import Answer, Broke, Hash, Hashed, Judge, Judged
from prep.watch.worker import _Bench, answer
from tests.watch.here import BOX, put

pytestmark = pytest.mark.slow


def answered(worker: Worker, seconds: float = 60.0) -> Answer | Failed:
    """What a worker's task comes to."""
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        wait_for([worker], 0.2)
        found = worker.answer()
        if found is not None:
            return found
    raise TimeoutError


def asking(folder: Path) -> Asking:
    """Nothing beyond the process."""
    return Asking(process=shipped_tables().processes.rows[0].name, shop=str(folder / "shop"))


def judge(path: Path, sha256: str = "") -> Judge:
    """A mesh to be judged."""
    return Judge(path, sha256, asking(path.parent), path.parent / "picture.png")


@pytest.fixture(scope="module")
def pool():
    """One worker, warm."""
    made = Pool(1, 4096)
    yield made
    made.stop()


def test_judges_and_draws(tmp_path: Path, pool: Pool) -> None:
    """A file's hash, then its report and its picture, from another process; the picture is a PNG."""
    (worker,) = pool.workers
    path = put(tmp_path / "part.stl", BOX)
    worker.send(Hash(path, tmp_path, recipe=False, most=10**9), 60.0)
    hashed = answered(worker)
    assert isinstance(hashed, Hashed)
    worker.send(judge(path, hashed.sha256), 60.0)
    found = answered(worker)
    assert isinstance(found, Judged)
    assert found.report is not None
    assert found.report.verdict == "pass"
    assert (tmp_path / "picture.png").read_bytes().startswith(b"\x89PNG")


def test_killed_worker_is_told_and_replaced(tmp_path: Path, pool: Pool) -> None:
    """A worker killed from outside is out of memory as far as anybody knows; the same one works again at once."""
    (worker,) = pool.workers
    path = put(tmp_path / "part.stl", BOX)
    worker.start()
    assert worker.pid is not None
    os.kill(worker.pid, signal.SIGSTOP)
    worker.send(Hash(path, tmp_path, recipe=False, most=10**9), 60.0)
    os.kill(worker.pid, signal.SIGKILL)
    found = answered(worker)
    assert isinstance(found, Failed)
    assert (found.fault.code, found.again) == (OutOfMemory.code, True)
    worker.send(Hash(path, tmp_path, recipe=False, most=10**9), 60.0)
    assert isinstance(answered(worker), Hashed)


def test_crash_is_told(tmp_path: Path, pool: Pool) -> None:
    """A worker that dies of a fault of its own is told as such."""
    (worker,) = pool.workers
    worker.start()
    assert worker.pid is not None
    os.kill(worker.pid, signal.SIGSTOP)
    worker.send(Hash(tmp_path / "x", tmp_path, recipe=False, most=1), 60.0)
    os.kill(worker.pid, signal.SIGSEGV)
    os.kill(worker.pid, signal.SIGCONT)
    found = answered(worker)
    assert isinstance(found, Failed)
    assert found.fault.code == CheckBroke.code
    assert "signal 11" in found.fault.found


def test_time_limit(tmp_path: Path, pool: Pool) -> None:
    """A task that takes too long is ended, with its limit in the words."""
    (worker,) = pool.workers
    worker.start()
    assert worker.pid is not None
    os.kill(worker.pid, signal.SIGSTOP)
    begun = time.monotonic()
    worker.send(Hash(tmp_path / "x", tmp_path, recipe=False, most=1), 0.5)
    found = answered(worker)
    assert isinstance(found, Failed)
    assert (found.fault.code, found.fault.found) == (TookTooLong.code, "more than 0.5 s")
    assert time.monotonic() - begun < 10.0
    assert worker.pid is None


def test_memory_limit(tmp_path: Path) -> None:
    """A file whose check needs more than its worker may have is out of memory; the next file is judged."""
    crowd = Pool(1, 300)
    (worker,) = crowd.workers
    rows = stl_binary(tray())[84:]
    count = 3_000_000 // 50
    big = b"\0" * 80 + (count * 50).to_bytes(4, "little") + rows[:50] * (count * 50)
    path, small = put(tmp_path / "big.stl", big), put(tmp_path / "small.stl", BOX)
    try:
        worker.send(judge(path), 120.0)
        found = answered(worker, 120.0)
        assert isinstance(found, Failed)
        assert found.fault.code == OutOfMemory.code
        assert "limit 300 MB" in found.fault.found
        worker.send(Hash(small, tmp_path, recipe=False, most=10**9), 60.0)
        assert isinstance(answered(worker), Hashed)
    finally:
        crowd.stop()


def test_fault_of_ours_is_an_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An exception in the check is an answer with its last line and its trace, not the worker's end."""
    monkeypatch.setattr("prep.watch.worker.check_files", lambda *_, **__: 1 / 0)
    found = answer(judge(put(tmp_path / "part.stl", BOX)), _Bench())
    assert isinstance(found, Broke)
    assert (found.memory, found.says) == (False, "ZeroDivisionError: division by zero")
    assert "check_files" in found.trace


def test_worker_has_one_thread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker's libraries are told to use one thread, unless somebody has said otherwise; this process is not."""
    monkeypatch.delenv("IGL_NUM_THREADS", raising=False)
    monkeypatch.setenv("OMP_NUM_THREADS", "3")
    worker = Worker(4096)
    try:
        worker.send(Hash(put(tmp_path / "part.stl", BOX), tmp_path, recipe=False, most=10**9), 60.0)
        assert isinstance(answered(worker), Hashed)
        said = Path(f"/proc/{worker.pid}/environ").read_bytes().split(b"\0")
    finally:
        worker.stop()
    assert b"IGL_NUM_THREADS=1" in said
    assert b"OMP_NUM_THREADS=3" in said
    assert "IGL_NUM_THREADS" not in os.environ


def test_process_that_cannot_be_started(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the system starts no process the worker stays free, and works as soon as the system does again."""
    worker = Worker(4096)
    task = Hash(put(tmp_path / "part.stl", BOX), tmp_path, recipe=False, most=10**9)

    def refuse(_: object) -> None:
        raise OSError(12, "Cannot allocate memory")

    try:
        with monkeypatch.context() as patch:
            patch.setattr("multiprocessing.context.SpawnProcess.start", refuse)
            for _ in range(2):
                with pytest.raises(OSError, match="Cannot allocate"):
                    worker.send(task, 60.0)
                assert not worker.busy
                assert worker.answer() is None
            worker.stop()
        worker.send(task, 60.0)
        assert isinstance(answered(worker), Hashed)
    finally:
        worker.stop()


def test_other_limit_of_memory_is_another_process(tmp_path: Path) -> None:
    """A worker is started anew when its limit of memory is another; the limit told is the one in force."""
    worker = Worker(4096)
    task = Hash(put(tmp_path / "part.stl", BOX), tmp_path, recipe=False, most=10**9)
    try:
        worker.send(task, 60.0)
        assert isinstance(answered(worker), Hashed)
        first = worker.pid
        worker.memory_mb = 2048
        worker.send(task, 60.0)
        assert isinstance(answered(worker), Hashed)
        assert worker.pid != first
    finally:
        worker.stop()


def test_worker_ends_with_its_gate(tmp_path: Path) -> None:
    """A worker whose gate is killed is gone within seconds."""
    import subprocess
    import sys

    code = (
        "from prep.watch.pool import Pool; import time, sys\n"
        "if __name__ == '__main__':\n"
        " p = Pool(1, 2048); p.workers[0].start(); print(p.workers[0].pid, flush=True); time.sleep(60)\n"
    )
    script = tmp_path / "gate.py"
    script.write_text(code, encoding="utf-8")
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as gate:
        assert gate.stdout is not None
        pid = int(gate.stdout.readline())
        gate.kill()
    until = time.monotonic() + 15.0
    while Path(f"/proc/{pid}").exists() and time.monotonic() < until:
        time.sleep(0.1)
    assert not Path(f"/proc/{pid}").exists()
