"""`Troubles`: what keeps a gate from giving verdicts, for as long as it does."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from prep.watch.names import one_line
from prep.watch.settle import Tracked

HELD_S = 10.0
OF_FILES = frozenset({"disk", "shop", "workers"})
"""What several files may wait for at once."""


@dataclass
class Troubles:
    """What is wrong, by what it is about.

    Attributes
    ----------
    said : in words; of one file by its `turn`, of several by a word of OF_FILES, of the gate itself by any other
    """

    said: dict[str, str] = field(default_factory=dict)

    def hold(self, tracked: Tracked, about: str, says: str, now: float, delay: float = HELD_S) -> None:
        """Something other than the file itself keeps it from its verdict: try again after a while."""
        self.said[about] = one_line(says)
        tracked.hold(about, now, delay)

    def hold_for_disk(self, tracked: Tracked, error: OSError, now: float) -> None:
        """Its verdict cannot be written."""
        self.hold(tracked, "disk", f"verdicts wait, they cannot be written: {error.strerror or error}", now)

    def forget(self, files: Iterable[Tracked]) -> None:
        """Say no more of what none of the files waits for."""
        held = {one.held for one in files}
        for about in [about for about in self.said if about in OF_FILES or about.startswith("/")]:
            if about not in held:
                del self.said[about]
