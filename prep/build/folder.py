"""`Staged`: a build's folder that appears whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from types import TracebackType

from prep.errors import FolderTaken

MARK = "report.json"


class Staged:
    """A folder beside the one wanted, put in its place at the end; on a fault it is thrown away.

    Parameters
    ----------
    out : Path
        The folder wanted. If it holds an earlier build, that stays untouched until the new one is whole.

    Raises
    ------
    FolderTaken
        `out` is there and is not the result of a build.
    """

    def __init__(self, out: Path) -> None:
        self.out = out

    def __enter__(self) -> Path:
        if self.out.exists() and (
            not self.out.is_dir() or (any(self.out.iterdir()) and not (self.out / MARK).is_file())
        ):
            raise FolderTaken(
                "the output folder holds something else than an earlier build",
                where=str(self.out),
                found=f"no {MARK} in it",
                fix="choose another folder with -o, or empty this one",
            )
        self.out.parent.mkdir(parents=True, exist_ok=True)
        self._stage = Path(tempfile.mkdtemp(prefix=f".{self.out.name}.", dir=self.out.parent))
        self._stage.chmod(0o755)
        return self._stage

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is not None:
            shutil.rmtree(self._stage, ignore_errors=True)
            return
        old = self._stage.with_name(self._stage.name + ".old")
        if self.out.exists():
            os.replace(self.out, old)  # noqa: PTH105  a folder is moved whole
        try:
            os.replace(self._stage, self.out)  # noqa: PTH105
        except OSError:
            if old.exists():
                os.replace(old, self.out)  # noqa: PTH105
            raise
        shutil.rmtree(old, ignore_errors=True)
