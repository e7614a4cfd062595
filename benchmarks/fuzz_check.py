"""Damaged mesh files by the thousand through all of `prep check`. Run: python benchmarks/fuzz_check.py [CASES]."""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fixtures.mutated import damaged_files
from prep.build.check_files import Asked, check_files
from prep.tables import Tables

PROCESSES = ("extrusion-0.4", "vat-0.05", "powder-0.1")


def main(cases: int = 20_000, seed: int = 33) -> int:
    """Check as many cases as asked, in equal parts for every format and by three processes in turn."""
    tables = Tables.load()
    asked = [Asked(tables.processes.get(name), tables) for name in PROCESSES]
    answers: Counter[str] = Counter()
    slowest, broken = (0.0, ""), 0
    with tempfile.TemporaryDirectory() as folder:
        for case, (path, damage) in enumerate(damaged_files(cases, seed, Path(folder))):
            begun = time.perf_counter()
            try:
                (one,) = check_files([path], asked[case % len(asked)]).report.files
                answers[f"refused, {one.faults[0].code}" if one.faults else one.verdict] += 1
            except Exception as error:  # noqa: BLE001  that there is none is what is measured
                answers[f"EXCEPTION {type(error).__name__}: {error}"[:100]] += 1
                broken += 1
                print(damage, repr(error)[:200])
            slowest = max(slowest, (time.perf_counter() - begun, damage))
    for answer, count in answers.most_common():
        print(f"{count:7d}  {answer}")
    print(f"{cases} cases, {broken} broken, slowest {slowest[0]:.2f} s")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:])))
