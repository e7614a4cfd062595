"""`Pool`: worker processes kept warm, each with a limit of time and memory, replaced when one dies."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import time
from collections.abc import Iterator
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess

from prep.build.checked import FaultRecord
from prep.errors import CheckBroke, OutOfMemory, TookTooLong
from prep.watch.tasks import Answer, Broke, Task

SPAWN = multiprocessing.get_context("spawn")
MOST_TASKS = 1000
"""After so many tasks a worker is replaced, so that nothing the libraries leave behind can add up over weeks."""
LEAVE_S = 2.0
THREADS = ("IGL_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What the libraries ask for the number of their threads, once, when they are loaded."""


@dataclass(frozen=True)
class Failed:
    """A task that got no answer, as the fault a person reads.

    Attributes
    ----------
    again : whether the worker died for no reason it could tell, so that a second try makes sense
    trace : of a fault of ours, for stderr
    """

    fault: FaultRecord
    again: bool = False
    trace: str = ""


class Worker:
    """One process and the task it has.

    It keeps one core busy: files side by side use a machine better than the threads of one file do, and whoever says
    how many workers there are says how much of the machine is left to others.
    """

    def __init__(self, memory_mb: int) -> None:
        self.memory_mb = memory_mb
        self.busy = False
        self._tasks = 0
        self._deadline = 0.0
        self._limit_s = 0.0
        self._made_with = memory_mb
        self._process: BaseProcess | None = None
        self._pipe: Connection | None = None

    @property
    def pid(self) -> int | None:
        """Number of its process; None before the first task."""
        return self._process.pid if self._process is not None else None

    @property
    def pipe(self) -> Connection | None:
        """What its answers come through."""
        return self._pipe

    def send(self, task: Task, limit_s: float) -> None:
        """Give it a task, and start its process where there is none, or one with another limit of memory.

        Raises
        ------
        OSError
            No process can be started; the worker is then free.
        """
        self._tasks += 1
        if self._tasks > MOST_TASKS or self._made_with != self.memory_mb:
            self.stop()
        self._limit_s, self._deadline = limit_s, time.monotonic() + limit_s
        pipe = self._pipe or self._start()
        try:
            pipe.send(task)
        except OSError:  # it died while it had nothing to do; a new one that dies too is found by `answer`
            self.stop()
            self._start().send(task)
        self.busy = True

    def answer(self) -> Answer | Failed | None:
        """What its task has come to; None while it works."""
        if not self.busy or self._pipe is None:
            return None
        try:
            if self._pipe.poll():
                found: Answer = self._pipe.recv()
                self.busy = False
                return _broke(found, self.memory_mb) if isinstance(found, Broke) else found
        except (EOFError, OSError):
            return self._died()
        if time.monotonic() > self._deadline:
            self.stop()
            return Failed(_record(TookTooLong(
                "the file takes longer than one may",
                found=f"more than {self._limit_s:g} s",
                fix="export with fewer triangles, or raise `time` in gate.yaml",
            )))  # fmt: skip
        return None

    def stop(self) -> None:
        """End its process at once, whatever it does."""
        self.busy, self._tasks = False, 0
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.kill()
            self._process.join(LEAVE_S)
            with contextlib.suppress(ValueError):
                self._process.close()
        self._process = self._pipe = None

    def start(self) -> None:
        """Start its process, so that its libraries are there when the first task comes."""
        if self._process is None:
            self._start()

    def _start(self) -> Connection:
        from prep.watch.worker import serve

        near, far = SPAWN.Pipe()
        process = SPAWN.Process(target=serve, args=(far, self.memory_mb), daemon=True, name="prep-watch")
        try:
            with _one_thread_each():
                process.start()
        except OSError:
            near.close()
            raise
        finally:
            far.close()
        self._pipe, self._process, self._made_with = near, process, self.memory_mb
        return near

    def _died(self) -> Failed:
        status = None
        if self._process is not None:
            self._process.join(LEAVE_S)
            status = self._process.exitcode
        self.stop()
        if status == -getattr(signal, "SIGKILL", 9):
            return Failed(_out_of_memory(self.memory_mb, "the system ended the worker"), again=True)
        how = f"the worker ended with signal {-status}" if status is not None and status < 0 else "the worker ended"
        fault = CheckBroke("the check broke down on this file", found=how, fix="export it again, and report the file")
        return Failed(_record(fault), again=True)


@contextlib.contextmanager
def _one_thread_each() -> Iterator[None]:
    """Processes started meanwhile inherit that libraries are to use one thread, unless somebody has said otherwise."""
    added = [name for name in THREADS if name not in os.environ]
    os.environ.update(dict.fromkeys(added, "1"))
    try:
        yield
    finally:
        for name in added:
            os.environ.pop(name, None)


class Pool:
    """Workers, all alike."""

    def __init__(self, count: int, memory_mb: int) -> None:
        self.workers = [Worker(memory_mb) for _ in range(count)]

    def free(self) -> Iterator[Worker]:
        """Workers without a task."""
        return (worker for worker in self.workers if not worker.busy)

    def stop(self) -> None:
        """End them all."""
        for worker in self.workers:
            worker.stop()


def wait_for(workers: list[Worker], seconds: float, hint: Connection | None = None) -> None:
    """Come back when a worker has answered or died, when the hint says to look, or after so many seconds."""
    pipes = [worker.pipe for worker in workers if worker.busy and worker.pipe is not None]
    pipes += [hint] if hint is not None else []
    if pipes:
        wait(pipes, max(seconds, 0.0))
    elif seconds > 0.0:
        time.sleep(seconds)


def _broke(broke: Broke, memory_mb: int) -> Failed:
    if broke.memory:
        return Failed(_out_of_memory(memory_mb, "memory ran out"), trace=broke.trace)
    fault = CheckBroke(
        "the check broke down on this file", found=broke.says, fix="export it again, and report the file"
    )
    return Failed(_record(fault), trace=broke.trace)


def _out_of_memory(memory_mb: int, how: str) -> FaultRecord:
    return _record(
        OutOfMemory(
            "the file needs more memory than one may have",
            found=f"{how}; limit {memory_mb} MB",
            fix="export with fewer triangles, or raise `memory` in gate.yaml",
        )
    )


def _record(fault: CheckBroke | OutOfMemory | TookTooLong) -> FaultRecord:
    return FaultRecord.of(fault)
