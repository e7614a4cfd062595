"""`web`: no web between two pockets, holes or slots thinner than the process can print."""

from __future__ import annotations

from pydantic import Field

from prep.contract import Bench, Check, Finding, Part, handful, makers
from prep.geometry.thin_spots import ThinSpot
from prep.geometry.wall_thickness import wall_thickness
from prep.places.place import triple
from prep.units import Length, show_mm

_SLACK = 0.02
"""Facets cut into a round web by about this share; a web this much under the limit passes."""

_MOST = 4


class Web(Check):
    """Finds every web between two features of a part that is thinner than the process can print.

    A web is a thin place with air closed in on both sides: between two seats, a hole and a slot, a pocket and a
    channel. It breaks through where a wall of the same thickness would only bend. Webs that were in the mesh as it came
    are warnings; those a step made are failures, and the step is named.
    """

    fails_input = True

    limit: Length | None = Field(None, gt=0, description="thinnest web allowed; default: the process's web limit")

    @classmethod
    def word(cls) -> str:
        """`web`."""
        return "web"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Thin webs of every part, worst first, or one pass."""
        limit = bench.process.web_limit_mm if self.limit is None else self.limit
        return tuple(finding for part in bench.parts.values() for finding in _of_part(bench, part, limit))


def _of_part(bench: Bench, part: Part, limit: float) -> list[Finding]:
    shared = max(limit, bench.wall_limit_mm, bench.process.web_limit_mm)  # one measurement serves both checks
    found = wall_thickness(part.solid, limit_mm=shared, fine=bench.fine, tell=bench.tell)
    thin = [s for s in found.thin_spots if s.kind == "web" and s.thickness_mm < limit * (1.0 - _SLACK)]
    if not thin:
        return [_passed(part.name, limit, found.resolution_mm)]
    made = sorted(
        zip(thin, makers(bench, part, thin, 5.0 * limit), strict=True),
        key=lambda pair: (pair[1] == "input", pair[0].thickness_mm),
    )
    return handful([_thin(part.name, spot, maker, limit) for spot, maker in made], _MOST)


def _thin(part: str, spot: ThinSpot, maker: str, limit: float) -> Finding:
    short = limit - spot.thickness_mm
    if maker == "input":
        fix = f"move the two features {show_mm(short)} apart in the model, or accept it with a reason"
    else:
        fix = f"move what {maker} cuts here {show_mm(short)} away from its neighbour"
    return Finding(
        check="web",
        part=part,
        verdict="warn" if maker == "input" else "fail",
        value=spot.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(spot.at_mm),
        says=f"web of {show_mm(spot.thickness_mm)} between two features",
        fix=fix,
        made_by=maker,
    )


def _passed(part: str, limit: float, resolution: float) -> Finding:
    return Finding(
        check="web",
        part=part,
        verdict="pass",
        limit=limit,
        unit="mm",
        says=f"no web under {show_mm(limit)}; any wider than {show_mm(resolution)} would have been seen",
    )
