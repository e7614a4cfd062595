"""`serve`: the process that reads files, so that a hostile one takes down a worker and never the gate."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import signal
import sys
import threading
import traceback
from dataclasses import dataclass
from functools import cache
from multiprocessing.connection import Connection
from pathlib import Path

from prep.build.against import compare
from prep.build.check_files import Asked, bare_bench, bare_checks, check_files
from prep.build.checked import AgainstRecord, CheckReport, FaultRecord, heaviest
from prep.build.folder import Staged
from prep.build.record import Record
from prep.build.run import run
from prep.build.store import Store
from prep.errors import CannotOpenFile, CannotWriteFile, PrepError, WrongUnit
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid
from prep.recipe import read_recipe
from prep.recipe.gate_rules import Asking
from prep.report.write import write_report
from prep.tables import Tables
from prep.units import LENGTH, read_band, show_g
from prep.watch.content import content_of
from prep.watch.rules import over
from prep.watch.tasks import Answer, Broke, Build, Compare, Compared, Hash, Held, Judge, Judged, Task
from prep.watch.thumbnail import write_thumbnail

UNFINISHED = frozenset({"file-cut-short", "file-unfinished"})
"""Codes of faults that a copy which goes on may still mend; so may a file of no bytes, not one of no triangles."""
NO_BYTES = ("empty-file", "0 bytes")
FULL = frozenset({errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EROFS, errno.EIO})
UNREAD = frozenset({"cannot-open-file", "missing-file"})
OF_NOTHING = hashlib.sha256().hexdigest()
LOOK_S = 1.0
MOST = 1 << 60


@dataclass
class _Bench:
    """The mesh judged last, kept for the comparison that may follow."""

    path: Path | None = None
    solid: Solid | None = None


def serve(pipe: Connection, memory_mb: int) -> None:
    """Do tasks until the gate hangs up, or dies.

    Parameters
    ----------
    memory_mb : int
        Address space a task may take beyond what the libraries hold, where the system has such a limit.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the gate's
    _die_with(os.getppid())
    _quiet_stdout()
    _limit_memory(memory_mb)
    bench = _Bench()
    while True:
        try:
            task: Task = pipe.recv()
            pipe.send(answer(task, bench))
        except (EOFError, OSError):
            return


def answer(task: Task, bench: _Bench) -> Answer:
    """What a task comes to, whatever happens."""
    try:
        return _done(task, bench)
    except _NoTables as held:
        return Held(FaultRecord.of(held.fault))
    except MemoryError:
        bench.path, bench.solid = None, None
        return Broke(memory=True, says="out of memory")
    except Exception as fault:  # noqa: BLE001  # whatever a file does to us, the gate hears of it
        text = traceback.format_exc()
        return Broke("bad_alloc" in text, f"{type(fault).__name__}: {fault}", text)


def _done(task: Task, bench: _Bench) -> Answer:
    match task:
        case Hash():
            return content_of(task)
        case Judge():
            return _judge(task, bench)
        case Compare():
            return _compare(task, bench)
        case Build():
            return _build(task)


def _judge(task: Judge, bench: _Bench) -> Answer:
    bench.path, bench.solid = None, None
    checked = check_files([task.path], _asked(task.asking), keep_solids=True)
    report = checked.report
    after = content_of(Hash(task.path, task.path.parent, recipe=False, most=MOST))
    read = [part.input.sha256 for file in report.files for part in file.parts.values()]
    if after.sha256 != task.sha256 or any(sha256 != task.sha256 for sha256 in read):
        return Judged(None)
    if _broke_off(report, task.sha256):
        return Judged(None)
    unfinished = _unfinished(report)
    solid = next(iter(checked.solids.values()), None)
    picture = False
    if solid is not None:
        bench.path, bench.solid = task.path, solid
        picture = _draw(task.picture, solid)
    elif any(fault.code == WrongUnit.code for file in report.files for fault in file.faults):
        picture = _draw_as_read(task)
    return Judged(report, unfinished, picture)


def _draw_as_read(task: Judge) -> bool:
    """A picture of a mesh that is not of the size it should be: seeing the wrong part tells most."""
    try:
        return _draw(task.picture, mend(read_mesh(task.path, unit=task.asking.unit)).solid)
    except PrepError:
        return False


def _draw(path: Path, *solids: Solid) -> bool:
    """A picture, if it can be had: a verdict without one is still a verdict."""
    try:
        write_thumbnail(path, *solids)
    except (OSError, ValueError, PrepError):
        return False
    return True


def _compare(task: Compare, bench: _Bench) -> Answer:
    if bench.solid is None or bench.path != task.path:
        return Compared((None,) * len(task.olds))
    asked = _asked(task.asking)
    name = task.path.stem or task.path.name
    laid, checks = bare_bench(name, bench.solid, asked), bare_checks(asked)
    records: list[AgainstRecord | None] = []
    for old in task.olds:
        try:
            records.append(compare(old, laid, name, checks, unit=asked.unit))
        except PrepError:
            records.append(None)
    return Compared(tuple(records))


def _build(task: Build) -> Answer:
    """A recipe checked, then built; nothing of the last good result is touched before the new one is whole."""
    look = Hash(task.path, task.folder, recipe=True, most=MOST)
    report = check_files([task.path], _asked(task.asking)).report
    if any(fault.code == "cannot-open-file" for file in report.files for fault in file.faults):
        return Judged(None)
    built, picture, says = None, False, ""
    if report.verdict != "refused":
        try:
            recipe = read_recipe(task.path)
            inputs = (recipe.path, recipe.folder / "shop", *map(recipe.mesh_path, recipe.parts))
            with Staged(task.out, inputs) as stage:
                made = run(recipe, stage, Store(task.store))
                write_report(made, stage, lambda *_: None)
                if content_of(look).sha256 != task.sha256:
                    raise _Changed
            built = "report.html"
            report = _with_build(report, made.record.verdict, made.record.checks)
            picture = _draw(task.picture, *made.after.values())
            says = _in_words(made.record)
        except (_Changed, CannotOpenFile):
            return Judged(None)
        except CannotWriteFile as fault:
            return Held(FaultRecord.of(fault))
        except OSError as error:
            if error.errno not in FULL:
                raise
            return Held(FaultRecord(code="cannot-write-file", what="the build cannot be written", found=str(error)))
        except PrepError as fault:
            report = _refused(report, fault)
    if content_of(look).sha256 != task.sha256:
        return Judged(None)
    return Judged(report, _unfinished(report), picture, built=built, says=says)


def _in_words(record: Record) -> str:
    """A model in a line: how many parts, and what it weighs against what was asked."""
    model = record.model
    count = f"{len(record.parts)} part" + ("s" if len(record.parts) != 1 else "")
    asked = f", asked {show_g(model.target.mass_g)}" if model.target is not None and model.target.of == "model" else ""
    return f"built: {count}, {show_g(model.mass_g)}{asked}"


class _NoTables(Exception):
    """The shop's tables, or the process asked for, cannot be had."""

    def __init__(self, fault: PrepError) -> None:
        super().__init__(str(fault))
        self.fault = fault


class _Changed(Exception):  # not a fault: the build is thrown away and begins again
    """The recipe or a mesh changed while it was being built."""


def _with_build(report: CheckReport, verdict: str, findings: tuple[object, ...]) -> CheckReport:
    """The check of the meshes, with what the build found on the finished parts in the place of its findings."""
    (file,) = report.files
    parts = {}
    for name, part in file.parts.items():
        own = tuple(f for f in findings if getattr(f, "part", None) in (name, None))
        parts[name] = part.model_copy(update={"checks": own})
    weighed = file.model_copy(update={"verdict": verdict, "parts": parts})
    return report.model_copy(update={"verdict": heaviest([weighed.verdict]), "files": (weighed,)})


def _refused(report: CheckReport, fault: PrepError) -> CheckReport:
    held = getattr(fault, "faults", (fault,))
    (file,) = report.files
    faults = tuple(FaultRecord.of(one) for one in held)
    refused = file.model_copy(update={"verdict": "refused", "parts": {}, "faults": faults})
    return report.model_copy(update={"verdict": "refused", "files": (refused,)})


def _broke_off(report: CheckReport, sha256: str) -> bool:
    """Whether reading failed, on a file that could be read to its end before and after: the share's fault."""
    faults = [(fault.code, fault.found) for file in report.files for fault in file.faults]
    return any(code in UNREAD or ((code, found) == NO_BYTES and sha256 != OF_NOTHING) for code, found in faults)


def _unfinished(report: CheckReport) -> FaultRecord | None:
    faults = (fault for file in report.files for fault in file.faults)
    return next((one for one in faults if one.code in UNFINISHED or (one.code, one.found) == NO_BYTES), None)


def _asked(asking: Asking) -> Asked:
    try:
        tables = _tables(asking.shop, _newest(Path(asking.shop)))
        process = over(asking.bed, tables.processes.get(asking.process))
    except PrepError as fault:
        raise _NoTables(fault) from None
    return Asked(
        process=process,
        tables=tables,
        longest=read_band(asking.longest, LENGTH) if asking.longest else None,
        wall_mm=asking.wall_mm,
        unit=asking.unit,
    )


@cache
def _tables(shop: str, newest: tuple[tuple[str, int], ...]) -> Tables:
    """The tables, read again when a file of the shop has changed."""
    del newest
    return Tables.load(Path(shop))


def _newest(shop: Path) -> tuple[tuple[str, int], ...]:
    try:
        return tuple(sorted((path.name, path.stat().st_mtime_ns) for path in shop.iterdir()))
    except OSError:
        return ()


def _limit_memory(megabytes: int) -> None:
    """Bound the address space, where the system can; what the libraries have reserved already is not counted."""
    with contextlib.suppress(ImportError, OSError, ValueError, IndexError):
        import resource

        held = int(Path("/proc/self/statm").read_text("ascii").split()[0]) * resource.getpagesize()
        limit = held + megabytes * (1 << 20)
        resource.setrlimit(resource.RLIMIT_AS, (limit, limit))


def _die_with(parent: int) -> None:
    """End this process within a second of the gate's death, even in the middle of a task."""

    def watch() -> None:
        stop = threading.Event()
        while os.getppid() == parent:
            stop.wait(LOOK_S)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


def _quiet_stdout() -> None:
    """What a library prints goes to stderr: stdout is the gate's."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()
        os.dup2(2, 1)
