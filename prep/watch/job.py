"""`Job`: one file on its way from settled to its verdict, and what it has come to so far."""

from __future__ import annotations

import contextlib
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from prep.build.checked import CheckReport
from prep.recipe.gate_rules import Asking
from prep.watch.claims import Claim, Claims
from prep.watch.entry import Entry, Relation
from prep.watch.listing import Seen
from prep.watch.pool import Worker
from prep.watch.settle import Tracked
from prep.watch.tasks import Judged, Task

Step = Literal["hash", "judge", "compare", "build"]


@dataclass(eq=False)
class Job:
    """One file in the hands of a worker.

    Attributes
    ----------
    seen, stamp : what the listing said of the file when the job began; nothing later may stand beside its content
    asked : what is asked of it in short, as the ledger has it
    confirming : whether a file that has its verdict is only read once more
    claims : on its content, and on the build for a recipe; released with the job
    olds : files its shape is compared with
    draft : its verdict without relations, while it is being compared
    """

    tracked: Tracked
    seen: Seen
    worker: Worker
    asking: Asking
    asked: str
    stamp: str
    confirming: bool
    step: Step = "hash"
    task: Task | None = None
    tries: int = 0
    sha256: str = ""
    claims: list[Claim] = field(default_factory=list)
    picture: Path | None = None
    out: Path | None = None
    judged: Judged | None = None
    relations: tuple[Relation, ...] = ()
    olds: tuple[Entry, ...] = ()
    draft: Entry | None = None
    begun: float = field(default_factory=time.monotonic)

    @property
    def file(self) -> str:
        """Name of its file."""
        return self.tracked.file

    @property
    def report(self) -> CheckReport | None:
        """What has been found."""
        return self.judged.report if self.judged is not None else None

    def do(self, step: Step, task: Task, limit_s: float) -> None:
        """Hand the next task to its worker."""
        self.step, self.task = step, task
        self.worker.send(task, limit_s)

    def take(self, name: str, claims: Claims) -> bool:
        """Claim something for as long as the job lasts; whether nobody else has it."""
        claim = claims.take(name)
        if claim is not None:
            self.claims.append(claim)
        return claim is not None

    def release(self) -> None:
        """Free what was claimed, and take away a picture that nobody wants."""
        for claim in reversed(self.claims):
            with contextlib.suppress(OSError):  # the lease will free it
                claim.release()
        self.claims.clear()
        if self.picture is not None:
            with contextlib.suppress(OSError):
                self.picture.unlink(missing_ok=True)
            self.picture = None
