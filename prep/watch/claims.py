"""`Claims`: who works on what, among gates that share nothing but a folder."""

from __future__ import annotations

import contextlib
import errno
import functools
import hashlib
import json
import os
import socket
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from prep.watch.whole_file import BINARY

PROBE = ".now-"
LEASE_S = 60.0
"""A claim that its owner has not renewed for so long, by the share's own clock, is free."""
TRIES = 4
AGAIN_S = 0.02
LOW_TURNS = 100
_HELD: set[bytes] = set()
"""What the lock files of this process say that it holds now; any other of its lock files, the share kept by itself."""


@functools.cache
def this_machine() -> str:
    """Name of this machine, and digits that tell apart two of one name, two starts, and two sets of process numbers."""
    known = [socket.gethostname()]
    with contextlib.suppress(OSError):
        known.append(Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip())
        known.append(str(os.stat("/proc/self/ns/pid").st_ino))  # noqa: PTH116  # a link that leads nowhere
    return f"{known[0]}/{hashlib.sha256(' '.join(known).encode()).hexdigest()[:12]}"


def gate_name() -> str:
    """host:pid of this process."""
    return f"{socket.gethostname()}:{os.getpid()}"


def started(pid: int) -> str | None:
    """When a process of this machine started, in the system's own count; None where there is none, "" if unknown."""
    try:
        return Path(f"/proc/{pid}/stat").read_text("utf-8", "replace").rpartition(")")[2].split()[19]
    except FileNotFoundError:
        if Path("/proc/self/stat").exists():
            return None
    except (OSError, IndexError):
        pass
    if os.name == "nt":
        return ""
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return None
    except OSError:
        pass
    return ""


def this_gate() -> dict[str, Any]:
    """What a lock file says of its owner."""
    pid = os.getpid()
    return {"machine": this_machine(), "pid": pid, "started": started(pid), "gate": gate_name()}


@dataclass
class Claim:
    """One thing claimed by this process.

    Attributes
    ----------
    turn : the number in its file's name; the highest turn of a name holds it
    """

    claims: Claims
    name: str
    turn: int
    text: bytes
    renewed: float = 0.0

    @property
    def path(self) -> Path:
        """The lock file."""
        return self.claims.path(self.name, self.turn)

    def still_held(self) -> bool:
        """Whether nobody has taken it meanwhile, as happens to an owner that slept longer than its lease."""
        return self.claims.highest(self.name) == self.turn and self.claims.text_of(self.path) == self.text

    def renew(self) -> None:
        """Begin the lease anew; an owner that has lost the claim changes nothing of the new owner's."""
        with contextlib.suppress(OSError):
            handle = os.open(self.path, os.O_RDWR | BINARY)
            try:
                if os.read(handle, len(self.text) + 1) == self.text:
                    os.lseek(handle, 0, os.SEEK_SET)
                    os.write(handle, self.text)
            finally:
                os.close(handle)

    def release(self) -> None:
        """Free it: every lock file of the name up to its own turn, the lowest first.

        Where the share refuses, and goes on refusing, this is made good when this process next claims something.
        """
        self._persist(self.take_away, self.take_away)

    def back_off(self) -> None:
        """Take away its own lock file alone, since another has the claim or it could not be written."""
        self._persist(lambda: self.path.unlink(missing_ok=True), self._take_own_away)

    def take_away(self) -> None:
        """Free it now.

        Raises
        ------
        OSError
            The share refuses; some of its lock files may still be there.
        """
        try:
            text = self.path.read_bytes()
        except FileNotFoundError:
            return
        if text != self.text:
            if not text or self.text.startswith(text):  # the share broke off in the middle
                raise OSError(errno.EAGAIN, "the lock file was not read to its end", str(self.path))
            return
        lower = sorted({*range(min(self.turn, LOW_TURNS)), *self.claims.turns(self.name)}) if self.turn else []
        for turn in [*(turn for turn in lower if turn < self.turn), self.turn]:
            self.claims.path(self.name, turn).unlink(missing_ok=True)

    def _take_own_away(self) -> None:
        """Take away its own lock file, if it is still its own; one of no bytes is left to its lease."""
        with contextlib.suppress(FileNotFoundError):
            text = self.path.read_bytes()
            if text and self.text.startswith(text):
                self.path.unlink()

    def _persist(self, act: Callable[[], None], later: Callable[[], None]) -> None:
        for _ in range(TRIES):
            try:
                act()
            except OSError:
                time.sleep(AGAIN_S)
            else:
                break
        else:
            self.claims.left.append(later)
        _HELD.discard(self.text)


@dataclass
class Claims:
    """Lock files in one folder.

    A claim on `name` is the file `name.turn` with the highest turn. It is made exclusively, so one gate alone can make
    it. Where its owner is dead (the same machine says so, or the lease has run out) the next turn is made, again
    exclusively; a lock file is never taken over, so a slow gate cannot remove the claim of a quick one by mistake.
    Whoever made a turn looks again: if a higher one is there, or the one it took for dead has been replaced, it backs
    off.

    What remains is an owner that sleeps longer than its lease between its last look and its write; therefore every
    line of the verdict ledger is written under a claim on the ledger, after reading what others have added.

    Attributes
    ----------
    folder : made when something is first claimed
    lease_s : seconds by the clock of the share: the time it gives a file written now against that of the lock file
    left : lock files to be taken away that the share has kept so far
    """

    folder: Path
    lease_s: float = LEASE_S
    owner: dict[str, Any] = field(default_factory=this_gate)
    left: list[Callable[[], None]] = field(default_factory=list)

    def take(self, name: str) -> Claim | None:
        """The claim on a name, or None where another has it.

        Raises
        ------
        OSError
            The folder cannot be written.
        """
        self._clear_left()
        claim = self._make(name, 0)
        if claim is not None:
            return claim
        turn = self.highest(name)
        if turn is None:
            return None  # released this moment: the next look will see what came of it
        before = self.text_of(self.path(name, turn))
        if before is None or not self._is_free(self.path(name, turn), before):
            return None
        claim = self._make(name, turn + 1)
        if claim is not None and self.text_of(self.path(name, turn)) != before:
            claim.back_off()
            return None
        return claim

    def sweep(self) -> None:
        """Take away what dead owners have left of names that nobody may want again; called when a gate starts.

        Raises
        ------
        OSError
            The folder cannot be listed.
        """
        for name in sorted({name for name, _ in self._lock_files()}):
            with contextlib.suppress(OSError):
                claim = self.take(name)
                if claim is not None:
                    claim.release()

    def path(self, name: str, turn: int) -> Path:
        """The lock file of a turn."""
        return self.folder / f"{name}.{turn}"

    def turns(self, name: str) -> list[int]:
        """Turns of a name that are there, the lowest first.

        Raises
        ------
        OSError
            The folder cannot be listed, which is not the same as there being none.
        """
        return sorted(turn for stem, turn in self._lock_files() if stem == name)

    def highest(self, name: str) -> int | None:
        """The turn that holds a name; None where it is free."""
        return max(self.turns(name), default=None)

    @staticmethod
    def text_of(path: Path) -> bytes | None:
        """What a lock file holds; None where there is none, or it cannot be read."""
        try:
            return path.read_bytes()
        except OSError:
            return None

    def _lock_files(self) -> list[tuple[str, int]]:
        try:
            with os.scandir(self.folder) as entries:
                parts = [entry.name.rpartition(".") for entry in entries]
        except FileNotFoundError:
            return []
        return [(name, int(turn)) for name, _, turn in parts if name and turn.isdecimal()]

    def _clear_left(self) -> None:
        """Take away what the share did not let go of before."""
        for act in list(self.left):
            with contextlib.suppress(OSError):
                act()
                self.left.remove(act)

    def _make(self, name: str, turn: int, *, again: bool = True) -> Claim | None:
        text = json.dumps(self.owner | {"claim": uuid.uuid4().hex}, ensure_ascii=True).encode() + b"\n"
        claim = Claim(self, name, turn, text)
        try:
            handle = os.open(claim.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o666)
        except FileExistsError:
            return None
        except FileNotFoundError:
            self.folder.mkdir(parents=True, exist_ok=True)
            if not again:
                raise
            return self._make(name, turn, again=False)
        except PermissionError:
            if os.name == "nt" and claim.path.exists():  # what is being deleted there refuses everybody
                return None
            raise
        _HELD.add(text)
        try:
            try:
                if os.write(handle, text) != len(text):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(claim.path))
            finally:
                os.close(handle)
            if self.highest(name) == turn:
                return claim
        except OSError:
            claim.back_off()
            raise
        claim.back_off()
        return None

    def _is_free(self, path: Path, text: bytes) -> bool:
        """Whether the owner of a lock file is dead, or has not renewed it for a lease."""
        try:
            owner = json.loads(text)
            mine, pid, begun = owner["machine"] == self.owner["machine"], int(owner["pid"]), owner["started"]
        except (ValueError, KeyError, TypeError):
            mine, pid, begun = False, 0, None  # killed between making and writing: the lease decides
        if mine:
            if pid == os.getpid() and text not in _HELD:
                return True  # a lock file of ours that the share did not let us take away
            now = started(pid)
            return now is None or (bool(now) and bool(begun) and now != begun)
        try:
            return abs(self.share_now() - path.stat().st_mtime) > self.lease_s
        except OSError:
            return False

    def share_now(self) -> float:
        """The share's own time, from a file written now: the clocks of the gates may differ."""
        probe = self.folder / f"{PROBE}{uuid.uuid4().hex}"
        probe.write_bytes(uuid.uuid4().bytes)
        now = probe.stat().st_mtime
        with contextlib.suppress(OSError):
            probe.unlink()
        return now
