"""`write_verdict_page`: one verdict with everything that was found, for the person whose file it is."""

from __future__ import annotations

import base64
from pathlib import Path

from prep.build.checked import CheckedFile, CheckReport
from prep.contract import Finding
from prep.report.whole import write_whole
from prep.report.wording import by_weight, figure, measured, place
from prep.watch.board import page_from
from prep.watch.entry import Entry
from prep.watch.wording import fix_of


def write_verdict_page(path: Path, entry: Entry, report: CheckReport | None, thumbnail: Path | None) -> Path:
    """Write the page of one verdict, whole; its picture is inside it.

    Parameters
    ----------
    report : CheckReport, optional
        None where the file could not even be looked at.
    """
    return write_whole(path, verdict_page(entry, report, thumbnail).encode())


def verdict_page(entry: Entry, report: CheckReport | None, thumbnail: Path | None) -> str:
    """The page as text; every name that comes from a file is escaped."""
    picture = base64.b64encode(thumbnail.read_bytes()).decode("ascii") if thumbnail and thumbnail.exists() else ""
    files = report.files if report is not None else ()
    return page_from(
        "verdict.html.j2",
        entry=entry,
        picture=picture,
        files=files,
        findings={file.path: _findings(file) for file in files},
        figure=figure,
        place=place,
        measured=measured,
        part_of=_part_of,
        fix_of=fix_of,
    )


def _findings(file: CheckedFile) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """What is to be looked at, the worst first, and what passed; what is of no part alone stands once."""
    found: list[Finding] = []
    for part in file.parts.values():
        found += [one for one in part.checks if one.part in file.parts or one not in found]
    found = list(by_weight(tuple(found)))
    return tuple(one for one in found if one.verdict != "pass"), tuple(one for one in found if one.verdict == "pass")


def _part_of(finding: Finding, file: CheckedFile) -> str:
    """Of which part a finding is, to follow the check's word; empty for the only part, and for what is of none."""
    return f", {finding.part}" if finding.part and len(file.parts) > 1 else ""
