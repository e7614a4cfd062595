"""`match_weight`: pockets, empty or filled, that bring the model to a mass and a balance point."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from prep.contract import (
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
    before_weighing,
    weigh,
)
from prep.errors import NoSuchPlace, TargetOutOfReach
from prep.geometry.columns import shared_by_all
from prep.geometry.lathe import lathe
from prep.geometry.pocket_room import PocketRoom
from prep.geometry.solid import Array, Solid, subtract
from prep.physics.balance import Lump
from prep.physics.cut_mass import printed_in
from prep.physics.part_mass import part_factor
from prep.physics.pocket_plan import Wanted
from prep.places.opening import AXES, Balance, OpenOn, seam_of
from prep.places.place import Place, triple
from prep.places.pocket_choice import PocketAim, PocketChoice, PocketCut
from prep.places.pocket_limits import Limits, limits_of
from prep.places.pocket_settle import Settled, settle
from prep.places.pocket_words import close_word, figures, fill_word, filling_cautions, ids_word
from prep.units import Band, Length, MassBand, show_g, show_mm

GLUE = "two-part epoxy"
MASS_SHARE = 0.005
WEIGH = "weigh open "


@dataclass(frozen=True)
class _Job:
    """What is fixed while depths are sought."""

    bench: Bench
    only: str | None
    before: Lump
    mass: Band
    balance: dict[str, Band]
    room: PocketRoom

    @property
    def about(self) -> Array:
        """Moments are taken about the balance point before, which keeps them small."""
        return self.before.centre_mm


class MatchWeight(Step):
    """Bring the model to a mass and a balance point with pockets sunk from a hidden face, left empty or filled.

    Pockets are rounds or rounded slots with flat floors, as few as will do. They keep the wall to every other face and
    feature, and ballast that magnets pull stays two diameters from every magnet. The print is weighed as printed, on
    the geometry as cut: in sparse infill a pocket brings walls of its own. Where walls do not allow the target, the
    nearest mass and balance are delivered, with what stops it.

    Examples
    --------
        - step: match_weight
          part: box
          target: 36 g ± 0.2 g
          balance: {x: 0 mm ± 1 mm, y: 0 mm ± 1 mm}
          open: -z
          fill: [steel shot 1 mm]
    """

    whole_model: ClassVar[bool] = True

    step: Literal["match_weight"] = Field(description="this step's word")
    part: str = Field(description="the part that gets the pockets")
    target: MassBand = Field(description="mass wanted; without ± : ±0.5 %")
    of: Literal["model", "part"] = Field(
        "model", description="what is weighed: all parts and items, or this part alone"
    )
    balance: Balance = Field(Balance(), description="where it balances, axis by axis; axes left out are free")
    open: OpenOn = Field(description="the hidden face that pockets open on: a direction, or `{seam: [a, b]}`")
    fill: tuple[str, ...] = Field((), description="rows of the `ballast` table that may be used; [] to lighten only")
    pockets: int = Field(6, ge=1, le=12, description="most pockets allowed")
    cap: Length = Field(1.5, ge=0.0, description="glue over the ballast, up to the rim; 0 for none")

    def changes(self) -> tuple[str, ...]:
        """Return the part that gets the pockets."""
        return (self.part,)

    def apply(self, bench: Bench) -> Outcome:
        """Find the room, plan the pockets, cut and weigh, and enter ballast and work in the ledger."""
        bench.tell("looking for room", 0.05)
        job = self._job(bench)
        part = bench.parts[self.part]
        factor = part_factor(part.original, part.material, bench.process, part.up, part.weighed_g)
        printed = printed_in(part.solid, part.material, bench.process, part.up, factor)
        choice = PocketChoice(job.room, self._aim(job), printed, job.about)
        wanted = self._wanted(job)
        bench.tell("planning pockets", 0.4)
        tried: dict[tuple[PocketCut, ...], Bench] = {(): bench}

        def weigh_with(cuts: tuple[PocketCut, ...]) -> Lump:
            tried[cuts] = self._cut(job, cuts)
            return weigh(tried[cuts], job.only)

        settled = settle(choice, job.before, wanted, self.pockets, weigh_with)
        bench.tell("saying what was done", 0.9)
        limits = limits_of(choice, settled, job.before, wanted, self.pockets)
        if not settled.cuts and limits.missed and not choice.pockets:
            raise self._out_of_reach(job, limits)
        solid = tried[settled.cuts].parts[self.part].solid
        cutters = [cut.pocket.cutter(cut.depth_mm) for cut in settled.cuts]
        shared = shared_by_all(job.room.scene, cutters, [job.room.axes[2]] * len(cutters))
        return Outcome(
            solids={self.part: solid},
            predictions=(
                Prediction(
                    part=self.part,
                    volume_mm3=-shared.volume_mm3,
                    volume_tolerance_mm3=0.005 * shared.volume_mm3 + shared.error_mm3 + 1e-9 * part.solid.volume_mm3,
                ),
            ),
            ledger=self._ledger(job, settled),
            facts=self._facts(job, settled, limits),
            places=tuple(
                PlacedIn(
                    part=self.part, feature="pocket", place=Place.of(c.pocket.at(0.0), -c.pocket.out, c.pocket.along)
                )
                for c in settled.cuts
            ),
            findings=tuple(self._findings(job, settled, limits)),
            cautions=filling_cautions(settled.cuts),
            views=tuple(self._views(job, settled.cuts)),
        )

    # --- what is asked for ----------------------------------------------------------------------

    def _job(self, bench: Bench) -> _Job:
        part = bench.parts[self.part]
        out, seam = self._way_out(bench)
        only = self.part if self.of == "part" else None
        before = weigh(bench, only)
        room = PocketRoom(
            part.solid,
            out,
            wall_mm=bench.wall_limit_mm,
            uncut=part.original,
            kept_off=[_body(i) for i in bench.ledger.items if i.part == self.part and i.radius_mm * i.length_mm > 0.0],
            seam=seam,
        )
        return _Job(bench, only, before, self.target.or_within(MASS_SHARE), self.balance.bands, room)

    def _way_out(self, bench: Bench) -> tuple[Array, Array | None]:
        if self.open.seam is None:
            return np.array(self.open.toward), None
        first, second = self.open.seam
        if self.part not in {first, second} or not {first, second} <= bench.parts.keys():
            raise NoSuchPlace(
                f"the seam to open on is not one of {self.part} and another part",
                found=f"seam between {first} and {second}",
                fix=f"name {self.part} and the part it mates with",
            )
        mate = bench.parts[second if first == self.part else first].solid
        return seam_of(bench.parts[self.part].solid, mate)

    def _aim(self, job: _Job) -> PocketAim:
        bench, out = job.bench, job.room.axes[2]
        magnets = [(*i.at_mm, 2.0 * i.radius_mm) for i in bench.ledger.items if i.kind == "magnet"]
        return PocketAim(
            process=bench.process,
            wall_mm=bench.wall_limit_mm,
            rows=tuple(bench.tables.ballast.get(name) for name in self.fill),
            plug_mm=self.cap,
            glue=bench.tables.adhesives.get(GLUE),
            magnets=np.array(magnets).reshape(-1, 4),
            axis_free=all(abs(out[AXES.index(axis)]) < 1e-9 for axis in job.balance),
            face_down=bool(out @ np.array(bench.parts[self.part].up) < -0.7),
        )

    def _wanted(self, job: _Job) -> Wanted:
        low, high = np.full(3, -np.inf), np.full(3, np.inf)
        for axis, band in job.balance.items():
            low[AXES.index(axis)], high[AXES.index(axis)] = band.low, band.high
        return Wanted(job.mass.value, job.mass.low, job.mass.high, low - job.about, high - job.about)

    # --- what is made ---------------------------------------------------------------------------

    def _cut(self, job: _Job, cuts: Sequence[PocketCut]) -> Bench:
        """The bench with these pockets cut and filled."""
        part = job.bench.parts[self.part]
        solid = subtract(part.solid, [cut.pocket.cutter(cut.depth_mm) for cut in cuts])
        parts = {**job.bench.parts, self.part: replace(part, solid=solid)}
        items = tuple(item for k, cut in enumerate(cuts) for item in self._items(job, k, cut))
        return replace(job.bench, parts=parts, ledger=job.bench.ledger.with_entries(Ledger(items=items)))

    def _items(self, job: _Job, number: int, cut: PocketCut) -> Iterable[Item]:
        row, content = cut.filling.row, cut.content
        if row is None:
            return
        name = self._id(job, number)
        yield Item(
            id=name,
            item=cut.filling.name,
            kind="ballast",
            step=self.title,
            part=self.part,
            at_mm=triple(cut.ballast_at),
            axis=triple(cut.pocket.out),
            mass_g=content.mass_g,
            mass_band_g=(content.low_g, content.high_g),
            ferrous=row.ferrous,
            radius_mm=row.diameter_mm / 2.0 if cut.filling.count else cut.pocket.radius_mm,
            length_mm=content.height_mm,
        )
        glue = [("cap", cut.plug_at, content.plug_g), ("ring", cut.ballast_at, content.beside_g)]
        for word, at, mass in ((word, at, mass) for word, at, mass in glue if mass > 0.0):
            yield Item(
                id=f"{name} {word}",
                item=GLUE,
                kind="other",
                step=self.title,
                part=self.part,
                at_mm=triple(at),
                axis=triple(cut.pocket.out),
                mass_g=mass,
                highest_c=job.bench.tables.adhesives.get(GLUE).highest_c,
                radius_mm=cut.pocket.radius_mm if word == "cap" else 0.0,
                length_mm=content.plug_mm if word == "cap" else 0.0,
            )

    @staticmethod
    def _id(job: _Job, number: int) -> str:
        """P1, P2... on from the pockets of earlier steps of this kind."""
        ledger = job.bench.ledger
        earlier = {work.step for work in ledger.work if work.id.startswith(WEIGH)}
        return f"P{sum(void.step in earlier for void in ledger.voids) + number + 1}"

    def _ledger(self, job: _Job, settled: Settled) -> Ledger:
        items, voids, work = [], [], []
        glue = job.bench.tables.adhesives.get(GLUE)
        filled = []
        for k, cut in enumerate(settled.cuts):
            name = self._id(job, k)
            items += list(self._items(job, k, cut))
            state: Literal["filled", "open"] = "filled" if cut.filling.row else "open"
            middle = cut.pocket.at(-cut.depth_mm / 2.0)
            volume = cut.pocket.area_mm2 * cut.depth_mm
            voids.append(Void(step=self.title, part=self.part, at_mm=triple(middle), volume_mm3=volume, state=state))
            if cut.filling.row is None:
                continue
            filled.append(name)
            says = fill_word(name, cut)
            work.append(Work(id=f"fill {name}", step=self.title, verb="fill", says=says, after=(f"print {self.part}",)))
        total, plugs = settled.lump.mass_g, sum(cut.content.glue_g for cut in settled.cuts)
        what = self.part if job.only else "the whole model"
        held = [item.id for item in job.bench.ledger.items if job.only in {None, item.part}]
        what += f", with {ids_word([*held, *filled])} in place" if held or filled else ""
        says = f"weigh {what}{', before closing ' + ids_word(filled) if plugs > 0.0 else ''}: "
        says += show_g(total - plugs) + ("; add or take ballast until it is" if filled else "")
        weigh_id = f"{WEIGH}{self.part}: {self.title}"
        after = (*before_weighing(job.bench, job.only), *(f"fill {name}" for name in filled))
        work.append(Work(id=weigh_id, step=self.title, verb="weigh", says=says, after=after))
        if plugs > 0.0:
            cuts = [cut for cut in settled.cuts if cut.filling.row]
            close = Work(
                id=f"close {self.part}: {self.title}",
                step=self.title,
                verb="close",
                says=close_word(filled, cuts, glue),
                after=(weigh_id,),
                highest_c=glue.highest_c,
                minutes=glue.cure_min,
            )
            again = Work(
                id=f"weigh closed {self.part}: {self.title}",
                step=self.title,
                verb="weigh",
                says=f"weigh {what}, again: {show_g(total)}",
                after=(*after, close.id),
            )
            work += [close, again]
        return Ledger(items=tuple(items), voids=tuple(voids), work=tuple(work))

    # --- what is said ---------------------------------------------------------------------------

    def _facts(self, job: _Job, settled: Settled, limits: Limits) -> dict[str, Any]:
        lump, mass = settled.lump, job.mass
        found = {axis: float(lump.centre_mm[AXES.index(axis)]) for axis in job.balance}
        return {
            "mass_before_g": job.before.mass_g,
            "mass_g": lump.mass_g,
            "mass_band_g": [lump.low_g, lump.high_g],
            "centre_before_mm": list(triple(job.before.centre_mm)),
            "centre_mm": list(triple(lump.centre_mm)),
            "target": {
                "of": "model" if self.of == "model" else self.part,
                "mass_g": mass.value,
                "tolerance_g": (mass.high - mass.low) / 2.0,
                "found_g": lump.mass_g,
                "balance": {
                    axis: {
                        "wanted_mm": band.value,
                        "tolerance_mm": (band.high - band.low) / 2.0,
                        "found_mm": found[axis],
                    }
                    for axis, band in job.balance.items()
                },
                "says": limits.says if limits.missed else "",
            },
            "pockets": [figures(self._id(job, k), cut) for k, cut in enumerate(settled.cuts)],
            "pockets_allowed": self.pockets,
            "wall_kept_mm": job.bench.wall_limit_mm,
            "places_tried": limits.places,
        }

    def _findings(self, job: _Job, settled: Settled, limits: Limits) -> Iterable[Finding]:
        lump, mass = settled.lump, job.mass
        met = mass.holds(lump.mass_g)
        what = self.part if job.only else "the model"
        says = f"{what} weighs {show_g(lump.mass_g)}, wanted {show_g(mass.low)} to {show_g(mass.high)}"
        yield Finding(
            check="weight",
            part=self.part,
            verdict="pass" if met else "fail",
            value=lump.mass_g,
            limit=mass.value,
            unit="g",
            at_mm=triple(lump.centre_mm),
            says=says if met else f"{says}; nearest reachable. {limits.mass_says}",
            fix="" if met else limits.mass_fix,
            made_by=self.title,
        )
        for axis, band in job.balance.items():
            value = float(lump.centre_mm[AXES.index(axis)])
            met = band.holds(value)
            says = f"{what} balances at {axis} {show_mm(value)}, wanted {show_mm(band.low)} to {show_mm(band.high)}"
            yield Finding(
                check="balance",
                part=self.part,
                verdict="pass" if met else "fail",
                value=value,
                limit=band.value,
                unit="mm",
                at_mm=triple(lump.centre_mm),
                says=says if met else f"{says}; nearest reachable. {limits.balance_says}",
                fix="" if met else limits.balance_fix,
                made_by=self.title,
            )

    def _views(self, job: _Job, cuts: Sequence[PocketCut]) -> Iterable[View]:
        for k, cut in enumerate(cuts):
            pocket = cut.pocket
            width = 2.0 * pocket.radius_mm + pocket.length_mm
            yield View(
                title=self._id(job, k),
                part=self.part,
                at_mm=triple(pocket.at(-cut.depth_mm / 2.0)),
                normal=triple(np.cross(pocket.out, pocket.along)),
                span_mm=max(1.6 * max(width, cut.depth_mm), 20.0),
            )

    def _out_of_reach(self, job: _Job, limits: Limits) -> TargetOutOfReach:
        mass = job.mass
        return TargetOutOfReach(
            f"{self.part} has no room for a pocket, and the model is not what it should be",
            found=f"{show_g(job.before.mass_g)}, wanted {show_g(mass.low)} to {show_g(mass.high)}. {limits.says}",
            fix=limits.mass_fix or limits.balance_fix,
        )


def _body(item: Item) -> Solid:
    half = item.length_mm / 2.0
    frame = Place.of(np.array(item.at_mm), -np.array(item.axis)).frame
    return lathe(np.array([[item.radius_mm, -half], [item.radius_mm, half]]), frame)
