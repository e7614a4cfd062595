"""`mask_paint`: a printed mask that leaves a region of a part open to the spray and covers what lies around it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from pydantic import Field, model_validator

from prep.contract import Bench, Coat, Film, Finding, Ledger, Lift, Outcome, Step, View, Work
from prep.contract.films_at import films_at
from prep.contract.keep_bare import KeptBare, keep_bare
from prep.contract.spraying import Spraying, spraying
from prep.geometry.mask_field import MaskForm
from prep.geometry.mask_fit import EdgeSpots, SeatedFit, seated_fit
from prep.geometry.mask_shell import MaskShell, mask_shell
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from prep.physics.lightness import lightness
from prep.places.mask_form import mask_form, refuse_thin_strips
from prep.places.mask_pieces import MaskPieces, removable
from prep.places.paint_plan import LIGHT_BAND
from prep.places.place import triple
from prep.places.region import find_region
from prep.places.region_wanted import RegionWanted
from prep.tables import PaintRow
from prep.units import Direction, Length, show_mm

SHOWN_MM = 30.0
"""How far pieces are lifted in a picture, at most."""
EDGE_MM = 0.15
"""How far lip and edge of the window may lie apart."""
KINDS = ("primer", "colour", "clear")
VERBS: dict[str, Literal["prime", "spray", "clear"]] = {"primer": "prime", "colour": "spray", "clear": "clear"}
CAUTIONS = (
    "Spray outdoors or in a booth with forced air, and wear a respirator for organic vapour; a dust mask is not one.",
    "Wet paint and its vapour are flammable: no flame, spark or heater near by until it is dry.",
    "The can's own safety sheet and local rules come before anything written here.",
)


@dataclass(frozen=True)
class _Seated:
    """A mask's shell as it sits on the part, and what it was made from."""

    patch: Patch
    spots: EdgeSpots
    form: MaskForm
    film_mm: float
    shell: MaskShell
    fit: SeatedFit
    off: MaskPieces


class MaskPaint(Step):
    """Make a printed mask for one paint on one region: a shell that covers the clean skin around the window.

    The mask touches the part only on a narrow land along the window's edge, at the stated gap; behind it the underside
    lifts off, the lip thickens to the wall, and the edge face leans away from the spray. Clean skin within `reach` of
    the edge is covered, except where it looks away from the spray. The gap leaves room for coats that go on before.
    It comes off straight, parted and keyed where it must be, with a tab on each piece; where a round part leaves it
    free to turn, pads hold it if the skin has a place for them. The part itself is not changed; the film is entered in
    the ledger.

    Examples
    --------
    In the recipe of a round box with a cover:

        - step: mask_paint
          name: orange panel
          part: box
          paint: orange enamel
          region: {box: ["22, -12, 10 mm", "31, 12, 18 mm"]}
          land: 1.2 mm
          by_eye: true
    """

    step: Literal["mask_paint"] = Field(description="this step's word")
    part: str = Field(description="the part that is painted")
    paint: str = Field(description="a row of the `paints` table")
    region: RegionWanted = Field(description="where the paint goes: the mask's window")
    land: Length = Field(1.2, gt=0.0, le=5.0, description="contact width along the window's edge")
    gap: Length | None = Field(None, ge=0.0, le=0.3, description="between land and skin; default from the process")
    lip: Length | None = Field(None, gt=0.0, le=3.0, description="thickness at the edge; default from the process")
    wall: Length | None = Field(None, gt=0.0, le=6.0, description="thickness behind; default from the process")
    relief: Length | None = Field(None, gt=0.0, le=3.0, description="room behind the land; default from the process")
    reach: Length | None = Field(None, gt=0.0, le=200.0, description="how far around the window clean skin is covered")
    pull: Direction | None = Field(None, description="way in which the mask comes off; default: found")
    by_eye: bool = Field(False, description="accept a mask that a round shape leaves free to turn, and lay it by eye")
    covers: tuple[str, ...] = Field((), description="parts that close a hollow part: what they hide is not painted")
    caps: bool = Field(True, description="plug and cap what must stay bare inside the window")

    @model_validator(mode="after")
    def _whole(self) -> MaskPaint:
        if self.reach is not None and self.reach <= self.land:
            raise ValueError(f"`reach: {show_mm(self.reach)}` must be more than the land, {show_mm(self.land)}")
        if self.relief is not None and self.relief <= (self.gap or 0.0):
            raise ValueError("`relief` is more than `gap`, or the mask rubs on all it covers")
        return self

    def changes(self) -> tuple[str, ...]:
        """Return no part: a mask cuts nothing."""
        return ()

    def reads(self) -> tuple[str, ...]:
        """Return the part that is painted."""
        return (self.part, *self.covers)

    def bodies(self) -> tuple[str, ...]:
        """Return the exported bodies that the region names."""
        return self.region.bodies()

    def coats(self) -> tuple[Coat, ...]:
        """Return the one coat, on the region."""
        return (
            Coat(
                step=self.title,
                part=self.part,
                paint=self.paint,
                region=self.region,
                covers=self.covers,
                capped=self.caps,
            ),
        )

    def apply(self, bench: Bench) -> Outcome:
        """Make the mask, and enter film and work in the ledger."""
        row = bench.tables.paints.get(self.paint)
        bench.tell("finding the region", 0.05)
        patch = find_region(bench.parts[self.part], self.region, bench.bodies, self._closed_by(bench))
        seated = self._seated(bench, row, patch)
        bench.tell("plugs and caps", 0.9)
        kept = keep_bare(bench, self.part, patch.contains, self.title) if self.caps else KeptBare({}, {}, (), ())
        bench.tell("where the gun stands", 0.95)
        masks = [piece.solid for piece in seated.off.pieces]
        spray = spraying(self.part, self.title, patch, [bench.parts[self.part].solid, *masks])
        return self._outcome(bench, row, seated, kept, spray)

    def _closed_by(self, bench: Bench) -> list[Solid]:
        return [bench.parts[name].solid for name in self.covers]

    def _seated(self, bench: Bench, row: PaintRow, patch: Patch) -> _Seated:
        spots = EdgeSpots.of(patch)
        under = replace(bench, ahead=self._goes_before(bench, row))
        film = float(films_at(under, self.part, spots.behind(0.5 * self.land)).max(initial=0.0))
        form = mask_form(
            bench.process,
            land_mm=self.land,
            gap_mm=self.gap,
            lip_mm=self.lip,
            wall_mm=self.wall,
            relief_mm=self.relief,
            reach_mm=self.reach,
            film_mm=film,
        )
        refuse_thin_strips(patch, spots, bench.process, self.land)
        bench.tell("making the shell", 0.2)
        shell = mask_shell(bench.parts[self.part].solid, patch, form, self._closed_by(bench))
        fit = seated_fit(shell.pieces, patch, spots, form.land_mm, form.gap_mm)
        bench.tell("taking it off", 0.6)
        off = removable(
            bench.parts[self.part].solid,
            shell.pieces,
            patch,
            pull=None if self.pull is None else np.array(self.pull),
            land_mm=form.land_mm,
            gap_mm=form.gap_mm,
            process=bench.process,
            by_eye=self.by_eye,
            tell=lambda says, share: bench.tell(says, 0.6 + 0.3 * share),
        )
        return _Seated(patch, spots, form, film, shell, fit, off)

    def _goes_before(self, bench: Bench, row: PaintRow) -> tuple[Coat, ...]:
        """Coats of the same part that may lie under this mask: earlier kinds, and colours not darker than this one."""
        before = []
        for coat in bench.ahead:
            other = bench.tables.paints.get(coat.paint)
            rank = KINDS.index(other.kind) - KINDS.index(row.kind)
            lighter = rank == 0 and _lightness(other) > _lightness(row) - LIGHT_BAND
            if coat.part == self.part and coat.step != self.title and (rank < 0 or lighter):
                before.append(coat)
        return tuple(before)

    def _touches(self, bench: Bench, seated: _Seated) -> tuple[str, ...]:
        """Steps whose coats lie on this region or under the land of its mask."""
        patch = seated.patch
        own = np.concatenate([seated.spots.behind(0.5 * self.land), patch.corners.mean(axis=1)])
        found = []
        for coat in bench.ahead:
            if coat.part != self.part or coat.step == self.title:
                continue
            if coat.region is not None:
                beside = [bench.parts[name].solid for name in coat.covers]
                other = find_region(bench.parts[self.part], coat.region, bench.bodies, beside)
                if not (other.contains(own).any() or patch.contains(other.corners.mean(axis=1)).any()):
                    continue
            found.append(coat.step)
        return tuple(found)

    def _outcome(self, bench: Bench, row: PaintRow, seated: _Seated, kept: KeptBare, spray: Spraying) -> Outcome:
        off = seated.off
        masks = [piece.solid for piece in off.pieces]
        names = ["mask"] if len(masks) == 1 else [f"mask {piece.name}" for piece in off.pieces]
        film = Film(
            step=self.title,
            part=self.part,
            region=self.region.says(),
            coat=row.name,
            thickness_mm=row.film_mm,
            area_mm2=seated.patch.area_mm2,
            touches=self._touches(bench, seated),
        )
        return Outcome(
            solids={},
            predictions=(),
            extra={**dict(zip(names, masks, strict=True)), **kept.pieces},
            ledger=Ledger(
                films=(film,), work=self._work(row, seated, len(kept.pieces) + len(kept.by_hand), spray.says)
            ),
            facts=self._facts(bench, row, seated, kept) | spray.facts,
            findings=(*kept.findings, *spray.findings, self._edge(seated)),
            cautions=(
                *CAUTIONS,
                *off.notes,
                *([f"{row.name}: {row.caution}."] if row.caution else []),
                self._beyond(seated),
            ),
            views=(self._view(seated, names),),
            lifts=(
                Lift(
                    part=self.part,
                    pieces=tuple(names),
                    toward=tuple(triple(piece.pull) for piece in off.pieces),
                    path_mm=tuple(min(piece.path_mm, SHOWN_MM) for piece in off.pieces),
                ),
                *kept.lifts(self.part),
            ),
        )

    def _edge(self, seated: _Seated) -> Finding:
        """Whether the lip follows the window's edge all round."""
        fit = seated.fit
        off = max(fit.edge_back_mm, fit.edge_over_mm)
        good = off <= EDGE_MM and fit.bare_share == 0.0
        says = f"the lip follows the window's edge within {show_mm(off)}"
        if not good:
            says += f"; {fit.bare_share:.1%} of the edge has no land to seal it"
        return Finding(
            check="mask edge",
            part=self.part,
            verdict="pass" if good else "warn",
            value=off,
            limit=EDGE_MM,
            unit="mm",
            says=says,
            fix="" if good else "move the region's edge off slots and narrow strips, or tape that stretch by hand",
            made_by=self.title,
        )

    def _beyond(self, seated: _Seated) -> str:
        return (
            f"The mask of {self.part} ends {seated.form.reach_mm:g} mm from the window: bag or tape what lies beyond."
        )

    def _work(self, row: PaintRow, seated: _Seated, caps: int, passes: str) -> tuple[Work, ...]:
        name, title, verb = self.part, self.title, VERBS[row.kind]
        count = len(seated.off.pieces)
        says = f"seat the mask of {name}, {count} piece{'s' if count > 1 else ''}, land pressed home all round"
        says += f"; first {caps} plugs and caps" if caps else ""
        mask = Work(id=f"mask {name}: {title}", step=title, verb="mask", says=says, after=(f"print {name}",))
        spray = Work(
            id=f"{verb} {name}: {title}",
            step=title,
            verb=verb,
            says=f"{name}, {self.region.says()}, with {row.name}: {row.coats} thin coats, "
            f"{row.flash_min:g} min between them, each with the gun {passes}",
            after=(mask.id,),
            minutes=row.flash_min * (row.coats - 1),
        )
        unmask = Work(
            id=f"unmask {name}: {title}",
            step=title,
            verb="unmask",
            says=f"{name}, while {row.name} is tack-free but not hard: "
            + "; ".join(f"mask {piece.name}: {piece.says}" for piece in seated.off.pieces)
            + "; wipe the lip",
            after=(spray.id,),
            minutes=row.unmask_min,
        )
        return (mask, spray, unmask)

    def _facts(self, bench: Bench, row: PaintRow, seated: _Seated, kept: KeptBare) -> dict[str, object]:
        form, fit, shell = seated.form, seated.fit, seated.shell
        volume = sum(piece.solid.volume_mm3 for piece in seated.off.pieces)
        return {
            "paint": row.name,
            "area_cm2": seated.patch.area_mm2 / 100.0,
            "film_mm": row.film_mm,
            "edge_mm": seated.patch.edge_length_mm,
            "land_mm": form.land_mm,
            "gap_mm": form.gap_mm,
            "film_under_land_mm": seated.film_mm,
            "gap_found_mm": list(fit.gap_mm),
            "edge_back_mm": fit.edge_back_mm,
            "edge_over_mm": fit.edge_over_mm,
            "edge_without_land": fit.bare_share,
            "relief_mm": form.relief_mm,
            "lip_mm": form.lip_mm,
            "wall_mm": form.wall_mm,
            "reach_mm": form.reach_mm,
            "pieces": len(seated.off.pieces),
            "pulls": [
                {"piece": piece.name, "along": list(triple(piece.pull)), "mm": piece.path_mm}
                for piece in seated.off.pieces
            ],
            "volume_mm3": volume,
            "mass_g": volume * bench.parts[self.part].material.density_g_cm3 / 1000.0,
            "left_out": shell.crumbs,
            "left_out_mm3": shell.crumbs_mm3,
            "kept_bare": [{"piece": piece, "for": what} for piece, what in kept.for_what.items()],
            "by_hand": [{"what": what, "why": why} for what, why in kept.by_hand],
        }

    def _view(self, seated: _Seated, names: list[str]) -> View:
        """A section through the lip, square to the edge, at the spot whose skin faces most like the whole window."""
        spots = seated.spots
        row = int(np.argmax(spots.normal @ spots.normal.mean(axis=0)))
        return View(
            title=f"{self.title}: lip at the window's edge",
            part=self.part,
            with_parts=tuple(f"{self.title}-{name}" for name in names),
            at_mm=triple(spots.at_mm[row]),
            normal=triple(np.cross(spots.away[row], spots.normal[row])),
            span_mm=2.0 * (seated.form.settled_mm + seated.form.wall_mm),
        )


def _lightness(row: PaintRow) -> float:
    return lightness(row.colour) if row.colour else 100.0
