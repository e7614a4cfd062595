"""`compare`: a mesh on the bench beside an older one, and the thin places that are new."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from prep.build.checked import AgainstRecord
from prep.contract import Bench, Finding
from prep.errors import PrepError
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.same_shape import SameShape, same_shape
from prep.places.place import triple
from prep.recipe.models import CheckWanted
from prep.units import show_deg, show_mm, show_mm3, show_percent, show_point


def compare(
    old: Path, bench: Bench, name: str, checks: Mapping[str, CheckWanted], *, unit: str | None = None
) -> AgainstRecord:
    """What has changed since an older mesh: its likeness, and new findings of the checks that fail a mesh as it came.

    Parameters
    ----------
    old : Path
        The older mesh.
    bench : Bench
        With the new one on it, as it came.

    Notes
    -----
    New thin places are told by putting the older mesh, moved onto the new one, on the bench as its original: whatever
    a check then calls made by a step was made by the change.

    Raises
    ------
    PrepError
        The older mesh cannot be read or mended.
    """
    raw = read_mesh(old, unit=unit)
    try:
        before = mend(raw).solid
    except PrepError as fault:
        raise fault.at(f"--against {old}") from None
    part = bench.parts[name]
    found = same_shape(before, part.solid)
    new: tuple[Finding, ...] = ()
    if found.likeness == "differs":
        changed = replace(bench, parts={name: replace(part, original=before.moved(found.motion))})
        new = tuple(
            finding.model_copy(update={"made_by": f"the change since {old.name}", "fix": _fix(finding, old.name)})
            for wanted in checks.values()
            if wanted.check.fails_input
            for finding in wanted.check.examine(changed)
            if finding.verdict == "fail" and finding.made_by != "input"
        )
    return AgainstRecord(
        path=str(old),
        sha256=raw.sha256,
        likeness=found.likeness,
        says=in_words(found, old.name),
        turn_deg=found.turn_deg,
        shift_mm=found.shift_mm,
        largest_mm=found.difference.largest_mm,
        tolerance_mm=found.tolerance_mm,
        at_mm=triple(found.difference.at_mm),
        share=found.difference.share,
        volume_change_mm3=found.difference.volume_change_mm3,
        new_thin=new,
    )


def in_words(found: SameShape, name: str) -> str:
    """One sentence on how a mesh compares with an older one of this name."""
    motion = ", ".join(
        said
        for said, there in (
            (f"turned by {show_deg(found.turn_deg)}", found.turn_deg > 1e-4),
            (f"shifted by {show_mm(found.shift_mm)}", found.shift_mm > found.tolerance_mm),
        )
        if there
    )
    if found.likeness == "same":
        return f"same shape as {name}, in the same place"
    if found.likeness == "moved":
        return f"same shape as {name}, only {motion}"
    difference = found.difference
    what = "gone from" if difference.gone else "off"
    change = difference.volume_change_mm3
    return (
        f"differs from {name} by up to {show_mm(difference.largest_mm)} over {show_percent(difference.share)} of the "
        f"surface, most at {show_point(triple(difference.at_mm))} ({what} the old surface), "
        f"{show_mm3(abs(change))} {'more' if change >= 0.0 else 'less'}"
        + (f"; compared after it was {motion}" if motion else "")
    )


def _fix(finding: Finding, name: str) -> str:
    if finding.value is None or finding.limit is None:
        return f"undo what changed here since {name}"
    return f"undo what changed here since {name}, or thicken it by {show_mm(finding.limit - finding.value)}"
