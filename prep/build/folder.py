"""`Staged`: a build's folder that appears whole or not at all, and takes nothing with it that no build made."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import TracebackType

from pydantic import ValidationError

from prep.build.record import Record
from prep.build.store import KEPT_IN
from prep.errors import CannotWriteFile, FolderTaken, OverwritesInput

REPORT = "report.json"
NEAR_NAME = 40
"""Characters of the folder's name that its hidden neighbour begins with."""
LEFT_BY_DESKTOPS = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
"""What desktops leave behind in folders that were only looked at."""


class Staged:
    """A folder beside the one wanted, put in its place at the end; on a fault it is thrown away.

    Parameters
    ----------
    out : Path
        The folder wanted; a link keeps pointing, and what it points to is written. If it holds an earlier build, that
        stays untouched until the new one is whole.
    inputs : paths
        Files and folders the build reads; none of them may lie in `out`.

    Raises
    ------
    OverwritesInput
        An input, or the folder one stands in, is `out` or lies in it.
    FolderTaken
        `out` is there and holds what no build made.
    CannotWriteFile
        The system refuses to make or to replace a folder.
    """

    def __init__(self, out: Path, inputs: Iterable[Path] = ()) -> None:
        self.named = out
        self.inputs = tuple(inputs)

    def __enter__(self) -> Path:
        with self._allowed():
            self._out = self.named.resolve()
            self._spare_inputs()
            self._spare_strangers()
            self._out.parent.mkdir(parents=True, exist_ok=True)
            prefix = f".{self._out.name[:NEAR_NAME]}."
            self._stage = Path(tempfile.mkdtemp(prefix=prefix, dir=self._out.parent))
            self._stage.chmod(0o755)
        return self._stage

    def __exit__(
        self, kind: type[BaseException] | None, fault: BaseException | None, trace: TracebackType | None
    ) -> None:
        try:
            if kind is None:
                with self._allowed():
                    self._spare_strangers()
                    self._replace()
        finally:
            shutil.rmtree(self._stage, ignore_errors=True)

    def _replace(self) -> None:
        """Put the new folder in the place of the old one, which comes back if that fails."""
        old = self._stage.with_name(self._stage.name + ".old")
        if self._out.exists():
            os.replace(self._out, old)  # noqa: PTH105  a folder is moved whole
        try:
            os.replace(self._stage, self._out)  # noqa: PTH105
        except OSError:
            if old.exists():
                os.replace(old, self._out)  # noqa: PTH105
            raise
        with contextlib.suppress(OSError):
            os.replace(old / KEPT_IN, self._out / KEPT_IN)  # noqa: PTH105
        shutil.rmtree(old, ignore_errors=True)

    def _spare_inputs(self) -> None:
        """Refuse a folder that holds what the build reads, by its own name or by the one a link leads to."""
        here = Path.cwd()
        for path in (*self.inputs, here):
            for place in (path.parent.resolve() / path.name, path.resolve()):
                if not self._holds(place):
                    continue
                what = "the folder you are in" if path is here else f"`{path}`, which is read"
                raise OverwritesInput(
                    "the output folder would replace what the build begins from",
                    where=str(self.named),
                    found=f"it holds {what}",
                    fix="choose a folder of its own with -o, such as `-o build/result`",
                )

    def _holds(self, place: Path) -> bool:
        if self._out == place or self._out in place.parents:
            return True
        if not self._out.exists():
            return False
        return any(each.exists() and each.samefile(self._out) for each in (place, *place.parents))

    def _spare_strangers(self) -> None:
        """Refuse a folder with anything in it that the report of an earlier build does not list."""
        if not self._out.exists():
            return
        stranger = next(_strangers(self._out), None) if self._out.is_dir() else "a file of that name"
        if stranger is not None:
            raise FolderTaken(
                "the output folder holds something else than an earlier build",
                where=str(self.named),
                found=stranger,
                fix="choose another folder with -o, or move away what is in this one",
            )

    @contextlib.contextmanager
    def _allowed(self) -> Iterator[None]:
        """Tell of a system that refuses as a fault in four parts."""
        try:
            yield
        except (OSError, RuntimeError) as error:  # a ring of links is a RuntimeError before Python 3.13
            raise CannotWriteFile(
                "the output folder cannot be written",
                where=str(self.named),
                found=getattr(error, "strerror", None) or str(error),
                fix="choose a folder with -o that may be made and written to",
            ) from None


def _strangers(folder: Path) -> Iterator[str]:
    """What no build wrote in a folder, in alphabetical order; nothing for an empty folder."""
    inside = sorted(_files(folder))
    if not inside:
        return
    try:
        listed = {REPORT, "report.html", *_files_of(Record.from_json((folder / REPORT).read_text("utf-8")))}
    except (FileNotFoundError, IsADirectoryError):
        listed = set()
    except (ValidationError, UnicodeDecodeError):
        yield f"`{REPORT}`, which is not the report of a build"
        return
    for name in inside:
        if name not in listed:
            yield f"`{name}`, which no build made" + (f"; there is no {REPORT}" if not listed else "")


def _files(folder: Path) -> Iterator[str]:
    """Files and links below a folder by their path from it, without what the store keeps and desktops leave."""
    for here, folders, files in os.walk(folder, onerror=_raise):
        at = Path(here)
        if at == folder and not (at / KEPT_IN).is_symlink():
            folders[:] = [name for name in folders if name != KEPT_IN]
        links = [name for name in folders if (at / name).is_symlink()]
        yield from (
            (at / name).relative_to(folder).as_posix() for name in (*files, *links) if name not in LEFT_BY_DESKTOPS
        )


def _files_of(record: Record) -> Iterator[str]:
    """Every file that a build's report lists."""
    for part in record.parts.values():
        yield part.output.path
        yield from (file.path for file in part.output.files)
    yield from (file.path for file in record.extra)
    for picture in record.pictures:
        yield picture.path
        if picture.drawing:
            yield picture.drawing


def _raise(error: OSError) -> None:
    raise error
