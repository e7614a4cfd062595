"""`Settling`: which files have stood still long enough to be read, by what listings say of them."""

from __future__ import annotations

import heapq
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from prep.build.checked import FaultRecord
from prep.recipe.gate_rules import GATE_FILE
from prep.watch.entry import Entry, Kind
from prep.watch.listing import Seen
from prep.watch.names import kind_of, shown
from prep.watch.revisions import in_turn

Phase = Literal["settling", "working", "known", "elsewhere", "unfinished", "passed over"]
NEVER = float("inf")


@dataclass(eq=False)
class Tracked:
    """One file of the folder, as the gate knows it.

    Attributes
    ----------
    file : its name as it is shown, and as the ledger has it
    family : what its revisions share, if it is a mesh; else nothing
    stamp : what listings say of it, and of the meshes that a recipe names
    since : when this stamp was first seen, on the gate's own clock
    due : when to look at it next; never where nothing is to be done
    phase : "settling" until it has stood still; "working" while a worker has it; "known" with its verdict; "elsewhere"
        where another gate has claimed it; "unfinished" where it ends too early or cannot be opened; "passed over"
        where it is no drop, such as a YAML file that is no recipe
    entry : its verdict, where it is known
    trouble : why it is unfinished
    tries : how often that has been found in a row
    meshes : of a recipe
    held : what keeps it from its verdict that is not the file's own: a full disk, a broken table
    wants : the claim that another has, or the file of its family that comes first
    last : whether it has a verdict, by other rules than those of now, and so comes after all that is new
    """

    seen: Seen
    kind: Kind
    stamp: str
    since: float
    due: float
    phase: Phase = "settling"
    entry: Entry | None = None
    trouble: FaultRecord | None = None
    tries: int = 0
    meshes: tuple[Path, ...] = ()
    held: str = ""
    wants: str = ""
    last: bool = False
    file: str = field(init=False)
    family: str = field(init=False)

    def __post_init__(self) -> None:
        self.file = shown(self.seen.name)
        self._place = in_turn(self.file)
        self.family = self._place[0] if self.kind == "mesh" and self._place[1] != "copy" else ""

    @property
    def place(self) -> tuple[object, ...]:
        """Where it stands in the queue."""
        return (self.last, self.due, self._place, self.seen.name)

    @property
    def turn(self) -> str:
        """What those of its family wait for; no name of a claim, which is a hash or a word."""
        return f"/{self.file}"

    def again(self, now: float, delay: float) -> None:
        """Look at it anew after a while, as if it had just settled."""
        self.phase, self.due, self.wants, self.held = "settling", now + delay, "", ""

    def has_stood(self, now: float, seconds: float, *, by_share: bool) -> bool:
        """Whether it has stood still for so long, as far as was seen; or, if wanted, by the times the share tells."""
        return now - self.since >= seconds or (by_share and time.time() - self.seen.changed >= seconds)

    def hold(self, about: str, now: float, delay: float) -> None:
        """Something that is not the file's own keeps it from its verdict: try again after a while."""
        self.again(now, delay)
        self.held = about

    def judge_again(self, now: float) -> None:
        """Its verdict is by other rules than those of now."""
        self.again(now, 0.0)
        self.last = True

    def wait_for(self, other: Tracked, due: float) -> None:
        """Another of its family is in hand: look again when that has its verdict, to be compared with it."""
        self.wants, self.due = other.turn, due

    def leave(self, claim: str, due: float) -> None:
        """Another has claimed its content, or the build: look again when that is over."""
        self.phase, self.wants, self.due = "elsewhere", claim, due

    def know(self, entry: Entry | None, confirm: float = NEVER) -> None:
        """It has its verdict; None where it is passed over. It is read once more at `confirm`."""
        self.phase, self.entry = ("known" if entry is not None else "passed over"), entry
        self.trouble, self.tries, self.due = None, 0, confirm
        self.wants, self.held, self.last = "", "", False

    def unfinish(self, trouble: FaultRecord, now: float, delay: float, stuck: float) -> None:
        """It ends too early: look again soon, then ever more seldom, and when it has stood still for `stuck`."""
        self.phase, self.trouble = "unfinished", trouble
        self.due = min(now + delay * 2.0 ** min(self.tries, 6), max(self.since + stuck, now + delay))
        self.tries += 1


@dataclass
class Settling:
    """All files of the folder.

    Attributes
    ----------
    quiet_s : how long a stamp must stand still
    """

    quiet_s: float
    files: dict[str, Tracked] = field(default_factory=dict)

    def take(self, present: Mapping[str, Seen], now: float, meshes_of: Mapping[str, str]) -> list[Tracked]:
        """Take in what is present, and hand back what is new or has changed.

        Parameters
        ----------
        meshes_of : mapping
            Stamps of the meshes of recipes, by name.
        """
        changed = []
        for name in [name for name in self.files if name not in present]:
            del self.files[name]
        for name, seen in present.items():
            if name == GATE_FILE:
                continue
            old = self.files.get(name)
            if old is not None and old.seen is seen and name not in meshes_of:
                continue
            stamp = with_meshes(seen.stamp, meshes_of.get(name, ""))
            if old is not None and old.stamp == stamp:
                continue
            if old is None:
                kind = kind_of(name)
                if kind is None:
                    continue
                old = self.files[name] = Tracked(seen, kind, stamp, now, now + self.quiet_s)
            else:
                old.seen, old.stamp, old.since, old.due = seen, stamp, now, now + self.quiet_s
                old.trouble, old.tries, old.wants, old.held, old.last = None, 0, "", "", False
                if old.phase != "working":  # its worker will find that it changed
                    old.phase = "settling"
            changed.append(old)
        return changed

    def due(self, now: float) -> Iterator[Tracked]:
        """Files to look at now, the one that has waited longest first; of those that came together, by name.

        Earlier revisions come before later ones, and what has a verdict by older rules comes last.
        """
        queue = [(one.place, one) for one in self.files.values() if one.due <= now and one.phase != "working"]
        heapq.heapify(queue)  # of thousands that wait, a turn takes a few
        while queue:
            yield heapq.heappop(queue)[1]

    def in_hand(self) -> dict[str, Tracked]:
        """A mesh of every family that is in hand, here or elsewhere; a family shares its name, marks of revision aside.

        The others of a family wait for it: two revisions judged at the same moment could not be compared, since neither
        would have its verdict yet.
        """
        taken = (one for one in self.files.values() if one.phase in {"working", "elsewhere"} and one.family)
        return {one.family: one for one in taken}

    def next_due(self) -> float:
        """When the next file is to be looked at."""
        return min((one.due for one in self.files.values() if one.phase != "working"), default=NEVER)


def with_meshes(stamp: str, meshes: str) -> str:
    """The stamp of a recipe together with those of its meshes."""
    return f"{stamp}|{meshes}" if meshes else stamp
