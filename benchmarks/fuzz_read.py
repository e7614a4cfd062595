"""Damaged mesh files by the thousand: counts what the readers answer. Run: python benchmarks/fuzz_read.py [CASES]."""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fixtures.mutated import damaged_files
from prep.errors import PrepError
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh


def main(cases: int = 20_000, seed: int = 20) -> int:
    """Try as many cases as asked, in equal parts for every format; prints the counts, returns 1 on any exception."""
    answers: Counter[str] = Counter()
    slowest, broken = (0.0, ""), 0
    with tempfile.TemporaryDirectory() as folder:
        for path, damage in damaged_files(cases, seed, Path(folder)):
            begun = time.perf_counter()
            try:
                solid = mend(read_mesh(path)).solid
                sound = solid.volume_mm3 > 0.0 and np.isfinite(solid.vertices).all()
                answers["a solid" if sound else "NOT A SOLID"] += 1
                broken += not sound
            except PrepError as fault:
                answers[fault.code] += 1
            except Exception as error:  # noqa: BLE001  that there is none is what is measured
                answers[f"EXCEPTION {type(error).__name__}: {error}"[:100]] += 1
                broken += 1
                print(damage, repr(error)[:200])
            slowest = max(slowest, (time.perf_counter() - begun, damage))
    for answer, count in answers.most_common():
        print(f"{count:7d}  {answer}")
    print(f"{cases} cases, {broken} broken, slowest {slowest[0] * 1e3:.0f} ms")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main(*(int(word) for word in sys.argv[1:])))
