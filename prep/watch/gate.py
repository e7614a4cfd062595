"""`Gate`: looks at the folder, judges what has settled, and shows it on the board, until it is told to stop."""

from __future__ import annotations

import errno
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from prep.errors import CannotOpenFile, NoFolder, PrepError
from prep.recipe.gate_rules import GATE_FILE, Rules, read_rules
from prep.tables import Tables
from prep.watch.board import board_page
from prep.watch.demands import Demands
from prep.watch.entry import Entry
from prep.watch.heartbeat import Heartbeat
from prep.watch.hint import Hint
from prep.watch.instead import Instead, of_recipe, of_revision
from prep.watch.judging import RENEW_S, Judging
from prep.watch.listing import Listing, Presence, Seen
from prep.watch.names import BOARD, one_line, shown
from prep.watch.pool import Pool, wait_for
from prep.watch.revisions import superseded
from prep.watch.rules import stated
from prep.watch.settle import NEVER, Settling
from prep.watch.state import GateState
from prep.watch.verdicts import Verdicts
from prep.watch.whole_file import utc, write_whole
from prep.watch.wording import of_rules, waiting_for

TRIES = 4
AGAIN_S = 1.0
PASSING = frozenset({errno.EIO, errno.ESTALE, errno.EAGAIN, errno.ETIMEDOUT})
"""What a share says that is away for a moment."""
HINT_GAP_S = 0.5
BOARD_GAP_S = 1.0
BOARD_IDLE_S = 60.0
BOARD_SHARE = 20.0
"""A board that takes long to write is written so much more seldom."""


@dataclass(frozen=True)
class Options:
    """What the command line says over gate.yaml; None leaves it to the file."""

    workers: int = 1
    interval_s: float | None = None
    quiet_s: float | None = None

    def over(self, rules: Rules) -> Rules:
        """The rules with these in them."""
        changes: dict[str, float] = {}
        if self.interval_s is not None:
            changes["interval"] = self.interval_s
        if self.quiet_s is not None:
            changes["quiet"] = self.quiet_s
        return rules.model_copy(update=changes) if changes else rules


class Gate:
    """One gate on one folder.

    Parameters
    ----------
    say : function of an entry, called when this gate has given a verdict
    listing : how the folder is listed; another may stand in for a share that behaves badly

    Raises
    ------
    NoFolder
        The folder is not there, or cannot be written to.
    PrepError, Faults
        gate.yaml or a table of the shop is wrong; once it runs, a gate keeps the last good rules instead.
    """

    def __init__(
        self,
        folder: Path,
        options: Options | None = None,
        say: Callable[[Entry], None] = lambda _: None,
        listing: Listing | None = None,
    ) -> None:
        self.folder = folder
        self.options = options or Options()
        self._refuse_no_folder()
        self.rules = self.options.over(read_rules(folder))
        self._process = Tables.load(folder / "shop").processes.get(self.rules.process)
        self.listing = listing or Listing(folder)
        self.presence = Presence()
        self.files = Settling(self.rules.quiet)
        self.verdicts = Verdicts(folder)
        self.pool = Pool(self.options.workers, self.rules.memory)
        self.builder = Pool(1, self.rules.memory)
        self.judging = Judging(self.listing, self.verdicts, self.files, (self.pool, self.builder), say)
        self.judging.take(Demands(self.rules, self._process), time.monotonic())
        self.heart = Heartbeat(self.verdicts.folder, self.verdicts.room)
        self.stopping = False
        self.scans = 0
        self._hint: Hint | None = None
        self._rules_stamp = ""
        self._rules_seen = ("", 0.0)
        self._last_good = ""
        self._scan_s = 0.0
        self._gates: tuple[str, ...] = ()
        self._dirty = True
        self._board_due = 0.0
        self._told: dict[str, str] = {}

    def run(self, *, once: bool = False) -> None:
        """Work until `stop`; or, with `once`, until everything that has settled has its verdict.

        Raises
        ------
        NoFolder
            The folder `verdicts` cannot be made.
        """
        self._open()
        self.judging.once = once
        hint = self._hint = None if once else Hint(self.folder)
        if not once:
            for worker in self.pool.workers:
                worker.start()
        try:
            self._work(hint, once=once)
        finally:
            if hint is not None:
                self._hint = None
                hint.stop()
            for job in self.judging.jobs:
                job.release()
            self.pool.stop()
            self.builder.stop()
            self._show()
            self._beat()
            self.heart.end()

    def stop(self) -> None:
        """Stop after the turn that is going on."""
        self.stopping = True
        if self._hint is not None:
            self._hint.wake()

    def _work(self, hint: Hint | None, *, once: bool) -> None:
        begun, next_scan = time.monotonic(), 0.0
        while not self.stopping:
            now = time.monotonic()
            if now >= next_scan:
                self.scan(now)
                next_scan = now + (self.rules.quiet if once else self.rules.interval)
            self.turn(now)
            if once and self.scans > 1 and self._all_done(begun):
                return
            if hint is not None and hint.taken():
                next_scan = min(next_scan, now + HINT_GAP_S)
            workers = [*self.pool.workers, *self.builder.workers]
            has_room = any(self.pool.free())
            board = self._board_due + (0.0 if self._dirty else BOARD_IDLE_S)
            soon = min(next_scan, board, self.files.next_due() if has_room else NEVER)
            pipe = hint.pipe if hint is not None else None
            longest = min(self.rules.interval, RENEW_S) if self.judging.jobs else self.rules.interval
            wait_for(workers, min(soon - time.monotonic(), longest), pipe)

    def _all_done(self, begun: float) -> bool:
        """Whether nothing is left that had settled since the first look."""
        files = self.files.files.values()
        waiting = any(one.phase == "settling" and not one.held and one.since <= begun + 1e-3 for one in files)
        return not self.judging.jobs and not waiting

    def scan(self, now: float) -> None:
        """One look at the folder."""
        self.scans += 1
        faults = self.judging.troubles.said
        try:
            listing = self.listing.look()
        except OSError as error:
            faults["share"] = one_line(f"the folder cannot be listed: {error.strerror or error}")
            self._beat()
            return
        good = self.presence.take(listing)
        faults.pop("share", None)
        if not good:
            faults["share"] = self.presence.hiccup
        self._mind_rules(now)
        self._mind_name()
        recipes = {name: one.meshes for name, one in self.files.files.items() if one.meshes}
        stamps = {name: self.listing.stamps(meshes) for name, meshes in recipes.items()}
        before = len(self.files.files)
        changed = self.files.take(self.presence.present, now, stamps)
        try:
            new = self.verdicts.ledger.refresh()
            self._mind_ledger(now)
        except OSError as error:
            faults["ledger"] = one_line(f"the ledger cannot be read: {error.strerror or error}")
        else:
            faults.pop("ledger", None)
            self._dirty |= bool(new)
            for tracked in changed:
                if tracked.phase == "settling":
                    self.judging.recall(tracked)
        self._dirty |= bool(changed) or len(self.files.files) != before
        if good:
            self._last_good = utc()
        self._scan_s = time.monotonic() - now
        self._beat()

    def turn(self, now: float) -> None:
        """Take what workers have answered, give them what is due, and bring the board up to date."""
        if self.judging.collect(now):
            self._dirty = True
        self.judging.troubles.forget(self.files.files.values())
        in_hand = self.files.in_hand()
        for tracked in self.files.due(now) if any(self.pool.free()) else ():
            if not self.judging.start(tracked, now, in_hand):
                break
            self._dirty = True
        if (self._dirty and now >= self._board_due) or now >= self._board_due + BOARD_IDLE_S:
            self._show()

    # --- what it says of itself -----------------------------------------------------------------

    def state(self) -> GateState:
        """What the gate says of itself now."""
        files = self.files.files.values()
        words = stated(self.rules, self._process)
        unread = self.verdicts.ledger.unreadable
        faults = dict(self.judging.troubles.said)
        if unread:
            faults["lines"] = f"{unread} lines of verdicts/ledger.jsonl cannot be read, and are passed over"
        return GateState(
            folder=one_line(self.folder.resolve().name),
            process=words["process"],
            bed=words["bed"],
            wall=words["wall"],
            rules=tuple(words["rules"].splitlines()),
            last_good_scan=self._last_good,
            scan_seconds=round(self._scan_s, 3),
            known=sum(one.phase == "known" for one in files),
            copying=tuple((one.file, waiting_for(one.trouble)) for one in files if one.trouble),
            stuck=tuple((one.file, one.entry.reason) for one in files if one.entry and one.entry.verdict == "stuck"),
            gates=self._gates,
            interval_s=self.rules.interval,
            told=tuple(map(one_line, self.rules.told)),
            faults=tuple(faults.values()),
        )

    def board_entries(self) -> list[Entry]:
        """Verdicts of what is in the folder, by file the oldest first and the one on its present content last."""
        found: list[Entry] = []
        for one in self.files.files.values():
            lines = self.verdicts.ledger.of_file(one.file)
            if one.entry is not None and lines and lines[-1] is not one.entry:
                lines = [line for line in lines if line is not one.entry] + [one.entry]
            found += lines
        return found

    def _judged_otherwise(self) -> set[str]:
        return {one.file for one in self.files.files.values() if one.last and self.judging.demands.is_otherwise(one)}

    def _instead(self) -> dict[str, Instead]:
        """Files that are not what should be printed: a recipe is built from them, or a later revision is there."""
        files = self.files.files.values()
        given = {one.file: one.entry.verdict for one in files if one.entry is not None}
        built = [(one, mesh) for one in files if one.entry is not None for mesh in one.meshes]
        found = {shown(mesh.name): of_recipe(one.file) for one, mesh in built if mesh.parent == self.folder}
        for kind in ("mesh", "recipe"):
            later = superseded(one.file for one in files if one.kind == kind)
            found |= {old: of_revision(new, given.get(new)) for old, new in later.items()}
        return found

    def _show(self) -> None:
        begun = time.monotonic()
        self._dirty = False
        try:
            page = board_page(self.board_entries(), self.state(), self._judged_otherwise(), self._instead())
            write_whole(self.folder / BOARD, page.encode(), self.verdicts.room)
        except OSError as error:
            self.judging.troubles.said["board"] = one_line(f"the board cannot be written: {error.strerror or error}")
        else:
            self.judging.troubles.said.pop("board", None)
        self._complain()
        now = time.monotonic()
        self._board_due = now + max(BOARD_GAP_S, BOARD_SHARE * (now - begun))

    def _beat(self) -> None:
        try:
            self._gates = self.heart.alive(self.rules.interval)
            self.heart.beat(self.state())
        except OSError as error:
            self.judging.troubles.said["heartbeat"] = one_line(f"no heartbeat: {error.strerror or error}")
        else:
            self.judging.troubles.said.pop("heartbeat", None)
        self._complain()

    def _complain(self) -> None:
        """Say on stderr what is wrong, once when it begins and once when it is over."""
        faults = self.judging.troubles.said
        for about, said in faults.items():
            if self._told.get(about) != said:
                sys.stderr.write(f"{utc()} {said}\n")
        for about in set(self._told) - set(faults):
            sys.stderr.write(f"{utc()} over: {self._told[about]}\n")
        for trace in self.judging.traces:
            sys.stderr.write(f"{utc()} {trace}\n")
        self.judging.traces.clear()
        if self._told != faults:
            self._dirty = True
            sys.stderr.flush()
        self._told = dict(faults)

    # --- rules and folder -----------------------------------------------------------------------

    def _mind_rules(self, now: float) -> None:
        """Read gate.yaml again when it has changed; one that is broken changes nothing and is told."""
        seen = self._rules_file()
        try:
            tables = sorted((self.folder / "shop").glob("*.csv"))
            stamp = f"{seen.stamp if seen else '-'} {self.listing.stamps(tables)}"
            if stamp == self._rules_stamp:
                return
            if stamp != self._rules_seen[0]:  # half a file is a file of rules too: wait until it stands still
                self._rules_seen = (stamp, now)
            if self._rules_stamp and now - self._rules_seen[1] < self.rules.quiet:
                return
            self._rules_stamp = stamp
            rules = self.options.over(read_rules(self.folder))
            self._process = Tables.load(self.folder / "shop").processes.get(rules.process)
        except PrepError as fault:
            self.judging.troubles.said["rules"] = of_rules(fault, self.folder)
            if isinstance(fault, CannotOpenFile):  # that may pass without the file changing
                self._rules_stamp = ""
            return
        except OSError as error:
            self.judging.troubles.said["rules"] = one_line(f"{GATE_FILE} cannot be read: {error.strerror or error}")
            self._rules_stamp = ""
            return
        self.judging.troubles.said.pop("rules", None)
        self.rules = rules
        self.judging.take(Demands(rules, self._process), now)
        self.files.quiet_s = rules.quiet
        for worker in (*self.pool.workers, *self.builder.workers):
            worker.memory_mb = rules.memory
        self._dirty = True

    def _rules_file(self) -> Seen | None:
        """What the listing says of gate.yaml; on a share that folds capitals it may be listed as it was written."""
        present = self.presence.present
        if GATE_FILE in present or not (self.folder / GATE_FILE).exists():
            return present.get(GATE_FILE)
        return next((present[name] for name in self.presence.meant() if name.lower() == GATE_FILE), None)

    def _mind_name(self) -> None:
        """A file that was surely meant to hold the rules must not be passed over without a word."""
        read = self._rules_file()
        meant = next((name for name in self.presence.meant() if read is None or name != read.name), None)
        if meant is not None:
            self.judging.troubles.said["name"] = one_line(f"{meant} is not read: rename it to {GATE_FILE}")
        else:
            self.judging.troubles.said.pop("name", None)

    def _mind_ledger(self, now: float) -> None:
        """Look again at files whose lines somebody has taken out of the ledger, so that they get new ones."""
        ledger = self.verdicts.ledger
        if not ledger.taken_away:
            return
        self.verdicts.enter_all()
        ledger.taken_away, self._dirty = False, True
        for one in self.files.files.values():
            entry = one.entry
            if entry is None or one.phase != "known" or ledger.find(one.file, entry.sha256, entry.asked) is not None:
                continue
            one.again(now, 0.0)

    def _refuse_no_folder(self) -> None:
        if not self.folder.is_dir():
            raise NoFolder(
                "there is no folder to watch",
                where=str(self.folder),
                found="a file of that name" if self.folder.exists() else "nothing by that name",
                fix="name the folder that people drop their files into",
            )

    def _open(self) -> None:
        for left in reversed(range(TRIES)):
            try:
                self.verdicts.open()
            except OSError as error:
                if left == 0 or error.errno not in PASSING:
                    raise NoFolder(
                        "the folder cannot be written to, so there is no place for verdicts",
                        where=str(self.verdicts.folder),
                        found=error.strerror or str(error),
                        fix="make room on the disk"
                        if error.errno == errno.ENOSPC
                        else "let the account that runs the gate write to the folder",
                    ) from None
                time.sleep(AGAIN_S)
            else:
                return
