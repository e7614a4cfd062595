"""`divide_light`: thin walls between the cells of a light box, so that no cell lights the next."""

from __future__ import annotations

import itertools
import math
from typing import Any, Literal

import numpy as np
from pydantic import Field

from prep.contract import Bench, Finding, Outcome, PlacedIn, Prediction, Step, View
from prep.errors import BadValue, CellTooNarrow, EmptySolid
from prep.geometry.cell_borders import Border, cell_borders
from prep.geometry.columns import shared_by_columns
from prep.geometry.divider import Divider, DividerForm, DividerPlane, divider
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, subtract, unite
from prep.places.divider_wall import SPILL, DividerWall, divider_wall
from prep.places.find import find_places
from prep.places.led_wanted import WindowSize
from prep.places.place import Place, triple, unit_of
from prep.places.wanted import PlacesWanted
from prep.units import Direction, Length, show_mm, show_percent

_UPRIGHT = 0.966
"""Cosine of 15 degrees: a divider leaning less from the build direction is printed of beads side by side."""

_COLUMNS = 12
"""Of rays across the thickness of a divider, for its volume."""


class DivideLight(Step):
    """Divide the hollow of an open box into cells, one for each light, by walls midway between neighbours.

    A wall runs from side to side and from the floor to just under the covers; it ends inside the box's own walls, and
    keeps its play from every cover and off the way by which the cover lifts. Where the covers make the sides, as a
    frame on a floor plate does, it stands on the floor alone. Wires pass through a slot at its foot, which lets a
    little light pass as well.

    Examples
    --------
        - step: divide_light
          part: box
          at: [{point: "-9, 0, 3 mm"}, {point: "9, 0, 3 mm"}]
          open: +z
          covers: [cover]
          wall: 1.35 mm
    """

    step: Literal["divide_light"] = Field(description="this step's word")
    part: str = Field(description="the open box that gets the dividers")
    at: PlacesWanted | None = Field(None, description="middles of the cells, on its floor; default: the part's lamps")
    open: Direction = Field(description="the side on which the hollow is open")
    covers: tuple[str, ...] = Field((), description="parts that close it, by sides or from above")
    wall: Length | None = Field(
        None, gt=0.0, description="thickness; default: what the material needs to pass 2 % of the light"
    )
    play: Length | None = Field(
        None, ge=0.0, description="air left to the covers; default: the process's clearance of faces that slide"
    )
    wire_gap: WindowSize = Field((3.0, 2.0), description="width x height of the slot for wires; `0 mm` for none")

    def changes(self) -> tuple[str, ...]:
        """Return the box."""
        return (self.part,)

    def reads(self) -> tuple[str, ...]:
        """Return the covers."""
        return tuple(name for name in self.covers if name != self.part)

    def apply(self, bench: Bench) -> Outcome:
        """Find the cells, grow a wall between every two neighbours, and say what light it passes."""
        part, up = bench.parts[self.part], unit_of(self.open)
        wall = divider_wall(
            self.wall,
            part.material.name,
            bench.tables,
            bench.process,
            stands=abs(float(up @ unit_of(part.up))) > _UPRIGHT,
        )
        places, radii = self._cells(bench)
        borders = self._borders(bench, places, radii, wall)
        form = DividerForm(
            wall_mm=wall.wall_mm,
            play_mm=bench.process.slide_fit_mm if self.play is None else self.play,
            embed_mm=bench.process.wall_limit_mm / 2.0,
            slot_mm=(self.wire_gap[0], self.wire_gap[-1]),
        )
        covers = [bench.parts[name].solid for name in self.reads()]
        dividers = []
        for number, (_, plane) in enumerate(borders):
            bench.tell("raising dividers", number / len(borders))
            dividers.append(divider(part.solid, covers, plane, form))
        solid = unite([part.solid, *(each.solid for each in dividers)])
        return Outcome(
            solids={self.part: solid},
            predictions=(self._prediction(part.solid, dividers, up, wall.wall_mm),),
            facts=self._facts(wall, form, [border for border, _ in borders], dividers),
            places=tuple(PlacedIn(part=self.part, feature="cell", place=place) for place in places),
            findings=(self._finding(wall, dividers[0]),),
            cautions=self._cautions(dividers),
            views=(self._view(borders[0][1], dividers[0], part.solid),),
        )

    # --- what is asked for ----------------------------------------------------------------------

    def _cells(self, bench: Bench) -> tuple[list[Place], list[float]]:
        """Middles of the cells, and what each lamp takes up around it."""
        if self.at is not None:
            places = find_places(bench.parts[self.part].solid, self.at)
            radii = [0.0] * len(places)
        else:
            lamps = [lamp for lamp in bench.ledger.lamps if lamp.part == self.part]
            bodies = {item.id: item.radius_mm for item in bench.ledger.items}
            places = [Place.of(np.array(lamp.at_mm), -np.array(lamp.axis)) for lamp in lamps]
            radii = [bodies.get(lamp.id, 0.0) for lamp in lamps]
        if len(places) < 2:
            raise BadValue(
                "there is nothing to divide",
                found=f"{len(places)} cell{'' if len(places) == 1 else 's'}, at least 2 are needed",
                fix="give the middles of the cells with `at:`, or house their lamps in this part first",
            )
        return places, radii

    def _borders(
        self, bench: Bench, places: list[Place], radii: list[float], wall: DividerWall
    ) -> list[tuple[Border, DividerPlane]]:
        """Where dividers stand, each clear of the lamps on its two sides."""
        up = unit_of(self.open)
        across = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
        axes = np.stack([across / np.linalg.norm(across), np.cross(up, across / np.linalg.norm(across))])
        spots = np.array([place.at_mm for place in places])
        flat = spots @ axes.T
        fit = bench.process.slide_fit_mm
        for first, second in itertools.combinations(range(len(places)), 2):
            apart = float(np.linalg.norm(flat[first] - flat[second]))
            need = wall.wall_mm + 2.0 * (max(radii[first], radii[second], bench.wall_limit_mm) + fit)
            if apart < need:
                raise CellTooNarrow(
                    f"cells {first + 1} and {second + 1} are too close for a divider between them",
                    found=f"{apart:.2f} mm apart, {need:.2f} mm needed with a wall of {wall.wall_mm:.2f} mm",
                    fix=f"move them {show_mm(need - apart)} farther apart",
                )
        level = float((spots @ up).max()) + bench.wall_limit_mm
        found = []
        for border in cell_borders(flat, wall.wall_mm):
            origin = border.middle @ axes + level * up
            found.append((border, DividerPlane(origin, border.normal @ axes, up, border.low_mm, border.high_mm)))
        return found

    # --- what is said ---------------------------------------------------------------------------

    def _prediction(self, host: Solid, dividers: list[Divider], up: Array, wall_mm: float) -> Prediction:
        """Volume by columns of rays: of pieces that do not overlap, what is not the box's already."""
        pieces: list[Solid] = []
        for number, each in enumerate(dividers):
            try:
                pieces.append(subtract(each.solid, [one.solid for one in dividers[:number]]))
            except EmptySolid:
                continue
        scene = RayScene([host])
        fine = [math.ceil(_COLUMNS * float(piece.extents_mm.max()) / wall_mm) for piece in pieces]
        inside = [shared_by_columns(scene, piece, up, columns=many) for piece, many in zip(pieces, fine, strict=True)]
        volume = sum(piece.volume_mm3 - each.volume_mm3 for piece, each in zip(pieces, inside, strict=True))
        ends = sum(2.0 * wall_mm**2 / _COLUMNS * each.high_mm for each in dividers)  # a column at either end
        top = max(float((each.solid.vertices @ up).max()) for each in dividers)
        return Prediction(
            part=self.part,
            genus=sum(each.handles for each in dividers),
            volume_mm3=volume,
            volume_tolerance_mm3=sum(each.error_mm3 for each in inside) + 0.005 * volume + ends,
            grows=top > float((host.vertices @ up).max()),
        )

    def _facts(
        self, wall: DividerWall, form: DividerForm, borders: list[Border], dividers: list[Divider]
    ) -> dict[str, Any]:
        return {
            "wall_mm": wall.wall_mm,
            "asked_mm": wall.asked_mm,
            "snapped": wall.snapped,
            "passes": wall.passes,
            "light": wall.says,
            "play_mm": form.play_mm,
            "wire_gap_mm": list(form.slot_mm),
            "dividers": [
                {
                    "between": [border.pair[0] + 1, border.pair[1] + 1],
                    "length_mm": each.long_mm,
                    "height_mm": each.high_mm,
                    "at_mm": triple(each.at_mm),
                }
                for border, each in zip(borders, dividers, strict=True)
            ],
        }

    def _finding(self, wall: DividerWall, first: Divider) -> Finding:
        dark = wall.passes <= SPILL + 1e-9
        says = f"a divider of {wall.wall_mm:.2f} mm ({wall.snapped}) passes {show_percent(wall.passes)} of the light"
        fix = "" if wall.verified else "print `prep coupon step-wedge`, read it, and fill shop/transmission.csv"
        return Finding(
            check="divider",
            part=self.part,
            verdict="pass" if dark and wall.verified else "warn",
            value=wall.passes,
            limit=SPILL,
            at_mm=triple(first.at_mm),
            says=f"{says}; {wall.says}",
            fix=fix if dark else "leave `wall:` out, print it in a darker plastic, or coat it black",
            made_by=self.title,
        )

    def _cautions(self, dividers: list[Divider]) -> tuple[str, ...]:
        slots = sum(each.slotted for each in dividers)
        if not slots:
            return ()
        return (f"{slots} wire slots let light pass at the floor: close each with black putty round its wires.",)

    def _view(self, plane: DividerPlane, first: Divider, host: Solid) -> View:
        return View(
            title=f"{self.title}: divider{' and its slot' if first.slotted else ''}",
            part=self.part,
            with_parts=self.reads(),
            at_mm=triple(first.at_mm + first.high_mm / 2.0 * plane.up),
            normal=triple(plane.frame[0]),
            span_mm=min(1.2 * max(first.high_mm * 3.0, 12.0), host.diagonal_mm),
        )
