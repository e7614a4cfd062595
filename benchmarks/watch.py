"""What the gate costs: from settled to verdict, one worker against two, and a folder in which nothing happens.

Prints, in one run each side by side:

- latency: seconds from the end of the quiet period to the verdict's line in the ledger, for shells of 40 thousand
  triangles dropped one at a time, against `check_files` on the same files in process, warm on both sides;
- throughput: a heap of such shells judged by one worker and by two, start-up left out;
- idle: share of one core that a gate takes on a folder of known files at the default interval, and what it opens.

Run with ``python benchmarks/watch.py``; `--files`, `--thousands` and `--known` make it smaller.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import Self

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "benchmarks")]

from check import shell, write_stl  # noqa: E402  # found once the folder is on the path

from fixtures.mutated import BASES  # noqa: E402
from prep.build.check_files import Asked, check_files  # noqa: E402
from prep.tables import Tables  # noqa: E402
from prep.watch.draft import draft  # noqa: E402
from prep.watch.entry import Entry  # noqa: E402
from prep.watch.gate import Gate, Options  # noqa: E402
from prep.watch.verdicts import Verdicts, report_about  # noqa: E402

QUIET_S = 0.5


class Timed:
    """A gate in a thread of this process that notes when each verdict was entered, and when its file had settled."""

    def __init__(self, folder: Path, workers: int) -> None:
        self.waited: list[float] = []
        self.ended: list[float] = []
        self.gate = Gate(folder, Options(workers=workers, interval_s=1.0, quiet_s=QUIET_S), self._said)
        self.thread = threading.Thread(target=self.gate.run)

    def __enter__(self) -> Self:
        self.thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.gate.stop()
        self.thread.join()

    def until(self, count: int) -> None:
        """Wait for so many verdicts."""
        while len(self.ended) < count:
            time.sleep(0.01)

    def _said(self, entry: Entry) -> None:
        tracked = next(one for one in self.gate.files.files.values() if one.file == entry.file)
        now = time.monotonic()
        self.ended.append(now)
        self.waited.append(now - tracked.since - QUIET_S)


def drop(folder: Path, number: int, surface: tuple) -> Path:
    """A shell no two of which are alike, in the folder in one motion."""
    vertices, triangles = surface
    beside, path = folder.parent / f"beside-{number}", folder / f"shell {number}.stl"
    write_stl(beside, vertices * (1.0 + number * 1e-3), triangles)
    return beside.rename(path)


def latency(place: Path, surface: tuple, count: int) -> None:
    """Files one at a time: the gate's wait, and the bare check's."""
    inbox = place / "latency"
    inbox.mkdir()
    tables = Tables.load()
    asked = Asked(tables.processes.get("extrusion-0.4"), tables)
    bare: list[float] = []
    with Timed(inbox, 1) as timed:
        for number in range(count + 1):  # the first warms the worker
            path = drop(inbox, number, surface)
            timed.until(number + 1)
            begun = time.perf_counter()
            check_files([path], asked)
            bare.append(time.perf_counter() - begun)
    gate, check = statistics.median(timed.waited[1:]), statistics.median(bare[1:])
    print(f"latency     gate {gate:.2f} s, bare check {check:.2f} s, ratio {gate / check:.2f} (bar 1.5), {count} files")


def throughput(place: Path, surface: tuple, count: int) -> None:
    """A heap of files by one worker and by two, from the first verdict to the last, so that start-up is left out."""
    rates = []
    for workers in (1, 2):
        inbox = place / f"heap-{workers}"
        inbox.mkdir()
        for number in range(count + workers):
            drop(inbox, 100 * workers + number, surface)
        with Timed(inbox, workers) as timed:
            timed.until(count + workers)
        ended = timed.ended[workers - 1 :]
        rates.append((len(ended) - 1) / (ended[-1] - ended[0]))
    print(
        f"throughput  one worker {rates[0]:.2f} files/s, two {rates[1]:.2f} files/s, "
        f"ratio {rates[1] / rates[0]:.2f} (bar 1.7)"
    )


def idle(place: Path, known: int, seconds: float) -> None:
    """Files that all have their line in the ledger, and a gate that looks at them."""
    inbox = place / "idle"
    inbox.mkdir()
    for number in range(known):
        (inbox / f"{number}.stl").write_bytes(BASES["stl-binary"][0] + number.to_bytes(4, "little"))
    enter_all(inbox)
    gate = Gate(inbox, Options())
    thread = threading.Thread(target=gate.run)
    thread.start()
    time.sleep(8.0)
    opened = threading.Event()
    sys.addaudithook(lambda event, given: opened.set() if event == "open" and str(given[0]).endswith(".stl") else None)
    before, begun, scans = time_used(), time.perf_counter(), gate.scans
    time.sleep(seconds)
    used, passed, looks = time_used() - before, time.perf_counter() - begun, gate.scans - scans
    gate.stop()
    thread.join()
    print(
        f"idle        {gate.state().known} known files: {100.0 * used / passed:.2f} % of a core (bar 1) "
        f"over {passed:.0f} s and {looks} scans of {1000.0 * used / max(looks, 1):.0f} ms; "
        f"files opened: {'some' if opened.is_set() else 'none'}"
    )


def enter_all(inbox: Path) -> None:
    """A line for every file, without judging any."""
    from prep.build.checked import FaultRecord

    verdicts = Verdicts(inbox)
    verdicts.open()
    gate = Gate(inbox, Options())
    gate.scan(time.monotonic())
    lines = []
    for tracked in gate.files.files.values():
        report = report_about(tracked.file, "mesh", FaultRecord(code="x", what="planted"))
        sha256 = f"{abs(hash(tracked.file)):064x}"
        paths = verdicts.paths(tracked.file, sha256, "")
        drafted = draft(inbox, tracked, tracked.seen, tracked.stamp, sha256, report, paths)
        lines.append(drafted.model_dump_json())
    verdicts.ledger.path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def time_used() -> float:
    """Processor seconds of this process and its threads."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """All three."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--files", type=int, default=12)
    asked.add_argument("--thousands", type=int, default=40)
    asked.add_argument("--known", type=int, default=5000)
    asked.add_argument("--seconds", type=float, default=60.0)
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        idle(place, given.known, given.seconds)
        surface = shell(given.thousands)
        latency(place, surface, given.files)
        throughput(place, surface, given.files)


if __name__ == "__main__":
    main()
