"""`write_whole`: a file that appears complete or not at all."""

from __future__ import annotations

import os
from pathlib import Path


def write_whole(path: Path, data: bytes) -> Path:
    """Write bytes beside the place they belong, force them to the disk, and put them in place in one move.

    Parameters
    ----------
    path : Path
        Its folder is made if missing; a file already there is replaced, and is whole until that moment.

    Returns
    -------
    Path
        The path given.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.part")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
    return path
