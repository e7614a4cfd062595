"""`write_whole`: a file that appears whole or not at all, for readers on other machines as well."""

from __future__ import annotations

import contextlib
import os
import shutil
import time
import uuid
from pathlib import Path

BINARY = getattr(os, "O_BINARY", 0)
ABANDONED_S = 3600.0
"""Age at which a half-written file in the room for them is nobody's."""


def write_whole(path: Path, content: bytes, room: Path, *, sync: bool = True) -> None:
    """Write `content` in `room`, bring it to the disk, and move it to `path` in one motion.

    Parameters
    ----------
    room : Path
        A folder on the same file system, made where it is missing. Names in it belong to one writer, so two gates may
        write the same path, a path may have the longest name there can be, and what a killed gate leaves is found.
    sync : bool
        False for what is written again in a moment.

    Raises
    ------
    OSError
        The system refuses; `path` is then as it was.
    """
    beside = spare_path(room)
    try:
        handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | BINARY, 0o666)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            if sync:
                file.flush()
                os.fsync(file.fileno())
        beside.replace(path)
    except OSError:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise


def settle_in(beside: Path, path: Path) -> None:
    """Bring a file that another wrote in the room to the disk, and move it to `path`.

    Raises
    ------
    OSError
        The system refuses; `path` is then as it was.
    """
    with beside.open("rb+") as file:
        os.fsync(file.fileno())
    beside.replace(path)


def spare_path(room: Path, suffix: str = "") -> Path:
    """A name in the room that nobody else has, made by the time and by chance."""
    room.mkdir(parents=True, exist_ok=True)
    return room / f"{os.getpid()}-{uuid.uuid4().hex}{suffix}"


def clear_room(room: Path, now: float, pattern: str = "*") -> None:
    """Take away what gates that were killed have left in the room for half-written files, or elsewhere by a pattern."""
    for path in room.glob(pattern):
        with contextlib.suppress(OSError):
            if now - path.stat().st_mtime > ABANDONED_S:
                path.unlink()


def clear_stages(builds: Path, now: float) -> None:
    """Take away the half-made results that killed builds have left: folders whose names begin with a dot."""
    for path in builds.glob(".*.*"):
        with contextlib.suppress(OSError):
            if path.is_dir() and now - path.stat().st_mtime > ABANDONED_S:
                shutil.rmtree(path, ignore_errors=True)


def utc(seconds: float | None = None) -> str:
    """A time as ISO 8601 in UTC, to the second; now if none is given."""
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(seconds))
