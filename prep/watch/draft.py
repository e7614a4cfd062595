"""`draft`: the entry of a file from what was found on it, before it is known how it stands to other files."""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path

from prep.build.checked import CheckReport, FaultRecord
from prep.errors import LeadsOut, NotAFile, WrongUnit
from prep.watch.claims import gate_name
from prep.watch.entry import Entry
from prep.watch.listing import Seen
from prep.watch.settle import Tracked
from prep.watch.whole_file import utc
from prep.watch.wording import one_reason


def draft(
    folder: Path,
    tracked: Tracked,
    seen: Seen,
    stamp: str,
    sha256: str,
    report: CheckReport,
    paths: tuple[str, str, str],
) -> Entry:
    """The entry of a report on one file: verdict, reason, action, who dropped it and when.

    Parameters
    ----------
    seen, stamp : what the listing said of the file before its content was read
    paths : JSON, page and picture, relative to the folder
    """
    (file,) = report.files
    reason, action = one_reason(file)
    return Entry(
        file=tracked.file,
        sha256=sha256,
        size=seen.size,
        kind=tracked.kind,
        verdict="fail" if any(fault.code == WrongUnit.code for fault in file.faults) else file.verdict,
        reason=reason,
        action=action,
        dropped_by=owner_of(folder / seen.name),
        dropped_at=utc(seen.changed) if seen.changed else None,
        judged_at=utc(),
        gate=gate_name(),
        seconds=0.0,
        json_path=paths[0],
        html_path=paths[1],
        stamp=stamp,
    )


def owner_of(path: Path) -> str | None:
    """Name of the account that owns a file; None where the system tells none, as on many shares."""
    with contextlib.suppress(ImportError, OSError, KeyError):
        import pwd

        return pwd.getpwuid(path.lstat().st_uid).pw_name
    return None


def fingerprint_in(report: CheckReport) -> str | None:
    """Fingerprint of the first shape of a report; None where none could be read."""
    return next((part.fingerprint for file in report.files for part in file.parts.values()), None)


def fault_of(seen: Seen) -> FaultRecord:
    """Why something in the folder that is no file gets no other verdict."""
    if seen.form == "link out":
        what, fix = "a link that leads out of the folder is not followed", "copy the file itself here"
        return FaultRecord.of(LeadsOut(what, found="a link", fix=fix))
    found = {"folder": "a folder", "link to nothing": "a link to nothing"}.get(seen.form, "a device or pipe")
    return FaultRecord.of(NotAFile("this is no file", found=found, fix="put the mesh itself here, as a file"))


def hash_of_fault(fault: FaultRecord) -> str:
    """What stands for the content of a file that has none which may be read: the same while the same is wrong."""
    return hashlib.sha256(f"{fault.code} {fault.found}".encode("utf-8", "backslashreplace")).hexdigest()
