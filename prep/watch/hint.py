"""`Hint`: events of the file system, where there are any, as a reason to look sooner; nothing relies on them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
from pathlib import Path

from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

from prep.recipe.gate_rules import GATE_FILE
from prep.watch.names import kind_of

TELLING = frozenset({"created", "modified", "moved", "closed"})


class Hint(FileSystemEventHandler):
    """Watches a folder, not what is below it, and says through a pipe that something has come or changed.

    Shares send no events, and a watch may end without a word; the scan does not notice.
    """

    def __init__(self, folder: Path) -> None:
        self.pipe, self._far = multiprocessing.Pipe(duplex=False)
        self._told = False
        self._observer = Observer()
        with contextlib.suppress(OSError, RuntimeError):
            self._observer.schedule(self, str(folder), recursive=False)
            self._observer.start()

    def on_any_event(self, event: FileSystemEvent) -> None:
        """Pass on that there is something to look at, once until it is taken."""
        names = {os.path.basename(os.fsdecode(path)) for path in (event.src_path, event.dest_path) if path}  # noqa: PTH119
        if event.event_type in TELLING and not self._told and any(kind_of(n) or n == GATE_FILE for n in names):
            self._told = True
            self.wake()

    def wake(self) -> None:
        """End a wait at once."""
        with contextlib.suppress(OSError):
            self._far.send_bytes(b"!")

    def taken(self) -> bool:
        """Whether there was a hint since the last time."""
        found = False
        with contextlib.suppress(OSError, EOFError):
            while self.pipe.poll():
                self.pipe.recv_bytes()
                found = True
        self._told = False
        return found

    def stop(self) -> None:
        """Watch no longer."""
        with contextlib.suppress(RuntimeError):
            self._observer.stop()
            self._observer.join(1.0)
        self.pipe.close()
        self._far.close()
