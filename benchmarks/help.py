"""Wall time of `prep --help` against that of a bare `import click`, in one run.

    python benchmarks/help.py

The work order asks for a ratio of at most 1.5.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time

ROUNDS = 25
BARE = [sys.executable, "-c", "import click"]
HELP = [sys.executable, "-m", "prep", "--help"]


def seconds(command: list[str]) -> float:
    """Wall time of one run of a command."""
    start = time.perf_counter()
    subprocess.run(command, check=True, capture_output=True)
    return time.perf_counter() - start


def run() -> None:
    """Print both medians and their ratio; the two are run in turn, so that a busy machine slows both."""
    seconds(BARE), seconds(HELP)
    pairs = [(seconds(BARE), seconds(HELP)) for _ in range(ROUNDS)]
    bare, shown = (statistics.median(each) for each in zip(*pairs, strict=True))
    print(f"import click   {bare * 1000:6.1f} ms")
    print(f"prep --help    {shown * 1000:6.1f} ms")
    print(f"ratio          {shown / bare:6.2f}    (asked for: at most 1.50)")


if __name__ == "__main__":
    run()
