"""`Judging`: files that have settled, carried by workers to their verdicts."""

from __future__ import annotations

import os
import time
import traceback
from collections.abc import Callable
from pathlib import Path

from prep.build.checked import CheckReport, FaultRecord
from prep.recipe.gate_rules import Rules
from prep.watch.demands import Demands
from prep.watch.draft import draft, fault_of, fingerprint_in, hash_of_fault
from prep.watch.entry import Entry, Relation
from prep.watch.job import Job
from prep.watch.listing import Listing
from prep.watch.names import BUILDS, VERDICTS, one_line, verdict_stem
from prep.watch.others import Others
from prep.watch.pool import Failed, Pool
from prep.watch.revisions import by_shape
from prep.watch.settle import NEVER, Settling, Tracked, with_meshes
from prep.watch.tasks import Answer, Build, Compare, Compared, Hash, Hashed, Held, Judge, Judged
from prep.watch.troubles import Troubles
from prep.watch.verdicts import Verdicts, named, report_about
from prep.watch.wording import of_fault, span

BUILD = "build"
ELSEWHERE_S = 1.0
BROKEN_S = 300.0
RENEW_S = 15.0
BUILD_TIMES = 6.0
"""How many times the limit of one file a build may take."""
COPY_AGAIN = "copy the file here again"
Say = Callable[[Entry], None]


class Judging:
    """The files in the hands of workers.

    A verdict is given to a name with a content, by the rules of the moment: the line of the ledger is known by these.
    Where the rules ask something else of a mesh, it is judged again, after what is new. Content that has been judged
    under another name is not judged again, if the same was asked of it: its verdict is entered under the new name,
    with the relation "exact copy". So a rename costs one reading and one line, a restart or a replayed event nothing.

    A recipe's content is its bytes and those of its meshes, so it gets a new verdict, and a new build, whenever one
    of them changes. A file that ends too early has no verdict until it has stood still for `stuck`; then its verdict
    is "stuck", on the content it has.

    Parameters
    ----------
    pools : workers for files, and one for builds, so that a build holds up no verdict
    say : told of every verdict that this gate gives

    Attributes
    ----------
    demands : what the rules of now ask of files; see `take`
    troubles : what keeps the gate from giving verdicts
    once : whether nothing is looked at again later
    """

    def __init__(
        self, listing: Listing, verdicts: Verdicts, files: Settling, pools: tuple[Pool, Pool], say: Say
    ) -> None:
        self.folder, self.listing, self.verdicts, self.files = listing.folder, listing, verdicts, files
        (self.pool, self.builder), self.say = pools, say
        self.demands = Demands(Rules())
        self.troubles = Troubles()
        self.traces: list[str] = []
        self.jobs: list[Job] = []
        self.others = Others(files, verdicts.ledger, self.jobs)
        self.once = False
        self._renewed = 0.0

    @property
    def rules(self) -> Rules:
        """What is asked of files now."""
        return self.demands.rules

    def take(self, demands: Demands, now: float) -> None:
        """From now on ask this of files; those that were asked something else are looked at again."""
        self.demands = demands
        for one in self.files.files.values():
            self._by_these_rules(one, now)

    def _by_these_rules(self, tracked: Tracked, now: float) -> None:
        """Look again at a file whose verdict is by other rules, unless the ledger has one by these."""
        if tracked.phase == "known" and self.demands.is_otherwise(tracked) and not self.recall(tracked):
            tracked.judge_again(now)

    # --- from settled to a worker ----------------------------------------------------------------

    def start(self, tracked: Tracked, now: float, in_hand: dict[str, Tracked]) -> bool:
        """Begin with a file, which is then `in_hand` for its family; whether a worker was free, or none was needed."""
        form = tracked.seen.form
        if form != "file":
            self._without_worker(tracked, fault_of(tracked.seen), now)
            return True
        first = in_hand.get(tracked.family)
        if first is not None and tracked.phase == "settling":
            tracked.wait_for(first, now + ELSEWHERE_S)
            return True
        worker = next(self.pool.free(), None)
        if worker is None:
            return False
        job = Job(
            tracked=tracked,
            seen=tracked.seen,
            worker=worker,
            asking=self.rules.asking(tracked.file, self.folder / "shop"),
            asked=self.demands.of(tracked),
            stamp=tracked.stamp,
            confirming=tracked.phase == "known",
        )
        tracked.phase = "working"
        if tracked.family:
            in_hand[tracked.family] = tracked
        try:
            self._hash(job)
        except OSError as error:
            self.troubles.hold(tracked, "workers", f"no worker can be started: {error.strerror or error}", now)
            return True
        self.jobs.append(job)
        return True

    def recall(self, tracked: Tracked) -> bool:
        """Whether the ledger knows the file by its stamp, so that it need not be read."""
        lines = self.verdicts.ledger.of_file(tracked.file)
        valid = self.demands.all_of(tracked)
        own = (line for line in reversed(lines) if line.stamp and line.stamp == tracked.stamp and line.asked in valid)
        entry = next(own, None)
        if entry is not None:
            tracked.know(entry)
        return entry is not None

    def collect(self, now: float) -> bool:
        """Take what workers have answered, and give them what follows; whether anything came of it."""
        moved = False
        for job in list(self.jobs):
            try:
                answer = job.worker.answer()
                if answer is None:
                    continue
                moved = True
                self._go_on(job, answer, now)
            except OSError as error:
                self.troubles.hold_for_disk(job.tracked, error, now)
            except Exception as fault:  # noqa: BLE001  # a fault of ours on one file must not stop the others
                self.traces.append(f"{job.file}: {traceback.format_exc()}")
                job.worker.stop()
                says = f"{job.file} waits: a fault of prep, {type(fault).__name__}: {fault}"
                self.troubles.hold(job.tracked, job.tracked.turn, says, now, BROKEN_S)
            if not job.worker.busy:
                self._drop(job, now)
        if now - self._renewed > RENEW_S:
            self._renewed = now
            for job in self.jobs:
                for claim in job.claims:
                    claim.renew()
        return moved

    def _drop(self, job: Job, now: float) -> None:
        """Let go of a job that has come to its end, whatever end that is."""
        freed = {job.tracked.turn, *(claim.name for claim in job.claims)}
        job.release()
        self.jobs.remove(job)
        tracked = job.tracked
        if tracked.phase == "working" or tracked.stamp != job.stamp:  # it changed on the way
            tracked.again(now, max(tracked.since + self.rules.quiet - now, 0.0))
        self._by_these_rules(tracked, now)  # they may have changed on the way as well
        for other in self.files.files.values():
            if other.wants in freed:
                other.due = min(other.due, now)

    # --- what an answer leads to -----------------------------------------------------------------

    def _go_on(self, job: Job, answer: Answer | Failed, now: float) -> None:
        match answer:
            case Hashed():
                self._hashed(job, answer, now)
            case Judged():
                self._judged(job, answer, now)
            case Compared():
                relations = by_shape(job.olds, answer.records)
                self._finish(job, relations, now)
            case Held(fault=fault):
                where = f" ({fault.where})".replace(f"{self.folder}{os.sep}", "") if fault.where else ""
                self.troubles.hold(job.tracked, "shop", f"files wait: {fault.what}: {fault.found}{where}", now)
            case Failed():
                self._failed(job, answer, now)

    def _hash(self, job: Job) -> None:
        most = self.rules.largest * 1_000_000
        task = Hash(self.folder / job.tracked.seen.name, self.folder, job.tracked.kind == "recipe", most)
        job.do("hash", task, self.rules.time)

    def _hashed(self, job: Job, found: Hashed, now: float) -> None:
        tracked = job.tracked
        if found.trouble is not None:
            if job.confirming and tracked.entry is not None:
                tracked.know(tracked.entry, self._confirm(now))
            elif found.waits and not tracked.has_stood(now, self.rules.stuck, by_share=self.once):
                tracked.unfinish(found.trouble, now, self.rules.quiet, self.rules.stuck)
            else:
                self._without_worker(tracked, found.trouble, now)
            return
        if tracked.kind == "recipe":
            if found.meshes is None:
                tracked.know(None)
                return
            if found.meshes != tracked.meshes:  # their stamps count from now on, so it has to settle with them
                tracked.meshes = found.meshes
                tracked.stamp = with_meshes(tracked.seen.stamp, self.listing.stamps(found.meshes))
                job.stamp = tracked.stamp
                tracked.again(now, self.rules.quiet)
                return
        job.sha256 = found.sha256
        entry = self._known(tracked, found.sha256)
        if entry is not None and (job.confirming or self.verdicts.is_whole(entry)):
            once_more = not job.confirming or entry.verdict == "stuck"  # a copy may go on after hours
            tracked.know(entry, self._confirm(now) if once_more else NEVER)
            return
        if not job.take(found.sha256, self.verdicts.claims):
            tracked.leave(found.sha256, now + ELSEWHERE_S)
            return
        entry = self._known(tracked, found.sha256)  # another gate may have been quicker
        if entry is not None and self.verdicts.is_whole(entry):
            tracked.know(entry, self._confirm(now))
        elif tracked.kind == "recipe":
            self._build(job, now)
        elif not self._copied(job, now):
            job.picture = self.verdicts.spare_picture()
            task = Judge(self.folder / tracked.seen.name, found.sha256, job.asking, job.picture)
            job.do("judge", task, self.rules.time)

    def _known(self, tracked: Tracked, sha256: str) -> Entry | None:
        """The verdict that a file with this content has by the rules of now, whoever gave it."""
        self.verdicts.ledger.refresh()
        for asked in self.demands.all_of(tracked):
            entry = self.verdicts.ledger.find(tracked.file, sha256, asked)
            entry = entry or self.verdicts.left_behind(tracked.file, sha256, asked)
            if entry is not None:
                return entry
        return None

    def _build(self, job: Job, now: float) -> None:
        """Build a recipe, if no other is being built, here or anywhere."""
        worker = next(self.builder.free(), None)
        if worker is None or not job.take(BUILD, self.verdicts.claims):
            job.tracked.leave(BUILD, now + ELSEWHERE_S)
            return
        builds = self.verdicts.folder / BUILDS
        job.worker, job.out = worker, builds / verdict_stem(job.file, job.sha256)
        job.picture, path = self.verdicts.spare_picture(), self.folder / job.tracked.seen.name
        task = Build(path, self.folder, job.sha256, job.out, builds / ".store", job.asking, job.picture)
        job.do("build", task, BUILD_TIMES * self.rules.time)

    def _copied(self, job: Job, now: float) -> bool:
        """Enter the verdict that the same content has under another name, if the same was asked of it."""
        asked = job.asked
        for line, copied in self.others.of_content(job.tracked, job.sha256):
            report = self.verdicts.report_of(line) if line.asked == asked and line.file != job.file else None
            if report is None:
                continue
            shapes = [one for one in line.relations if one.kind in {"same shape", "differs"} and one.other != job.file]
            entry = self._entry(job, named(report, job.file))
            _, _, picture = self.verdicts.paths(job.file, job.sha256, job.asked)
            spare = job.picture = self.verdicts.picture_again(line)
            changes = {
                "fingerprint": line.fingerprint,
                "thumbnail": picture if spare else None,
                "relations": (copied, *shapes, *self.others.by_name(job.tracked)),
            }
            self._enter(job.tracked, entry.model_copy(update=changes), named(report, job.file), spare, now)
            return True
        return False

    def _judged(self, job: Job, found: Judged, now: float) -> None:
        tracked = job.tracked
        if found.report is None:  # it was written to while it was read
            tracked.again(now, self.rules.quiet)
            return
        if found.unfinished is not None:
            if tracked.has_stood(now, self.rules.stuck, by_share=self.once):
                job.judged = found
                self._finish(job, (), now, stuck=True)
            else:
                tracked.unfinish(found.unfinished, now, self.rules.quiet, self.rules.stuck)
            return
        job.judged = found
        fingerprint = fingerprint_in(found.report)
        if tracked.kind == "recipe" or fingerprint is None:
            self._finish(job, (), now)
            return
        job.olds = self.others.to_compare(tracked, job.sha256, fingerprint)
        if not job.olds:
            self._finish(job, (), now)
            return
        drafted = self._entry(job, found.report)
        job.draft = drafted.model_copy(update={"fingerprint": fingerprint})
        names = {one.file: one.seen.name for one in self.files.files.values()}
        task = Compare(
            self.folder / tracked.seen.name, tuple(self.folder / names[old.file] for old in job.olds), job.asking
        )
        job.do("compare", task, self.rules.time)

    def _failed(self, job: Job, failed: Failed, now: float) -> None:
        if failed.trace:
            self.traces.append(f"{job.file}: {failed.trace}")
        if job.step == "compare":  # the verdict stands without the comparison
            self._finish(job, (), now)
        elif failed.again and job.tries == 0 and job.task is not None:
            job.tries = 1
            job.do(job.step, job.task, self.rules.time * (BUILD_TIMES if job.step == "build" else 1.0))
        elif job.sha256:
            job.asked = self.demands.by(job.tracked, failed.fault.code) or job.asked
            job.judged = Judged(report_about(job.file, job.tracked.kind, failed.fault))
            self._finish(job, (), now)
        else:
            self._without_worker(job.tracked, failed.fault, now)

    # --- verdicts --------------------------------------------------------------------------------

    def _finish(self, job: Job, relations: tuple[Relation, ...], now: float, *, stuck: bool = False) -> None:
        """Write the verdict of a job and let go of its file."""
        judged, report = job.judged, job.report
        if judged is None or report is None:
            return
        if not all(claim.still_held() for claim in job.claims):  # we slept longer than our lease: another has it now
            job.tracked.again(now, ELSEWHERE_S)
            return
        report = named(report, job.file)
        entry = self._entry(job, report)
        picture = job.picture if judged.picture and job.picture is not None and job.picture.exists() else None
        last = next(self.verdicts.builds_of(job.file, job.tracked.entry), None)
        changes: dict[str, object] = {
            "fingerprint": fingerprint_in(report),
            "relations": (*relations, *self.others.by_name(job.tracked)),
            "thumbnail": self.verdicts.paths(job.file, job.sha256, job.asked)[2] if picture else None,
        }
        if job.tracked.kind == "recipe":
            built = f"{VERDICTS}/{BUILDS}/{job.out.name}/{judged.built}" if job.out and judged.built else None
            changes["report"] = built or last
            if built is not None and entry.verdict == "pass":
                changes["reason"] = judged.says
            if built is None:
                kept = "; the last good result stays linked" if last else ""
                changes["reason"] = f"not built: {entry.reason}{kept}"
        if stuck and judged.unfinished is not None:
            reason, _ = of_fault(judged.unfinished, job.file)
            says = f"has stood still for {span(self.rules.stuck)}: {reason}"
            changes |= {"verdict": "stuck", "reason": says, "action": COPY_AGAIN}
        self._enter(job.tracked, entry.model_copy(update=changes), report, picture, now)
        if job.tracked.kind == "recipe":
            self.verdicts.prune_builds(job.file, job.tracked.entry)

    def _without_worker(self, tracked: Tracked, fault: FaultRecord, now: float) -> None:
        """Refuse what has no content that may be read."""
        sha256 = hash_of_fault(fault)
        asked = self.demands.by(tracked, fault.code)
        try:
            entry = self._known(tracked, sha256)
            if entry is not None:
                tracked.know(entry)
                return
            report = report_about(tracked.file, tracked.kind, fault)
            paths = self.verdicts.paths(tracked.file, sha256, asked)
            entry = draft(self.folder, tracked, tracked.seen, tracked.stamp, sha256, report, paths)
            entry = entry.model_copy(update={"asked": asked, "told": self._told(tracked.file)})
            self._enter(tracked, entry, report, None, now)
        except OSError as error:
            self.troubles.hold_for_disk(tracked, error, now)

    def _entry(self, job: Job, report: CheckReport) -> Entry:
        paths = self.verdicts.paths(job.file, job.sha256, job.asked)
        drafted = draft(self.folder, job.tracked, job.seen, job.stamp, job.sha256, report, paths)
        seconds = round(time.monotonic() - job.begun, 3)
        return drafted.model_copy(update={"asked": job.asked, "seconds": seconds, "told": self._told(job.file)})

    def _told(self, file: str) -> tuple[str, ...]:
        return tuple(map(one_line, self.rules.told_of(file)))

    def _enter(self, tracked: Tracked, entry: Entry, report: CheckReport, picture: Path | None, now: float) -> None:
        entered = self.verdicts.write(entry, report, picture)
        tracked.know(entered, self._confirm(now))
        if entered == entry:
            self.say(entry)

    def _confirm(self, now: float) -> float:
        """When a file is read once more: some shares tell size and time before the content is there."""
        return NEVER if self.once else now + self.rules.stuck
