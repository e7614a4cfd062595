"""A gate whose workers are this very process, and drops to put before it: no start-up, nothing at random."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

import prep.watch.gate
from fixtures.drawn import box, tray
from fixtures.mutated import stl_binary
from prep.watch.entry import Entry
from prep.watch.gate import Gate, Options
from prep.watch.listing import Listing, Seen
from prep.watch.tasks import Answer, Task
from prep.watch.worker import _Bench, answer

BOX = stl_binary(box((20.0, 30.0, 10.0)), b"box")
OTHER = stl_binary(box((21.0, 30.0, 10.0)), b"other")
THIN = stl_binary(tray((40.0, 30.0, 12.0), 0.5, 1.0), b"thin")
ZEROS = BOX[:300] + bytes(len(BOX) - 300)


class HereWorker:
    """Does a task when its answer is asked for."""

    pipe = None
    pid = None
    tasks: list[Task] = []  # noqa: RUF012  # shared on purpose: every task of the test

    def __init__(self) -> None:
        self.busy = False
        self.memory_mb = 0
        self._task: Task | None = None
        self._bench = _Bench()

    def send(self, task: Task, limit_s: float) -> None:
        """Take a task."""
        assert limit_s > 0.0
        self.busy, self._task = True, task
        HereWorker.tasks.append(task)

    def answer(self) -> Answer | None:
        """Do it now."""
        if not self.busy or self._task is None:
            return None
        self.busy = False
        return answer(self._task, self._bench)

    def start(self) -> None:
        """Nothing to start."""

    def stop(self) -> None:
        """Nothing to stop."""
        self.busy = False


class HerePool:
    """Workers that are this process."""

    def __init__(self, count: int, memory_mb: int) -> None:
        assert memory_mb > 0
        self.workers = [HereWorker() for _ in range(count)]

    def free(self):
        """Workers without a task."""
        return (worker for worker in self.workers if not worker.busy)

    def stop(self) -> None:
        """Nothing to stop."""


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> list[Task]:
    """Gates work in this process; the list of every task that is given."""
    monkeypatch.setattr(prep.watch.gate, "Pool", HerePool)
    HereWorker.tasks.clear()
    return HereWorker.tasks


class Turns:
    """A gate taken through its turns by hand, on a clock of the test's own.

    Attributes
    ----------
    said : verdicts that this gate has given, in turn
    """

    def __init__(self, folder: Path, listing: Listing | None = None, workers: int = 2, quiet_s: float = 2.0) -> None:
        self.said: list[Entry] = []
        options = Options(workers=workers, interval_s=1.0, quiet_s=quiet_s)
        self.gate = Gate(folder, options, self.said.append, listing)
        self.gate._open()
        self.now = time.monotonic()

    def go(self, seconds: float) -> Turns:
        """Let time pass in steps of half a second, with a look at the folder in each, until the workers are done."""
        for _ in range(max(round(seconds * 2.0), 1)):
            self.now += 0.5
            self.gate.scan(self.now)
            self.gate.turn(self.now)
            while self.gate.judging.jobs:
                self.gate.turn(self.now)
        return self

    def entry(self, file: str) -> Entry | None:
        """The verdict on what the file is now."""
        return next((one.entry for one in self.gate.files.files.values() if one.file == file), None)

    @property
    def lines(self) -> list[Entry]:
        """The ledger, read anew."""
        self.gate.verdicts.ledger.refresh()
        return self.gate.verdicts.ledger.entries

    @property
    def faults(self) -> str:
        """What the gate says is wrong."""
        return "; ".join(self.gate.state().faults)


def in_turn(*gates: Turns, seconds: float = 12.0) -> None:
    """Several gates on one folder, each with one step in turn, while time passes by half a second for each."""
    for _ in range(round(seconds * 2.0)):
        for turns in gates:
            turns.now += 0.5
            turns.gate.scan(turns.now)
            turns.gate.turn(turns.now)


def put(path: Path, content: bytes, *, hold_time: bool = False) -> Path:
    """Write a file; with `hold_time` its time stays what it was."""
    facts = path.stat() if hold_time else None
    path.write_bytes(content)
    if facts is not None:
        os.utime(path, ns=(facts.st_atime_ns, facts.st_mtime_ns))
    return path


def kinds(tasks: list[object]) -> list[str]:
    """The words of what was asked of workers."""
    return [type(task).__name__ for task in tasks]


class BlindListing(Listing):
    """A share that tells size and time of a file as they will be, not as they are."""

    def look(self) -> dict[str, Seen]:
        """Every file as it was first seen."""
        told = getattr(self, "told", {})
        self.told = {name: told.get(name, seen) for name, seen in super().look().items()}
        return self.told
