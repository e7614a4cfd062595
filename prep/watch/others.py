"""`Others`: what is known of the other files of the folder, for telling how one stands to them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from prep.watch.entry import Entry, Relation
from prep.watch.job import Job
from prep.watch.ledger import VerdictLedger
from prep.watch.revisions import by_name, earlier, exact_copy, same_shapes
from prep.watch.settle import Settling, Tracked

MOST_COMPARED = 2


@dataclass(frozen=True)
class Others:
    """The files of a folder beside one of them.

    Attributes
    ----------
    jobs : files in the hands of workers; the list that changes as they come and go
    """

    files: Settling
    ledger: VerdictLedger
    jobs: list[Job]

    def verdicts(self, tracked: Tracked) -> Iterator[Entry]:
        """Verdicts of the other files that are in the folder now.

        Those that another gate has just given are among them; of files that are being compared themselves, it is what
        their verdicts will be.
        """
        for one in self.files.files.values():
            if one is tracked:
                continue
            entry = one.entry
            if one.phase == "elsewhere":
                lines = (line for line in reversed(self.ledger.of_file(one.file)) if line.sha256 == one.wants)
                entry = next(lines, entry)
            if entry is not None:
                yield entry
        compared = [job for job in self.jobs if self.files.files.get(job.tracked.seen.name) is job.tracked]
        yield from (job.draft for job in compared if job.draft is not None and job.tracked is not tracked)

    def to_compare(self, tracked: Tracked, sha256: str, fingerprint: str) -> tuple[Entry, ...]:
        """What a shape is to be compared with: a file of the same shape, and the nearest earlier revision by name."""
        self.ledger.refresh()
        others = [entry for entry in self.verdicts(tracked) if entry.sha256 != sha256]
        olds = {entry.file: entry for entry in same_shapes(tracked.file, fingerprint, others)[:1]}
        before = earlier(tracked.file, others)
        olds |= {before.file: before} if before is not None else {}
        return tuple(olds.values())[:MOST_COMPARED]

    def of_content(self, tracked: Tracked, sha256: str) -> Iterator[tuple[Entry, Relation]]:
        """Verdicts that the same content has had under any name, and what to call the file as a copy of that.

        First those of files that hold it now, then of files that have gone, then of files that hold something else.
        """
        lines = [line for line in self.ledger.of_content(sha256) if line.verdict != "stuck"]
        others = [one for one in self.files.files.values() if one is not tracked]
        now = {one.file: one.entry for one in others if one.entry is not None and one.entry.stamp == one.stamp}
        same = {file for file, entry in now.items() if entry.sha256 == sha256}
        here = {one.file for one in others}
        for line in sorted(lines, key=lambda line: (line.file not in same, line.file in here)):
            yield line, exact_copy(line, now.get(line.file), here=line.file in here)

    def by_name(self, tracked: Tracked) -> tuple[Relation, ...]:
        """What the names alone tell."""
        return by_name(tracked.file, (one.file for one in self.files.files.values() if one.kind == tracked.kind))
