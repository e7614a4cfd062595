"""`Verdicts`: the files of a verdict, and its line in the ledger, written so that a crash loses nothing."""

from __future__ import annotations

import contextlib
import hashlib
import json
import shutil
from collections.abc import Iterator
from pathlib import Path

from pydantic import ValidationError

import prep
from prep.build.checked import CheckedFile, CheckReport, FaultRecord
from prep.build.record import plain
from prep.watch.claims import PROBE, Claims
from prep.watch.entry import Entry
from prep.watch.ledger import VerdictLedger
from prep.watch.names import BUILDS, VERDICTS, shown_text, verdict_stem
from prep.watch.verdict_page import verdict_page
from prep.watch.whole_file import clear_room, clear_stages, settle_in, spare_path, write_whole

CLAIMS = "claims"
ROOM = ".partial"
ASKED_DIGITS = 4
BUILDS_KEPT = 3
"""Results kept of each recipe: pictures and parts would fill a share in weeks; verdicts stay, all of them."""


class Verdicts:
    """The folder `verdicts`.

    The picture, the page and the JSON of a verdict are written in that order, each whole, and its line in the ledger
    last. So a line means that all its files are there; a JSON without a line means that the gate died in between, and
    is entered from there.
    """

    def __init__(self, folder: Path, claims: Claims | None = None) -> None:
        self.folder = folder / VERDICTS
        self.root = folder
        self.room = self.folder / ROOM
        self.claims = claims or Claims(self.folder / CLAIMS)
        self.ledger = VerdictLedger(self.folder, self.claims)

    def open(self) -> None:
        """Make the folder, clear what killed gates left in it, and enter verdicts that never got their line.

        Raises
        ------
        OSError
            The folder cannot be made, or the ledger cannot be read.
        """
        self.room.mkdir(parents=True, exist_ok=True)
        now = self._now()
        clear_room(self.room, now)
        clear_room(self.claims.folder, now, f"{PROBE}*")
        self.claims.sweep()
        clear_stages(self.folder / BUILDS, now)
        self.enter_all()

    def enter_all(self) -> None:
        """Enter verdicts that stand in files of their own and have no line in the ledger.

        Raises
        ------
        OSError
            The ledger cannot be read or written.
        """
        self.ledger.refresh()
        known = {entry.json_path for entry in self.ledger.entries}
        for path in sorted(self.folder.glob("*.json")):
            if f"{VERDICTS}/{path.name}" not in known:
                self.enter(path)

    def enter(self, path: Path) -> Entry | None:
        """Enter the verdict that a JSON holds in the ledger; None where it holds none."""
        entry = self._entry_of(path)
        if entry is None:
            return None
        self.ledger.add(entry)
        return self.ledger.find(entry.file, entry.sha256, entry.asked)

    def left_behind(self, file: str, sha256: str, asked: str) -> Entry | None:
        """The verdict of a gate that died before it could enter it, entered now; None where there is none."""
        path = self.root / self.paths(file, sha256, asked)[0]
        entry = self._entry_of(path) if path.exists() else None
        if entry is None or (entry.file, entry.sha256, entry.asked) != (file, sha256, asked):
            return None
        return self.enter(path)

    def spare_picture(self) -> Path:
        """Where a worker may draw."""
        return spare_path(self.room, ".png")

    def picture_again(self, entry: Entry) -> Path | None:
        """A copy of a verdict's picture, in the room; None where it has none."""
        drawn = self.root / entry.thumbnail if entry.thumbnail else None
        if drawn is None or not drawn.exists():
            return None
        spare = self.spare_picture()
        spare.write_bytes(drawn.read_bytes())
        return spare

    def write(self, entry: Entry, report: CheckReport, picture: Path | None) -> Entry:
        """Write a verdict's files, then its line; hand back the line that the ledger has.

        Parameters
        ----------
        picture : Path, optional
            Drawn in the room by a worker; moved, not copied.

        Raises
        ------
        OSError
            The disk is full, or refuses otherwise; the ledger has no new line then.
        """
        page = verdict_page(entry, report, picture)
        if picture is not None and entry.thumbnail is not None:
            settle_in(picture, self.root / entry.thumbnail)
        write_whole(self.root / entry.html_path, _bytes(page), self.room)
        document = {"verdict": entry.model_dump(mode="json"), "report": report.model_dump(mode="python")}
        text = json.dumps(plain(document), indent=2, ensure_ascii=False, allow_nan=False) + "\n"
        write_whole(self.root / entry.json_path, _bytes(text), self.room)
        self.ledger.add(entry)
        return self.ledger.find(entry.file, entry.sha256, entry.asked) or entry

    def report_of(self, entry: Entry) -> CheckReport | None:
        """The report in the JSON of a verdict, as it was written; None where it is gone."""
        with contextlib.suppress(OSError, ValueError, KeyError, ValidationError):
            held = json.loads((self.root / entry.json_path).read_text("utf-8"))
            return CheckReport.model_validate_json(json.dumps(held["report"]))
        return None

    def is_whole(self, entry: Entry) -> bool:
        """Whether the result that a recipe's verdict links is still there."""
        return entry.report is None or (self.root / entry.report).exists()

    def builds_of(self, file: str, current: Entry | None) -> Iterator[str]:
        """Pages of the results of a recipe that are still there: that of its present verdict, then the newest first."""
        lines = [current, *reversed(self.ledger.of_file(file))]
        pages = dict.fromkeys(line.report for line in lines if line is not None and line.report)
        return (page for page in pages if (self.root / page).exists())

    def prune_builds(self, file: str, current: Entry | None) -> None:
        """Take away results of a recipe beyond the newest few; the one that its present verdict links stays."""
        pages = list(self.builds_of(file, current))
        for page in pages[BUILDS_KEPT:]:
            result = (self.root / page).parent
            if result.parent == self.folder / BUILDS:
                shutil.rmtree(result, ignore_errors=True)

    def paths(self, file: str, sha256: str, asked: str) -> tuple[str, str, str]:
        """JSON, page and picture of a verdict, relative to the folder that is watched.

        A second verdict on the same content, of which something else is asked now, has names of its own, by what is
        asked: the first one stays as it was.
        """
        second = any(line.sha256 == sha256 and line.asked != asked for line in self.ledger.of_file(file))
        stem = f"{VERDICTS}/{verdict_stem(file, sha256)}" + (f".{_digits(asked)}" if second else "")
        return f"{stem}.json", f"{stem}.html", f"{stem}.png"

    def _entry_of(self, path: Path) -> Entry | None:
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError, ValidationError):
            return Entry.model_validate_json(json.dumps(json.loads(path.read_text("utf-8"))["verdict"]))
        return None

    def _now(self) -> float:
        self.claims.folder.mkdir(parents=True, exist_ok=True)
        return self.claims.share_now()


def report_about(file: str, kind: str, fault: FaultRecord) -> CheckReport:
    """A report of a file that could not even be examined."""
    checked = CheckedFile.model_validate(
        {"path": file, "kind": "recipe" if kind == "recipe" else "mesh", "verdict": "refused", "process": {}}
    ).model_copy(update={"faults": (fault,)})
    return CheckReport(prep=prep.__version__, verdict="refused", files=(checked,))


def named(report: CheckReport, file: str) -> CheckReport:
    """The report with its one file under its name in the folder."""
    return report.model_copy(update={"files": tuple(one.model_copy(update={"path": file}) for one in report.files)})


def _digits(asked: str) -> str:
    return hashlib.sha256(asked.encode()).hexdigest()[:ASKED_DIGITS]


def _bytes(text: str) -> bytes:
    return shown_text(text).encode()
