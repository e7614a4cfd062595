"""Two gates on one folder, killed at random moments, while files arrive in every way people copy them.

Files go on arriving for as long as gates are killed, so that both meet in every state. Prints what was dropped and
judged, everything that is not as it must be (nothing, one hopes), and the memory of a gate and its worker over a
stretch without kills. Run with ``python benchmarks/soak_watch.py``; `--files 2000 --kills 100` are the full soak. With
`--share` each gate watches through a mount of its own of a share that behaves badly (`fixtures/bad_share.py`), and
files are dropped behind it.
"""

from __future__ import annotations

import argparse
import contextlib
import dataclasses
import hashlib
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from fixtures.bad_share import WORST, Manners, mounted, why_not  # noqa: E402  # found once the root is on the path
from fixtures.dropping import Dropper, ledger_lines, missing, wrongs  # noqa: E402  # found once the root is on the path
from prep.watch.gate import Gate  # noqa: E402

RULES = "stuck: 8 s\nquiet: 0.5 s\ninterval: 0.4 s\n"
PATIENCE_S = 600.0
SHORTEST_S, LONGEST_S = 0.2, 6.0
"""Between two kills; longer where files arrive so slowly that the kills would be over before them."""
STRETCHES = 9


def gate(folder: Path, errors: Path) -> subprocess.Popen[bytes]:
    """A gate in a process of its own, as a shop would start it."""
    with errors.open("ab") as log:
        command = [sys.executable, "-m", "prep", "watch", str(folder)]
        return subprocess.Popen(command, cwd=ROOT, stdout=subprocess.DEVNULL, stderr=log)


def soak(
    folder: Path, files: int, kills: int, seed: int = 1, pause_s: float = 0.02, share: Manners | None = None
) -> dict[str, object]:
    """Drop files while gates are killed and started again; what was found wrong at the end, and some figures.

    Parameters
    ----------
    share : how the share behaves through which each gate sees the folder; left out, they see the folder itself
    """
    with contextlib.ExitStack() as mounts:
        watched = [folder, folder]
        if share is not None:
            ways = [dataclasses.replace(share, seed=seed + number) for number in range(2)]
            places = [folder.parent / f"{folder.name}.mount-{number}" for number in range(2)]
            watched = [mounts.enter_context(mounted(folder, *where)) for where in zip(places, ways, strict=True)]
        return _soaked(folder, watched, files, kills, np.random.default_rng(seed), Dropper(folder, seed, pause_s))


def _soaked(
    folder: Path, watched: list[Path], files: int, kills: int, draw: np.random.Generator, dropper: Dropper
) -> dict[str, object]:
    (folder / "gate.yaml").write_text(RULES, encoding="utf-8")
    errors = folder.parent / f"{folder.name}.stderr"
    begun = time.perf_counter()
    gates = [gate(one, errors) for one in watched]
    ended = 0
    dropping = threading.Thread(target=dropper.drop, args=(files,))
    dropping.start()
    try:
        longest = max(LONGEST_S, 2.0 * dropper.pause_s * files / max(kills, 1) - SHORTEST_S)
        for _ in range(kills):
            time.sleep(float(draw.uniform(SHORTEST_S, longest)))
            victim = int(draw.integers(2))
            gates[victim].kill()
            gates[victim].wait()
            gates[victim] = gate(watched[victim], errors)
        dropping.join()
        until = time.monotonic() + PATIENCE_S
        while missing(folder, dropper.final) and time.monotonic() < until:
            for number, one in enumerate(gates):
                if one.poll() is not None:  # as whatever keeps a shop's gate running would do
                    ended += 1
                    gates[number] = gate(watched[number], errors)
            time.sleep(0.5)
        time.sleep(3.0)
    finally:
        for one in gates:
            one.terminate()
        for one in gates:
            one.wait(60.0)
    lines = ledger_lines(folder)
    told = errors.read_text(encoding="utf-8").splitlines()
    return {
        "dropped": len(dropper.final),
        "kills": kills,
        "ended": ended,
        "lines": len(lines),
        "verdicts": dict(Counter(str(line["verdict"]) for line in lines)),
        "seconds": round(time.perf_counter() - begun, 1),
        "wrong": [*wrongs(folder, dropper.final, dropper.verdicts), *believed(folder, dropper.final)],
        "said": Counter(line[21:100] for line in told if line[:2] == "20").most_common(8),
    }


def believed(folder: Path, final: dict[str, bytes]) -> list[str]:
    """Files of which a gate that starts now believes, by what the listing says, that they hold something else."""
    gate = Gate(folder)
    gate.scan(time.monotonic())
    found = []
    for one in gate.files.files.values():
        digits = hashlib.sha256(final[one.file]).hexdigest() if one.file in final else ""
        if one.entry is not None and one.entry.sha256 != digits:
            found.append(f"{one.file}: a gate that starts now believes it holds other bytes")
    return found


def memory_mb(parent: int) -> tuple[float, float]:
    """Resident memory of a process, and of its children together."""
    own, children = 0.0, 0.0
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            facts = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        held = float(facts.get("VmRSS", "0 kB").split()[0]) / 1024.0
        if int(facts["Pid"]) == parent:
            own = held
        elif int(facts["PPid"]) == parent:
            children += held
    return own, children


def flat(folder: Path, files: int) -> dict[str, object]:
    """Memory of one gate and its worker without kills: the most in the last third of the files, and in the middle one.

    Within a stretch a worker may have been replaced, as happens after so many tasks, and be small again for a while.
    """
    (folder / "gate.yaml").write_text(RULES, encoding="utf-8")
    dropper = Dropper(folder, 2, 0.0)
    one = gate(folder, folder.parent / f"{folder.name}.stderr")
    samples = []
    try:
        for stretch in range(STRETCHES):
            dropper.drop(files // STRETCHES, first=stretch * (files // STRETCHES))
            until = time.monotonic() + PATIENCE_S
            while missing(folder, dropper.final) and time.monotonic() < until:
                time.sleep(0.5)
            samples.append(memory_mb(one.pid))
    finally:
        one.terminate()
        one.wait(60.0)
    third = STRETCHES // 3
    middle, last = (np.max(samples[begin : begin + third], axis=0) for begin in (third, 2 * third))
    return {
        "files": files,
        "gate_mb": [round(own, 1) for own, _ in samples],
        "worker_mb": [round(work, 1) for _, work in samples],
        "gate_growth": round(float(last[0] / middle[0]) - 1.0, 3),
        "worker_growth": round(float(last[1] / middle[1]) - 1.0, 3),
    }


def main() -> None:
    """Soak, then the memory of a gate that lives."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--files", type=int, default=2000)
    asked.add_argument("--kills", type=int, default=100)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--pause", type=float, default=0.25, help="seconds between two drops")
    asked.add_argument("--flat", type=int, default=600, help="files of the stretch without kills")
    asked.add_argument("--share", action="store_true", help="each gate on its own mount of a share that behaves badly")
    given = asked.parse_args()
    if given.share and why_not():
        sys.exit(f"no share can be mounted here: {why_not()}")
    with tempfile.TemporaryDirectory() as place:
        inbox = Path(place) / "inbox"
        inbox.mkdir()
        share = WORST if given.share else None
        found = soak(inbox, given.files, given.kills, given.seed, given.pause, share)
        for word, value in found.items():
            print(f"{word:9} {value}")
        calm = Path(place) / "calm"
        calm.mkdir()
        print(f"{'memory':9} {flat(calm, given.flat)}")
    sys.exit(1 if found["wrong"] else 0)


if __name__ == "__main__":
    main()
