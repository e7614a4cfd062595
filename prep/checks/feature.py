"""`feature`: no raised detail so small that the process loses it."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part, handful, makers
from prep.geometry.thin_spots import ThinSpot
from prep.geometry.wall_thickness import wall_thickness
from prep.places.place import triple
from prep.units import Length, show_mm

_SLACK = 0.02
_MOST = 3


class Feature(Check):
    """Finds raised details, such as lettering and fine ridges, that are narrower than the process can draw.

    A detail is relief that stands no taller than it is wide, on something thicker; what stands taller is a wall, a rib
    or a pin and is judged as such. A lost detail spoils the look and not the part, so these are warnings, unless a step
    made one.
    """

    limit: Length | None = Field(None, gt=0, description="smallest detail; default: the process's feature limit")

    @classmethod
    def word(cls) -> str:
        """`feature`."""
        return "feature"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Details of every part that will be lost, or one pass."""
        limit = bench.process.feature_limit_mm if self.limit is None else self.limit
        return tuple(finding for part in bench.parts.values() for finding in _of_part(bench, part, limit))


def _of_part(bench: Bench, part: Part, limit: float) -> list[Finding]:
    found = wall_thickness(part.solid, limit_mm=max(limit, bench.wall_limit_mm), fine=bench.fine, tell=bench.tell)
    fine = [spot for spot in found.thin_spots if spot.kind == "relief" and spot.thickness_mm < limit * (1.0 - _SLACK)]
    if not fine:
        says = f"no raised detail narrower than {show_mm(limit)}"
        return [Finding(check="feature", part=part.name, verdict="pass", limit=limit, unit="mm", says=says)]
    made = sorted(
        zip(fine, makers(bench, part, fine, 5.0 * limit), strict=True),
        key=lambda pair: (pair[1] == "input", pair[0].thickness_mm),
    )
    return handful([_small(part.name, spot, maker, limit) for spot, maker in made], _MOST)


def _small(part: str, spot: ThinSpot, maker: str, limit: float) -> Finding:
    return Finding(
        check="feature",
        part=part,
        verdict="warn" if maker == "input" else "fail",
        value=spot.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(spot.at_mm),
        says=f"raised detail, or land between cuts, {show_mm(spot.thickness_mm)} wide: it will be lost or ragged",
        fix=f"draw it {show_mm(limit)} wide or more",
        made_by=maker,
    )
