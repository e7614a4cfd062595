"""`Listing`: what lies in the folder, in one look; and `Presence`: what to believe of several looks."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from prep.watch.names import MEANT, kind_of

Form = Literal["file", "folder", "link out", "link to nothing", "special"]
GONE_AFTER = 3
"""Looks in a row that must miss a file before it counts as gone."""
BELIEVED_AFTER = 6
"""Looks in a row that must agree before the loss of most files is believed."""
MOST_LOST = 0.5
FEW = 4


@dataclass(frozen=True)
class Seen:
    """One entry of a listing.

    Attributes
    ----------
    stamp : a text that changes when the file does: size and times, and whatever else the system tells
    size : bytes
    changed : the later of its times, seconds since 1970
    """

    name: str
    form: Form
    stamp: str
    size: int = 0
    changed: float = 0.0


class Listing:
    """One folder, listed without going into it.

    Links that stay in the folder are followed; a link that leads out of it is seen as such, and never opened.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._root = folder.resolve()
        self._before: dict[str, tuple[tuple[int, ...], Seen]] = {}

    def look(self) -> dict[str, Seen]:
        """Every file that may be somebody's drop, and `gate.yaml` or what was meant to be it, by name.

        Raises
        ------
        OSError
            The folder cannot be listed: the share is away.
        """
        found: dict[str, Seen] = {}
        with os.scandir(self.folder) as entries:
            for entry in entries:
                if kind_of(entry.name) is None and entry.name.lower() not in MEANT:
                    continue
                try:
                    found[entry.name] = self._seen(entry)
                except FileNotFoundError:
                    continue
        if len(self._before) > 2 * len(found) + 1000:
            self._before = {name: kept for name, kept in self._before.items() if name in found}
        return found

    def stamps(self, paths: Iterable[Path]) -> str:
        """One stamp of several files, for the meshes of a recipe; what is not there has the stamp "-"."""
        stamps = []
        for path in paths:
            try:
                stamps.append(_stamp(path.stat()))
            except (OSError, ValueError):
                stamps.append("-")
        return "|".join(stamps)

    def _seen(self, entry: os.DirEntry[str]) -> Seen:
        if not entry.is_symlink():
            facts = entry.stat(follow_symlinks=False)
            key = (facts.st_size, facts.st_mtime_ns, facts.st_ctime_ns, facts.st_ino, facts.st_mode)
            before = self._before.get(entry.name)
            if before is None or before[0] != key:  # of thousands of files hardly one has changed since the last look
                before = self._before[entry.name] = (key, seen(entry.name, facts))
            return before[1]
        own = _stamp(entry.stat(follow_symlinks=False))
        try:
            target = Path(entry.path).resolve(strict=True)
        except (OSError, RuntimeError):  # a ring of links is a RuntimeError before Python 3.13
            return Seen(entry.name, "link to nothing", own)
        if self._root not in target.parents:
            return Seen(entry.name, "link out", own)
        followed = seen(entry.name, target.stat())
        return Seen(entry.name, followed.form, f"{own}>{followed.stamp}", followed.size, followed.changed)


def seen(name: str, facts: os.stat_result) -> Seen:
    """An entry from what the system tells of it."""
    form: Form = "special"
    if stat.S_ISREG(facts.st_mode):
        form = "file"
    elif stat.S_ISDIR(facts.st_mode):
        return Seen(name, "folder", "folder")  # its time changes with whatever is put into it
    return Seen(name, form, _stamp(facts), facts.st_size, max(facts.st_mtime, facts.st_ctime))


def _stamp(facts: os.stat_result) -> str:
    return f"{facts.st_size}-{facts.st_mtime_ns}-{facts.st_ctime_ns}-{facts.st_ino}"


@dataclass
class Presence:
    """What to believe of listings that may hide entries for a while, as shares do.

    Attributes
    ----------
    present : what is believed to be in the folder, with the latest stamp seen
    hiccup : what is wrong with the last look; empty where it was good
    """

    present: dict[str, Seen] = field(default_factory=dict)
    hiccup: str = ""
    _missed: dict[str, int] = field(default_factory=dict)
    _strange: int = 0

    def meant(self) -> list[str]:
        """Names of files that are gate.yaml or were meant to be; none of them is a mesh, as nearly all names are."""
        return [name for name in self.present if kind_of(name) != "mesh" and name.lower() in MEANT]

    def take(self, listing: Mapping[str, Seen]) -> bool:
        """Take in one look; whether it was a good one.

        A look that misses more than half of what was there is a hiccup of the share until six in a row say so; what
        it does show is taken. A single file is gone after three good looks without it.
        """
        missing = [name for name in self.present if name not in listing]
        lost = len(missing) >= FEW and len(missing) > MOST_LOST * len(self.present)
        self._strange = self._strange + 1 if lost else 0
        self.hiccup = ""
        self._missed = {name: self._missed.get(name, 0) + 1 for name in missing}
        if lost and self._strange < BELIEVED_AFTER:
            self.hiccup = (
                f"the folder suddenly shows {len(listing)} of {len(self.present)} files: taken for a hiccup of the "
                "share, nothing is counted as deleted"
            )
            self._missed = {}
        gone = {name for name, times in self._missed.items() if times >= GONE_AFTER or (lost and not self.hiccup)}
        self.present = {name: seen for name, seen in self.present.items() if name not in gone} | dict(listing)
        return not self.hiccup
