"""`python -m prep.reference` brings the generated pages up to date; `--check` only says which are stale."""

from __future__ import annotations

import sys
from pathlib import Path

from prep.reference.pages import stale_pages, write_pages

ROOT = Path(__file__).resolve().parents[2]


def run(arguments: list[str]) -> int:
    """0 where all is fresh or was made so, 1 where `--check` found stale pages, 2 for other arguments."""
    if arguments not in ([], ["--check"]):
        sys.stderr.write("usage: python -m prep.reference [--check]\n")
        return 2
    paths = stale_pages(ROOT) if arguments else write_pages(ROOT)
    for path in paths:
        sys.stdout.write(f"{'stale' if arguments else 'written'}: {path}\n")
    return 1 if arguments and paths else 0


if __name__ == "__main__":
    sys.exit(run(sys.argv[1:]))
