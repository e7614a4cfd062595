"""`wall`: no wall, skin, rib or pin thinner than the process can print."""

from __future__ import annotations

import numpy as np
from pydantic import Field

from prep.contract import Bench, Check, Finding, Part, Window, handful, makers
from prep.geometry.thin_spots import ThinSpot
from prep.geometry.wall_thickness import Thickness, wall_thickness
from prep.places.place import triple
from prep.units import Length, show_deg, show_mm, show_point

_SLACK = 0.02
"""Facets cut into a round wall by about this share; a wall this much under the limit passes."""

_LIGHT_SLACK = 0.03
"""A light wall is made to this share; a spot thinner than that is no longer the window's wish."""

_MOST = 4
_MOST_EDGES = 2
_WALLS = {
    "wall": "wall",
    "skin": "skin over a pocket",
    "pin": "free-standing pin",
    "rib": "free-standing rib",
}


class Wall(Check):
    """Finds every place where a part is thinner than the process can print.

    Thickness is measured from all over the surface in two ways: straight in along the normal to the face opposite, and
    by the largest ball inside that touches the surface there. Both count only between faces that look at each other,
    so outer edges are not mistaken for thin walls; a sharp edge is reported as an edge, with its angle. Thin places
    that were in the mesh as it came are warnings; those a step made are failures, and the step is named.

    Drawing
    -------
    A wall of 2 mm, cut across; o is where the surface is sampled::

        o---------------o------+        The ray from the left o goes straight in and meets the face opposite
        |       .-'-.          |        after 2 mm; the ball that touches there fits between both faces. Both
        |      ( 2 mm)   edge  |        say 2 mm.
        |       '-.-'     )    |        Beside the outward edge on the right the ball is small, for it touches
        +-----------------+----+        the end face, which does not look back: an edge, no thin wall.

        +--------o-------+              Over a pocket the ray and the ball both end on the pocket's floor:
        |   ____ 0.4 ___ |              a skin of 0.4 mm, reported with its place, its size across and what
        |  |            ||              to do. From each low sample the shortest way between the two faces is
        +--+            ++              then found on the triangles themselves, so the figure is exact there.
    """

    fails_input = True

    limit: Length | None = Field(None, gt=0, description="thinnest wall allowed; default: the process's wall limit")

    @classmethod
    def word(cls) -> str:
        """`wall`."""
        return "wall"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """Thin walls of every part, worst first, or one pass with the thinnest wall."""
        limit = bench.wall_limit_mm if self.limit is None else self.limit
        return tuple(finding for part in bench.parts.values() for finding in _of_part(bench, part, limit))


def _of_part(bench: Bench, part: Part, limit: float) -> list[Finding]:
    shared = max(limit, bench.wall_limit_mm, bench.process.web_limit_mm)  # one measurement serves both checks
    found = wall_thickness(part.solid, limit_mm=shared, fine=bench.fine, tell=bench.tell)
    thin = [s for s in found.thin_spots if s.kind in _WALLS and s.thickness_mm < limit * (1.0 - _SLACK)]
    sharp = [s for s in found.thin_spots if s.kind == "knife edge" and s.extent_mm[1] >= limit]
    near = 5.0 * limit
    lit = [(spot, window) for spot in thin if (window := _window(bench, part, spot)) is not None]
    thin = [spot for spot in thin if all(spot is not one for one, _ in lit)]
    walls = sorted(
        zip(thin, makers(bench, part, thin, near), strict=True),
        key=lambda pair: (pair[1] == "input", pair[0].thickness_mm),
    )
    edges = sorted(
        zip(sharp, makers(bench, part, sharp, near), strict=True),
        key=lambda pair: (pair[1] == "input", -pair[0].extent_mm[1]),
    )
    findings = handful([_thin(part.name, spot, maker, limit) for spot, maker in walls], _MOST)
    findings += handful([_sharp(part.name, spot, maker) for spot, maker in edges], _MOST_EDGES)
    findings += [_light_wall(bench, part.name, spot, window) for spot, window in lit]
    return findings if walls else [_passed(part.name, found, limit), *findings]


def _thin(part: str, spot: ThinSpot, maker: str, limit: float) -> Finding:
    narrow, wide = spot.extent_mm
    short = limit - spot.thickness_mm
    if maker == "input":
        fix = f"thicken it by {show_mm(short)} in the model, or accept it with a reason"
    else:
        fix = f"move or shrink what {maker} cuts here by {show_mm(short)}"
    return Finding(
        check="wall",
        part=part,
        verdict="warn" if maker == "input" else "fail",
        value=spot.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=triple(spot.at_mm),
        says=f"{_WALLS[spot.kind]} {show_mm(spot.thickness_mm)} thick, thin over {show_mm(narrow)} by {show_mm(wide)}",
        fix=fix,
        made_by=maker,
    )


def _window(bench: Bench, part: Part, spot: ThinSpot) -> Window | None:
    """The declared light window whose wall a thin spot is, if it is as thick as the window asks."""
    for window in bench.ledger.windows:
        out, across = np.array(window.out), np.array(window.across)
        away = np.array(spot.at_mm) - np.array(window.at_mm)
        aside = np.abs(away @ np.stack([across, np.cross(out, across)], axis=1))
        within = bool((aside <= np.array(window.half_mm) + window.wall_mm).all())
        level = -window.depth_mm - 2.0 * window.wall_mm <= away @ out <= window.depth_mm + window.wall_mm
        asked = spot.thickness_mm >= window.wall_mm * (1.0 - _LIGHT_SLACK)
        if window.part == part.name and within and level and asked:
            return window
    return None


def _light_wall(bench: Bench, part: str, spot: ThinSpot, window: Window) -> Finding:
    """A wall that is thin on purpose: held to what the process prints at all, not to the recipe's tighter wish."""
    least = bench.process.wall_limit_mm
    held = spot.thickness_mm >= least * (1.0 - _SLACK)
    return Finding(
        check="wall",
        part=part,
        verdict="pass" if held else "warn",
        value=spot.thickness_mm,
        limit=least,
        unit="mm",
        at_mm=triple(spot.at_mm),
        says=f"light wall {show_mm(spot.thickness_mm)} thick, {show_mm(window.wall_mm)} asked for by {window.id}",
        fix="" if held else "print one to see whether it holds, or ask for a thicker window",
        made_by=window.step,
    )


def _sharp(part: str, spot: ThinSpot, maker: str) -> Finding:
    length = f", {show_mm(spot.extent_mm[1])} long" if spot.extent_mm[1] else ""
    return Finding(
        check="wall",
        part=part,
        verdict="warn",
        value=spot.angle_deg,
        limit=None,
        unit="deg",
        at_mm=triple(spot.at_mm),
        says=f"knife edge of {show_deg(spot.angle_deg)}{length}; it will print ragged",
        fix="blunt the edge with a small flat or round",
        made_by=maker,
    )


def _passed(part: str, found: Thickness, limit: float) -> Finding:
    thinnest = found.thinnest
    if thinnest is None:
        says = "no two faces look at each other, so there is no wall to measure"
    else:
        says = f"thinnest wall {show_mm(thinnest.thickness_mm)} at {show_point(triple(thinnest.at_mm))}"
    return Finding(
        check="wall",
        part=part,
        verdict="pass",
        value=None if thinnest is None else thinnest.thickness_mm,
        limit=limit,
        unit="mm",
        at_mm=None if thinnest is None else triple(thinnest.at_mm),
        says=f"{says}; any thin place wider than {show_mm(found.resolution_mm)} would have been seen",
    )
