"""`seat_magnets`: seats for disc magnets, on a mating pair or at places on one part."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Literal

import numpy as np
from pydantic import Field, model_validator

from prep.contract import (
    Bare,
    Bench,
    Finding,
    Item,
    Ledger,
    Outcome,
    PlacedIn,
    Prediction,
    Step,
    View,
    Void,
    Work,
)
from prep.contract.films_at import films_between
from prep.contract.mouths import round_mouths
from prep.errors import CannotInsert, DoesNotFit
from prep.geometry.contact import find_contact
from prep.geometry.seat_room import SeatRoom, square_axes
from prep.geometry.solid import Array
from prep.geometry.spread import least_distance
from prep.physics.magnetism import INGESTION_LIMIT, flux_index
from prep.physics.seat_fit import Fixing
from prep.places.find import find_places
from prep.places.magnet_choice import MagnetAim, MagnetSet, choose_magnet, ideal_pulls
from prep.places.magnet_cut import CutSeats, cut_seats
from prep.places.place import Place, triple, unit_of
from prep.places.poles import PolePattern, pole_pattern
from prep.places.seam import candidates_on
from prep.places.seat_need import Candidates
from prep.places.wanted import PlacesWanted
from prep.tables import MagnetRow
from prep.units import Force, Fraction, Length, show_n

SEAM_REACH_MM = 0.5
STEEL_G_MM3 = 7.85e-3
LIES_FLAT = 0.995

CAUTIONS = ("Keep magnets 15 cm from pacemakers and other implanted devices.",)
GLUING = {
    "glue": "two-part epoxy without steel filler, no hot-melt",
    "press": "press in cold with a flat tool",
    "ribs": "press in cold; a drop of glue where a rib is loose",
}
SETTING = "; glue one part, let it cure, then set the partner through the closed pair"


class SeatMagnets(Step):
    """Cut seats for disc magnets, on the seam of a mating pair or at places on one part.

    On a pair the seats are spread over the seam as far apart as walls allow, coaxial in both parts, with
    complementary poles. The seat is the sum of magnet, fit and glue for the process and the way of fixing. The pull is
    that of coaxial discs at the gap the finished parts leave; `service` is the share of it that is counted on.
    """

    step: Literal["seat_magnets"] = Field(description="this step's word")
    between: tuple[str, str] | None = Field(None, description="a mating pair: seats in both parts, on their seam")
    part: str | None = Field(None, description="one part alone, with `at`")
    at: PlacesWanted | None = Field(None, description="places, instead of a spread over the seam")
    magnet: str | None = Field(
        None, description="a disc of the `magnets` table; without it `hold` chooses the smallest"
    )
    count: int = Field(4, ge=1, le=32, description="how many seats are spread over the seam")
    fixing: Fixing = Field("glue", description="how the magnet is held: glue, press, crush ribs, or buried at a pause")
    skin: Length = Field(0.0, ge=0.0, description="plastic left between magnet and mating face; seats then open behind")
    hold: Force | None = Field(None, gt=0.0, description="force to pull the pair apart, checked")
    opposite: Literal["magnet", "steel"] = Field("magnet", description="what sits in the second part")
    vent: Literal["groove", "hole", "none"] = Field("groove", description="air way of a glued blind seat")
    service: Fraction = Field(0.7, gt=0.0, le=1.0, description="share of the ideal pull that is counted on")

    @model_validator(mode="after")
    def _whole(self) -> SeatMagnets:
        if (self.between is None) == (self.part is None):
            raise ValueError("give either `between: [first, second]` or `part:`")
        if self.between is not None and len(set(self.between)) == 1:
            raise ValueError("`between:` names two different parts")
        if self.part is not None and self.at is None:
            raise ValueError("on one part, `at:` says where")
        spread = [place.seam for place in self.at or () if place.seam is not None]
        if spread and (len(self.at or ()) > 1 or not set(self.changes()) <= set(spread[0])):
            raise ValueError("a spread over a seam stands alone in `at:` and names the parts of this step")
        if self.magnet is None and self.hold is None:
            raise ValueError("give `magnet:`, or `hold:` to have one chosen")
        if self.fixing == "buried" and self.skin <= 0.0:
            raise ValueError("a buried magnet lies under a skin: give `skin:`")
        return self

    def changes(self) -> tuple[str, ...]:
        """Return the parts that get seats."""
        return self.between or (self.part or "",)

    def reads(self) -> tuple[str, ...]:
        """Return the other part of a seam whose seats go into one part alone."""
        seam = self._seam() or ()
        return tuple(name for name in seam if name not in self.changes())

    def apply(self, bench: Bench) -> Outcome:
        """Choose magnet and places, cut the seats, and enter the magnets in the ledger."""
        aim = self._aim(bench)
        rooms = [SeatRoom(bench.parts[name].solid) for name in aim.names]
        bench.tell("finding the seam", 0.1)
        contact = None
        seam = self._seam()
        if seam is not None:
            first, second = (bench.parts[name].solid for name in seam)
            spacing = max(0.6, first.diagonal_mm / 200.0)
            contact = find_contact(first, second, reach_mm=SEAM_REACH_MM, spacing_mm=spacing)
        fixed = None
        if self.at is not None and self.at[0].seam is None:
            places = find_places(rooms[0].solid, self.at)
            fixed = Candidates(np.array([p.at_mm for p in places]), -np.array([p.inward for p in places]))

        def candidates(radius_mm: float) -> tuple[Candidates, ...]:
            if fixed is not None or contact is None:
                return (fixed or Candidates(np.empty((0, 3)), np.empty((0, 3))),)
            return candidates_on(contact, radius_mm)

        skin = fixed.points if fixed is not None else contact.points if contact is not None else np.empty((0, 3))
        gap, walls = films_between(bench, aim.names, skin)
        aim = replace(aim, gap_film_mm=gap, wall_film_mm=walls)
        bench.tell("choosing places", 0.3)
        stocked = [row for row in bench.tables.magnets.rows if row.shape == "disc" and row.stocked]
        chosen = choose_magnet(aim, rooms, candidates, self._wanted(bench, stocked), stocked)
        if self.fixing == "buried":
            self._refuse_unless_pausable(bench, aim, chosen)
        bench.tell("cutting seats", 0.8)
        cuts = [cut_seats(aim, room, chosen, side) for side, room in enumerate(rooms)]
        return self._outcome(bench, aim, chosen, cuts)

    def _refuse_unless_pausable(self, bench: Bench, aim: MagnetAim, chosen: MagnetSet) -> None:
        """A magnet is dropped in at a pause: the process must leave the seat empty, and the seat must lie flat."""
        process = bench.process
        if process.void_holds != "air":
            raise CannotInsert(
                f"a magnet cannot be buried in {process.name}: a seat that is not open is full of {process.void_holds}",
                found=f"void_holds: {process.void_holds}",
                fix="choose `fixing: glue`, `press` or `ribs` and leave `skin:` out: the seats then open on the face",
            )
        for name in aim.names:
            tilt = np.abs(chosen.found.axes @ unit_of(bench.parts[name].up)).min()
            if tilt < LIES_FLAT:
                raise CannotInsert(
                    f"a magnet buried in {name} would not lie flat when the print is paused",
                    found=f"a seat tilts {np.degrees(np.arccos(tilt)):.1f} deg from the build direction",
                    fix=f"print {name} with `up:` along the seats, or choose another fixing",
                )

    def _seam(self) -> tuple[str, str] | None:
        """The two parts whose seam is looked for, the part that gets the first seats before the other."""
        spread = self.at[0].seam if self.at is not None else None
        if self.part is not None and spread is not None:
            return (spread[0], spread[1]) if spread[0] == self.part else (spread[1], spread[0])
        return self.between

    def _aim(self, bench: Bench) -> MagnetAim:
        count = self.count if self.at is None else self.at[0].spread
        return MagnetAim(
            names=self.changes(),
            fixing=self.fixing,
            skin_mm=self.skin,
            vent=self.vent,
            count=count,
            against="steel" if self.part is not None else self.opposite,
            service=self.service,
            hold_n=self.hold or 0.0,
            process=bench.process,
            wall_mm=bench.wall_limit_mm,
        )

    def _wanted(self, bench: Bench, stocked: list[MagnetRow]) -> list[MagnetRow]:
        if self.magnet is None:
            return sorted(stocked, key=lambda row: (row.mass_g, row.remanence_t, row.name))
        row = bench.tables.magnets.get(self.magnet)
        if row.shape != "disc":
            raise DoesNotFit(
                f"{row.name} is a block; seats are cut for discs",
                found=f"a block of {row.width_mm:g} x {row.length_mm:g} mm",
                fix="choose a disc (`prep table magnets`)",
            )
        return [row]

    def _outcome(self, bench: Bench, aim: MagnetAim, chosen: MagnetSet, cuts: list[CutSeats]) -> Outcome:
        n = len(chosen.gaps_mm)
        sealed = n if self.fixing == "buried" else 0
        pattern = pole_pattern(chosen.found.mouths[0], chosen.found.axes.mean(axis=0))
        first = 1 + sum(item.kind == "magnet" for item in bench.ledger.items)
        items: list[Item] = []
        voids, places, work, bare = [], [], [], list[Bare]()
        for side, (name, cut) in enumerate(zip(aim.names, cuts, strict=True)):
            items += self._items(aim, chosen, pattern, side, first, cut)
            for mouth, floor, out in zip(cut.mouths, cut.floors, cut.outs, strict=True):
                places.append(PlacedIn(part=name, feature="magnet seat", place=Place.of(mouth, -out)))
                left = max(cut.shared.volume_mm3 / n - _volume(chosen.magnet), 0.0)
                state: Literal["open", "sealed"] = "sealed" if sealed else "open"
                voids.append(Void(step=self.title, part=name, at_mm=triple(floor), volume_mm3=left, state=state))
            work.append(self._work(bench, name, chosen, cut))
            if self.fixing != "buried":
                clear = max(chosen.shape.radius_mm - chosen.magnet.diameter_mm / 2.0, 0.0)
                size = (chosen.shape.radius_mm, chosen.fit.depth_mm, clear)
                bare += round_mouths(self.title, name, "magnet seat", cut.mouths, cut.outs, size)
        return Outcome(
            solids={name: cut.solid for name, cut in zip(aim.names, cuts, strict=True)},
            predictions=tuple(
                Prediction(
                    part=name,
                    shells=sealed,
                    sealed_voids=sealed,
                    genus=cut.through,
                    volume_mm3=-cut.shared.volume_mm3,
                    volume_tolerance_mm3=0.005 * cut.shared.volume_mm3 + cut.shared.error_mm3,
                )
                for name, cut in zip(aim.names, cuts, strict=True)
            ),
            ledger=Ledger(items=tuple(items), voids=tuple(voids), work=tuple(work), bare=tuple(bare)),
            facts=self._facts(aim, chosen, pattern, cuts),
            places=tuple(places),
            findings=tuple(self._findings(aim, chosen)),
            cautions=(_swallowing(chosen.magnet), *CAUTIONS, *self._unvented(aim, cuts)),
            views=tuple(_views(bench, aim, chosen, items)),
        )

    def _unvented(self, aim: MagnetAim, cuts: list[CutSeats]) -> Iterable[str]:
        for name, cut in zip(aim.names, cuts, strict=True):
            without = len(cut.floors) - cut.vents
            if self.fixing == "glue" and self.vent != "none" and without:
                yield f"{without} seats in {name} have no air way, for want of wall: use little glue and press slowly."

    def _items(
        self, aim: MagnetAim, chosen: MagnetSet, pattern: PolePattern, side: int, first: int, cut: CutSeats
    ) -> Iterable[Item]:
        n, magnet = len(chosen.gaps_mm), chosen.magnet
        steel = side == 1 and self.opposite == "steel"
        paired = len(aim.names) == 2 and self.opposite == "magnet"
        toward_seam = (1 - 2 * side) * chosen.found.axes
        for k in range(n):
            out = pattern.poles[k]
            pole: Literal["N", "S"] = out if side == 0 else ("S" if out == "N" else "N")
            yield Item(
                id=f"{'W' if steel else 'M'}{first + side * n + k}",
                item=f"steel disc {magnet.diameter_mm:g}x{magnet.thickness_mm:g}" if steel else magnet.name,
                kind="other" if steel else "magnet",
                step=self.title,
                part=aim.names[side],
                at_mm=triple(cut.magnets[k]),
                axis=triple(toward_seam[k]),
                mass_g=_volume(magnet) * STEEL_G_MM3 if steel else magnet.mass_g,
                pole_out=None if steel else pole,
                ferrous=True,
                highest_c=None if steel else magnet.highest_c,
                radius_mm=magnet.diameter_mm / 2.0,
                length_mm=magnet.thickness_mm,
                pairs_with=f"M{first + k + (1 - side) * n}" if paired else None,
            )

    def _work(self, bench: Bench, name: str, chosen: MagnetSet, cut: CutSeats) -> Work:
        magnet = chosen.magnet
        if self.fixing == "buried":
            heights = ", ".join(f"{height:g}" for height in _pauses(bench, name, chosen, cut))
            says = f"while printing {name}: pause {heights} mm above the bed, drop in {magnet.name}, print on"
            return Work(id=f"seat {name}: {self.title}", step=self.title, verb="seat", says=says)
        return Work(
            id=f"seat {name}: {self.title}",
            step=self.title,
            verb="seat",
            says=f"{magnet.name} into {name}, {len(cut.floors)} times: {GLUING[self.fixing]}"
            + (SETTING if self.fixing == "glue" and self.between is not None else ""),
            after=(f"print {name}",),
            highest_c=magnet.highest_c,
        )

    def _facts(
        self, aim: MagnetAim, chosen: MagnetSet, pattern: PolePattern, cuts: list[CutSeats]
    ) -> dict[str, object]:
        magnet, fit = chosen.magnet, chosen.fit
        total = chosen.pull_n
        low, high = (br / magnet.remanence_t for br in (magnet.remanence_low_t, magnet.remanence_high_t))
        touching = float(ideal_pulls(aim, magnet, np.zeros(1))[0]) * len(chosen.gaps_mm)
        return {
            "magnet": magnet.name,
            "seats": len(chosen.gaps_mm),
            "against": "thick steel" if aim.against == "steel" else "a magnet of the same size",
            "fixing": self.fixing,
            "seat_diameter_mm": fit.diameter_mm,
            "seat_diameter": fit.diameter_says,
            "seat_depth_mm": fit.depth_mm,
            "seat_depth": fit.depth_says,
            "vented": [cut.vents for cut in cuts],
            "film_in_gap_mm": aim.gap_film_mm or None,
            "pull_before_paint_n": _without_film(aim, chosen) if aim.gap_film_mm else None,
            "face_gap_mm": [float(gap) for gap in chosen.gaps_mm],
            "pull_each_n": [float(pull) for pull in chosen.pulls_n],
            "pull_ideal_n": total,
            "pull_ideal_band_n": [total * low**2, total * high**2],
            "pull_counted_on_n": total * self.service,
            "service": self.service,
            "share_of_contact_pull": total / touching,
            "flux_index_kg2mm2": float(flux_index(magnet.diameter_mm, magnet.thickness_mm, magnet.remanence_t)),
            "flux_index_limit_kg2mm2": INGESTION_LIMIT,
            "highest_c": magnet.highest_c,
            "least_wall_mm": float(chosen.found.walls_mm.min()),
            "least_spacing_mm": least_distance(chosen.found.mouths[0]) if len(chosen.gaps_mm) > 1 else None,
            "poles_first_part": list(pattern.poles),
            "wrong_turns_deg": list(pattern.wrong_turns),
            "pushed_off_at": list(pattern.pushed_off),
        }

    def _findings(self, aim: MagnetAim, chosen: MagnetSet) -> Iterable[Finding]:
        if self.hold is None:
            return
        magnet, ideal = chosen.magnet, chosen.pull_n
        steel = aim.against == "steel"
        holds = ideal * self.service >= self.hold
        bound = holds and steel and self.between is not None
        fix = "" if holds else "more seats, a larger disc, or less between the faces"
        yield Finding(
            check="hold",
            part=aim.names[0],
            verdict="warn" if bound else "pass" if holds else "fail",
            value=ideal * self.service,
            limit=self.hold,
            unit="N",
            at_mm=triple(chosen.found.mouths[0][0]),
            says=f"{len(chosen.gaps_mm)} x {magnet.name} hold {' and '.join(aim.names)} with "
            f"{show_n(ideal * self.service)}, {self.service:.0%} of {show_n(ideal)} ideal"
            + (" against wide, thick steel" if steel else "")
            + ("; a disc of steel collects less" if bound else ""),
            fix="try it on a print, or put magnets in both parts" if bound else fix,
            made_by=self.title,
        )


def _without_film(aim: MagnetAim, chosen: MagnetSet) -> float:
    """Ideal pull of the set before any paint."""
    bare = ideal_pulls(aim, chosen.magnet, chosen.gaps_mm - aim.gap_film_mm)
    return float(np.linalg.norm(bare @ chosen.found.axes))


def _pauses(bench: Bench, name: str, chosen: MagnetSet, cut: CutSeats) -> list[float]:
    """Heights over the bed at which a print is paused: the last whole layer before each seat is roofed, mm."""
    part, layer = bench.parts[name], bench.process.layer_mm
    up = unit_of(part.up)
    bed = float((part.original.vertices @ up).min())
    ceilings = cut.mouths - chosen.shape.roof_mm * cut.outs
    tops = np.maximum(ceilings @ up, cut.floors @ up) - bed
    return sorted({round(float(np.floor(top / layer + 1e-6)) * layer, 3) for top in tops})


def _swallowing(magnet: MagnetRow) -> str:
    """The caution that goes with the magnet's flux index, 16 CFR 1262.2 and 1262.3."""
    index = float(flux_index(magnet.diameter_mm, magnet.thickness_mm, magnet.remanence_high_t))
    says = f"{magnet.name}: flux index up to {index:.0f} kG²mm², limit {INGESTION_LIMIT:g} where magnets can come loose"
    if index < INGESTION_LIMIT:
        return f"{says}."
    return (
        f"{says}: a swallowing hazard, for two swallowed apart can pinch the bowel. See that none can come out, keep "
        "loose ones and the model from children, and follow local rules."
    )


def _volume(magnet: MagnetRow) -> float:
    return float(np.pi * magnet.diameter_mm**2 / 4.0 * magnet.thickness_mm)


def _views(bench: Bench, aim: MagnetAim, chosen: MagnetSet, items: list[Item]) -> Iterable[View]:
    """A section along each seat's axis, toward the middle of the parts."""
    middle: Array = np.mean([bench.parts[name].solid.bounds_mm.mean(axis=0) for name in aim.names], axis=0)
    n = len(chosen.gaps_mm)
    for k, (mouth, axis) in enumerate(zip(chosen.found.mouths[0], chosen.found.axes, strict=True)):
        toward = (middle - mouth) - axis * ((middle - mouth) @ axis)
        reach = float(np.linalg.norm(toward))
        along = toward / reach if reach > 1.0 else square_axes(axis[None])[0][0]
        yield View(
            title=" + ".join(item.id for item in items[k::n]),
            part=aim.names[0],
            with_parts=aim.names[1:],
            at_mm=triple(mouth),
            normal=triple(np.cross(axis, along)),
            span_mm=max(8.0 * chosen.shape.mouth_radius_mm, 24.0),
        )
