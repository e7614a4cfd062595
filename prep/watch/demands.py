"""`Demands`: what the rules of the moment ask of files, in short, so that a verdict can be told from one by others."""

from __future__ import annotations

import functools
import hashlib
import json
from dataclasses import asdict
from pathlib import Path

from prep.errors import FileTooLarge, OutOfMemory, TookTooLong
from prep.recipe.gate_rules import Rules
from prep.tables import ProcessRow
from prep.watch.settle import Tracked

MOST_NAMES = 100_000
DIGITS = 12
OF_LIMITS = frozenset({FileTooLarge.code, TookTooLong.code, OutOfMemory.code})
"""Faults that another limit in gate.yaml may take away."""


class Demands:
    """The rules, with the figures of their process, and what they ask.

    Parameters
    ----------
    row : ProcessRow, optional
        Of the process, as the shop's tables have it now; None where they cannot be read.

    Attributes
    ----------
    rules : Rules
    """

    def __init__(self, rules: Rules, row: ProcessRow | None = None) -> None:
        self.rules = rules
        figures = asdict(row) if row is not None else {}
        self._of_mesh = functools.lru_cache(maxsize=MOST_NAMES)(
            lambda file: _short([rules.asking(file, Path()).short_hash, figures])
        )
        self._limits = _short([rules.largest, rules.time, rules.memory])

    def of(self, tracked: Tracked) -> str:
        """What is asked of a mesh; nothing of a recipe, which says itself what it asks."""
        return self._of_mesh(tracked.file) if tracked.kind == "mesh" else ""

    def beyond(self, tracked: Tracked) -> str:
        """What is asked of a file that is refused because it goes beyond a limit: that, and the limits."""
        return f"{self.of(tracked)}/{self._limits}"

    def by(self, tracked: Tracked, code: str) -> str:
        """What is asked of a file that has no content that was read, by the fault that says why: limits, or nothing."""
        return self.beyond(tracked) if code in OF_LIMITS else ""

    def all_of(self, tracked: Tracked) -> tuple[str, ...]:
        """All that a verdict by these rules may have been asked."""
        return self.of(tracked), self.beyond(tracked), ""

    def is_otherwise(self, tracked: Tracked) -> bool:
        """Whether the verdict of a file is by other rules than those of now."""
        return tracked.entry is not None and tracked.entry.asked not in self.all_of(tracked)


def _short(asked: object) -> str:
    text = json.dumps(asked, sort_keys=True, default=str)
    return hashlib.sha256(text.encode()).hexdigest()[:DIGITS]
