"""`VerdictLedger`: every verdict ever given, one line each, added to and never rewritten."""

from __future__ import annotations

import contextlib
import os
import time
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

from prep.watch.claims import Claims
from prep.watch.entry import Entry
from prep.watch.whole_file import BINARY

LEDGER = "ledger.jsonl"
TORN = "ledger.torn"
LOCK = "ledger"
WAIT_S = 20.0
LOOK_S = 0.01
END = 256
"""Bytes of what was read last by which a ledger that grew is known again."""
Key = tuple[str, str, str]


class LedgerBusy(OSError):
    """Another gate has held the ledger for longer than a line takes; tried again later."""


class VerdictLedger:
    """The lines of `ledger.jsonl`, read as they come, whoever adds them.

    A line is known by its file, content hash and what was asked, and there is one for each: a line is added under a
    claim on the ledger, after what others have added has been read. A line that a crash has torn is moved to
    `ledger.torn` by the next who adds one; its verdict stands in a file of its own, from which it is entered again.

    Parameters
    ----------
    folder : Path
        `verdicts` of the folder that is watched.

    Attributes
    ----------
    taken_away : whether lines that had been read are there no more; for the gate, which takes it back
    """

    def __init__(self, folder: Path, claims: Claims) -> None:
        self.path = folder / LEDGER
        self.claims = claims
        self.entries: list[Entry] = []
        self.unreadable = 0
        self.taken_away = False
        self._keys: dict[Key, Entry] = {}
        self._contents: dict[str, list[Entry]] = {}
        self._files: dict[str, list[Entry]] = {}
        self._offset = 0
        self._end = b""

    def find(self, file: str, sha256: str, asked: str) -> Entry | None:
        """The line of a file with this content, of which this was asked, as far as the ledger has been read."""
        return self._keys.get((file, sha256, asked))

    def of_content(self, sha256: str) -> list[Entry]:
        """Lines of all files that have had this content, the oldest first."""
        return self._contents.get(sha256, [])

    def of_file(self, file: str) -> list[Entry]:
        """Lines of all contents that this file has had, the oldest first."""
        return self._files.get(file, [])

    def refresh(self) -> tuple[Entry, ...]:
        """Lines that have been added since the last look, by anybody; reads nothing where the length is the same.

        The length is asked of the opened file: what a share tells of a name may be old.

        Raises
        ------
        OSError
            The ledger is there and cannot be read.
        """
        try:
            handle = os.open(self.path, os.O_RDONLY | BINARY)
        except FileNotFoundError:
            return self._take_in(None)
        try:
            return self._take_in(handle)
        finally:
            os.close(handle)

    def _take_in(self, handle: int | None) -> tuple[Entry, ...]:
        length = os.fstat(handle).st_size if handle is not None else 0
        if length < self._offset or (length > self._offset and self._is_another(handle)):
            # somebody took it away, cut it or put another in its place: begin again with what is there
            self.entries, self._keys, self._contents, self._files = [], {}, {}, {}
            self._offset = self.unreadable = 0
            self._end, self.taken_away = b"", True
        if handle is None or length == self._offset:
            return ()
        data = _read(handle, self._offset, length)
        whole = data[: data.rfind(b"\n") + 1]
        self._offset += len(whole)
        self._end = (self._end + whole)[-END:]
        new = []
        for line in whole.splitlines():
            try:
                entry = Entry.model_validate_json(line)
            except ValidationError:
                self.unreadable += 1
                continue
            if self._keys.setdefault(_key(entry), entry) is entry:
                self.entries.append(entry)
                self._contents.setdefault(entry.sha256, []).append(entry)
                self._files.setdefault(entry.file, []).append(entry)
                new.append(entry)
        return tuple(new)

    def _is_another(self, handle: int | None) -> bool:
        """Whether what was read last is not there any more."""
        if handle is None or not self._end:
            return False
        return _read(handle, self._offset - len(self._end), self._offset) != self._end

    def add(self, entry: Entry) -> bool:
        """Add a line, unless there is one of this file and content that was asked the same; whether it was added.

        Raises
        ------
        OSError
            The disk is full, or refuses otherwise: the ledger is then as it was.
        """
        with self._locked():
            # opened to be made if need be: only then is no share content to answer from what it remembers of the name
            handle = os.open(self.path, os.O_RDWR | os.O_APPEND | os.O_CREAT | BINARY, 0o666)
            try:
                self._mend_end(handle)
                self._take_in(handle)
                if _key(entry) in self._keys:
                    return False
                self._append(handle, entry.model_dump_json().encode() + b"\n")
                self._take_in(handle)
            finally:
                os.close(handle)
        return True

    def _append(self, handle: int, line: bytes) -> None:
        before = os.fstat(handle).st_size
        try:
            if os.write(handle, line) != len(line):
                raise OSError(28, "the disk is full", str(self.path))
            os.fsync(handle)
        except OSError:
            os.ftruncate(handle, before)
            raise

    def _mend_end(self, handle: int) -> None:
        """Move a torn last line out of the ledger; whoever tore it is dead, for we hold the claim."""
        length = os.fstat(handle).st_size
        if length == 0 or _read(handle, length - 1, length) == b"\n":
            return
        data = _read(handle, 0, length)
        keep = data.rfind(b"\n") + 1
        with self.path.with_name(TORN).open("ab") as torn:
            torn.write(data[keep:] + b"\n")
            torn.flush()
            os.fsync(torn.fileno())
        os.ftruncate(handle, keep)

    @contextlib.contextmanager
    def _locked(self) -> Iterator[None]:
        until = time.monotonic() + WAIT_S
        while (claim := self.claims.take(LOCK)) is None:
            if time.monotonic() > until:
                raise LedgerBusy(11, "another gate holds the ledger", str(self.path))
            time.sleep(LOOK_S)
        try:
            yield
        finally:
            claim.release()


def _read(handle: int, begin: int, end: int) -> bytes:
    """The bytes of a file from one place to another; fewer only where it ends.

    Raises
    ------
    OSError
        They cannot be read just now, even if some could.
    """
    os.lseek(handle, begin, os.SEEK_SET)
    pieces = []
    while begin < end and (piece := os.read(handle, end - begin)):
        pieces.append(piece)
        begin += len(piece)
    return b"".join(pieces)


def _key(entry: Entry) -> Key:
    return entry.file, entry.sha256, entry.asked
