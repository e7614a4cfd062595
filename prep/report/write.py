"""`write_report`: pictures, drawings, the page and report.json of one build."""

from __future__ import annotations

from pathlib import Path

from prep.build.record import Built
from prep.geometry.solid import Progress
from prep.report.page import page
from prep.report.plan import plan, with_pictures
from prep.report.whole import write_whole


def write_report(built: Built, out: Path, tell: Progress) -> list[Path]:
    """Write all a person reads of a build into its folder.

    Parameters
    ----------
    built : Built
    out : Path
        Gets `pictures/`, `drawings/`, `report.html` and, last of all, `report.json`.
    tell : function of a phase and the share done

    Returns
    -------
    list of Path
        Every file written. Each appeared whole; the same build gives the same bytes apart from timing.
    """
    planned = plan(built)
    written: list[Path] = []
    for turn, picture in enumerate(planned):
        tell("pictures", turn / len(planned))
        picture.draw(out)
        written.append(out / picture.entry.path)
        if picture.entry.drawing:
            written.append(out / picture.entry.drawing)
    tell("pictures", 1.0)
    record = with_pictures(built)
    written.append(write_whole(out / "report.html", page(record, out).encode()))
    written.append(write_whole(out / "report.json", record.to_json().encode()))
    return written
