"""`gap`: no slot, slit or small hole so narrow that it fuses."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part, handful, makers
from prep.geometry.narrow_gap import NarrowGaps, narrow_gaps
from prep.geometry.thin_spots import ThinSpot
from prep.places.place import triple
from prep.units import Length, show_mm, show_point

_SLACK = 0.02
"""Facets cut into a round gap by about this share; a gap this much under the limit passes."""

_MOST = 4


class Gap(Check):
    """Finds faces that look at each other across so little air that the process prints them together.

    A gap is measured as a wall of air, in the same two ways as walls are: straight across, and by the largest ball that
    fits. Grooves shallower than they are wide fill without harm, and the air in a V or in an inner corner only runs
    out; neither is named. Gaps that were in the mesh as it came are warnings; those a step made are failures.
    """

    limit: Length | None = Field(None, gt=0, description="narrowest gap allowed; default: the process's gap limit")

    @classmethod
    def word(cls) -> str:
        """`gap`."""
        return "gap"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Gaps of every part that will fuse, those a step made first, or one pass with the narrowest gap."""
        limit = bench.process.gap_limit_mm if self.limit is None else self.limit
        return tuple(finding for part in bench.parts.values() for finding in _of_part(bench, part, limit))


def _of_part(bench: Bench, part: Part, limit: float) -> list[Finding]:
    found = narrow_gaps(part.solid, limit, fine=bench.fine, tell=bench.tell)
    tight = [spot for spot in found.gaps if spot.thickness_mm < limit * (1.0 - _SLACK)]
    if not tight:
        return [_passed(part.name, found, limit)]
    made = sorted(
        zip(tight, makers(bench, part, tight, 10.0 * limit), strict=True),
        key=lambda pair: (pair[1] == "input", pair[0].thickness_mm),
    )
    return handful([_narrow(part.name, spot, maker, limit) for spot, maker in made], _MOST)


def _narrow(part: str, spot: ThinSpot, maker: str, limit: float) -> Finding:
    kind = "hole" if spot.kind == "pin" else "gap"
    _, long = spot.extent_mm
    reach = f" and {show_mm(long)} {'deep' if kind == 'hole' else 'long'}" if long > 0.0 else ""
    if maker == "input":
        fix = f"widen it by {show_mm(limit - spot.thickness_mm)} in the model, or close it"
    else:
        fix = f"move what {maker} cuts here by {show_mm(limit - spot.thickness_mm)}"
    return Finding(
        check="gap",
        part=part,
        verdict="warn" if maker == "input" else "fail",
        value=spot.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(spot.at_mm),
        says=f"{kind} {show_mm(spot.thickness_mm)} wide{reach}: it will fuse",
        fix=fix,
        made_by=maker,
    )


def _passed(part: str, found: NarrowGaps, limit: float) -> Finding:
    narrowest = found.narrowest
    if narrowest is None:
        says = "no two faces look at each other across air"
    else:
        says = f"narrowest gap {show_mm(narrowest.thickness_mm)} at {show_point(triple(narrowest.at_mm))}"
    return Finding(
        check="gap",
        part=part,
        verdict="pass",
        value=None if narrowest is None else narrowest.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=None if narrowest is None else triple(narrowest.at_mm),
        says=f"{says}; any narrow gap longer than {show_mm(found.resolution_mm)} would have been seen",
    )
