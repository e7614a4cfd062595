"""`pipe_light`: a clear insert that brings an LED's light to the surface, and the bore it slides into."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import numpy as np
from pydantic import ConfigDict, Field, field_validator

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
    Window,
    Work,
)
from prep.errors import CannotInsert, NoTransmission, PrepError, UnknownWord
from prep.geometry.light_pipe import face_area
from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Array
from prep.physics.transmission import transmission_of
from prep.places.find import find_places
from prep.places.pipe_fit import Beside, PipeAim, PipeFit, fit_pipe
from prep.places.pipe_path import Bends, PipeSection, pipe_paths
from prep.places.pipe_trace import PipeShare, PointLamp, clear_of, trace_pipe
from prep.places.pipe_words import CAUTIONS, axis_word, section_word, to_polish
from prep.places.place import Place, Triple, triple, unit_of
from prep.places.wanted import PlaceWanted
from prep.tables import MaterialRow
from prep.units import Angle, Direction, Fraction, Length, show_mm, show_percent

NEAR_MM = 10.0
"""A lamp of the ledger within this of `from` is the one the pipe stands before."""

CLEAR = {"material jetting": "jetted-clear"}
CLEAR_ELSE = "resin clear"
OPPOSITE = 0.7
DARK = 0.02
"""Share of the window's light that a wall beside it may let through unseen."""
WINDOW_DEPTH_MM = 0.5
"""How far beyond the highest of its skin the end of a pipe still counts as its window."""
MM3_PER_CM3 = 1000.0


class PipeLight(Step):
    """Bring an LED's light to the surface through a clear pipe that goes in from the hidden side.

    The pipe is an extra part: straight, or bent by flat 45 degree mirrors. A shoulder wider than its section bears on
    the inner skin, so that it cannot be pushed out; its end follows the outside. The bore has the process's slide fit
    all round, and the pipe must slide in along its last leg. The share of light is traced with the pipe as made:
    reflection, total reflection and absorption at every face.

    Examples
    --------
        - step: pipe_light
          part: box
          from: {point: "0, 0, 12 mm"}
          to: {facing: -z}
          section: 3 mm
        - step: pipe_light
          part: box
          from: {point: "-9, 0, 12 mm"}
          to: {point: "6, 0, 0 mm"}
          section: 4 x 3 mm
          bends: prism
    """

    step: Literal["pipe_light"] = Field(description="this step's word")
    part: str = Field(description="the part the pipe goes through")
    start: PlaceWanted = Field(alias="from", description="where the LED shines from; a point is taken as it stands")
    to: PlaceWanted = Field(description="the place on the outside where the light leaves")
    section: PipeSection = Field(description="diameter of a round pipe, or the two sides of a flat one")
    material: str | None = Field(None, description="a clear row of `materials`; default: a clear one of the process")
    bends: Bends = Field("auto", description="straight, 45 degree mirrors (prism), or mirrors where straight fails")
    proud: Length = Field(0.0, description="how far the end stands out of the skin; negative: below it")
    open: Direction | None = Field(None, description="the hidden side from which the way in may be cut")
    led: str | None = Field(None, description="id of the LED; default: the nearest, if within 10 mm of `from`")
    half_angle: Angle = Field(60.0, gt=0.0, lt=90.0, description="where no LED is near: off axis to half its strength")
    gap: Length = Field(0.5, gt=0.0, description="air between the LED and the pipe")
    collar: Length = Field(1.0, gt=0.0, description="thickness of the shoulder")
    flange: Length = Field(1.0, gt=0.0, description="how far the shoulder stands out beyond the section")
    least: Fraction | None = Field(None, gt=0.0, lt=1.0, description="share of the LED's light to bring out, checked")

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    @field_validator("start", "to")
    @classmethod
    def _one_place(cls, place: PlaceWanted) -> PlaceWanted:
        if place.has_pattern or place.seam is not None:
            raise ValueError("a light pipe has one end here: no pattern, no seam")
        return place

    def changes(self) -> tuple[str, ...]:
        """Return the part that gets the bore."""
        return (self.part,)

    def apply(self, bench: Bench) -> Outcome:
        """Find the path, cut the bore, make the pipe, trace its light, and enter both in the ledger."""
        part = bench.parts[self.part]
        room = SeatRoom(part.solid)
        end = find_places(part.solid, [self.to])[0]
        start = np.array(self.start.point or find_places(part.solid, [self.start])[0].at_mm)
        known = self._lamp(bench, start)
        material = bench.tables.materials.get(self.material or CLEAR.get(bench.process.category, CLEAR_ELSE))
        bench.tell("finding a way for the pipe", 0.1)
        fit = self._fit(bench, room, start, end, known)
        clear = clear_of(material, bends=len(fit.shape.path) - 2)
        lamp = known or PointLamp("", start, fit.shape.ways[0], self.half_angle)
        bench.tell("tracing its light", 0.5)
        light = trace_pipe(fit.pipe, fit.shape, clear, lamp, self.gap, bench.tell)
        name = f"LP{1 + sum(window.id.startswith('LP') for window in bench.ledger.windows)}"
        return Outcome(
            solids={self.part: fit.cut},
            predictions=(
                Prediction(
                    part=self.part,
                    shells=-fit.surface.shells_joined,
                    genus=fit.surface.genus,
                    sealed_voids=-fit.surface.voids_joined,
                    volume_mm3=-fit.shared.volume_mm3,
                    volume_tolerance_mm3=0.005 * fit.shared.volume_mm3 + fit.shared.error_mm3,
                ),
            ),
            extra={"pipe": fit.pipe},
            ledger=self._ledger(bench, fit, light, material, name),
            facts=self._facts(bench, fit, light, material, lamp, name),
            places=(PlacedIn(part=self.part, feature="light pipe", place=end),),
            findings=tuple(self._findings(bench, fit, light)),
            cautions=(*CAUTIONS, *self._cautions(fit, lamp)),
            views=(self._view(fit, name),),
        )

    def _lamp(self, bench: Bench, start: Array) -> PointLamp | None:
        """The LED named, else the nearest to where the pipe begins."""
        lamps = sorted(bench.ledger.lamps, key=lambda lamp: float(np.linalg.norm(np.array(lamp.at_mm) - start)))
        if self.led is not None:
            lamps = [lamp for lamp in lamps if lamp.id == self.led]
            if not lamps:
                known = ", ".join(lamp.id for lamp in bench.ledger.lamps) or "none"
                raise UnknownWord(
                    f"no LED is called {self.led}",
                    found=f"LEDs of the steps before: {known}",
                    fix="write `house_led` before `pipe_light`, or leave `led:` out",
                )
        elif lamps and np.linalg.norm(np.array(lamps[0].at_mm) - start) > NEAR_MM:
            return None
        if not lamps:
            return None
        lamp = lamps[0]
        return PointLamp(lamp.id, np.array(lamp.at_mm), unit_of(lamp.axis), lamp.half_angle_deg)

    def _fit(self, bench: Bench, room: SeatRoom, start: Array, end: Place, lamp: PointLamp | None) -> PipeFit:
        """The first path that fits; where none does, what is wrong with the simplest."""
        across = max(self.section.wide_mm, self.section.tall_mm)
        shines = lamp.axis if lamp is not None else None
        paths = pipe_paths(start, end, self.bends, gap_mm=self.gap, across_mm=across, shines=shines)
        beside = [
            Beside(item.id, np.array(item.at_mm), max(item.radius_mm, item.length_mm / 2.0))
            for item in bench.ledger.items
            if item.part == self.part and (lamp is None or item.id != lamp.id)
        ]
        aim = PipeAim(
            part=self.part,
            section=self.section,
            play_mm=bench.process.slide_fit_mm,
            wall_mm=bench.wall_limit_mm,
            collar_mm=self.collar,
            flange_mm=self.flange,
            proud_mm=self.proud,
            opens=self.open is not None,
            gap_mm=self.gap,
            hole_mm=bench.process.hole_limit_mm,
            beside=beside,
        )
        faults: list[PrepError] = []
        for path in paths:
            try:
                self._refuse_seen(path)
                return fit_pipe(room, aim, path)
            except PrepError as fault:
                faults.append(fault)
        raise faults[0]

    def _refuse_seen(self, path: Array) -> None:
        """The way in is cut along the last leg, from the side opposite to where the light leaves."""
        back = (path[-2] - path[-1]) / np.linalg.norm(path[-2] - path[-1])
        if self.open is not None and np.array(self.open) @ back < OPPOSITE:
            raise CannotInsert(
                f"the light pipe cannot go into {self.part} from the side given by `open:`",
                found=f"it goes in along its last leg, from the side of {axis_word(back)}",
                fix="let the light leave on the side opposite to `open:`, or leave `open:` out",
            )

    def _ledger(self, bench: Bench, fit: PipeFit, light: PipeShare, material: MaterialRow, name: str) -> Ledger:
        shape, section = fit.shape, self.section
        end, out, across = triple(shape.path[-1]), triple(shape.out), triple(shape.across)
        play = bench.process.slide_fit_mm
        wide, tall = section.half_mm
        form: Literal["round", "slot"] = "round" if section.is_round else "slot"
        run = -shape.seat_mm
        middle = shape.path[-1] - run / 2.0 * shape.out
        items = self._items(fit, material, name, triple(middle))
        window = Window(
            id=f"{name} end",
            step=self.title,
            part=self.part,
            at_mm=end,
            out=out,
            across=across,
            shape=form,
            half_mm=(wide, tall),
            wall_mm=0.0,
            transmits=light.passed,
            depth_mm=max(fit.beyond_mm, 0.0) + abs(self.proud) + WINDOW_DEPTH_MM,
        )
        bare = Bare(
            id=f"{name} bore",
            step=self.title,
            part=self.part,
            why="light pipe",
            at_mm=end,
            out=out,
            across=across,
            shape=form,
            half_mm=(wide + play, tall + play),
            depth_mm=run,
            clearance_mm=play,
        )
        left = max(fit.shared.volume_mm3 - section.area_mm2 * run, 0.0)
        bore = Void(
            step=self.title,
            part=self.part,
            at_mm=triple(middle),
            volume_mm3=left,
            state="plugged",
        )
        work = (
            Work(
                id=f"print {name}",
                step=self.title,
                verb="print",
                says=f"{name} in {material.name}, solid; wet-sand and polish clear its {', '.join(to_polish(shape))}",
            ),
            Work(
                id=f"seat {self.part}: {self.title}",
                step=self.title,
                verb="seat",
                says=f"slide {name} into {self.part} from inside, along {axis_word(shape.out)}, until its shoulder "
                "bears; a dot of clear glue on the shoulder alone",
                after=(f"print {self.part}", f"print {name}"),
                highest_c=material.softens_c,
            ),
        )
        return Ledger(items=items, voids=(bore,), work=work, windows=(window,), bare=(bare,))

    def _items(self, fit: PipeFit, material: MaterialRow, name: str, middle: Triple) -> tuple[Item, Item]:
        """The pipe as two lumps: what fills the bore, and the rest of it behind the wall."""
        pipe, shape = fit.pipe, fit.shape
        held = self.section.area_mm2 * -shape.seat_mm
        rest = pipe.volume_mm3 - held
        behind = (pipe.volume_mm3 * pipe.centre_mm - held * np.array(middle)) / rest
        low, mean, high = (
            density / MM3_PER_CM3 for density in (material.density_low, material.density_g_cm3, material.density_high)
        )
        in_bore = Item(
            id=name,
            item=f"light pipe {section_word(self.section)}, {material.name}",
            kind="other",
            step=self.title,
            part=self.part,
            at_mm=middle,
            axis=triple(shape.out),
            mass_g=held * mean,
            mass_band_g=(held * low, held * high),
            highest_c=material.softens_c,
            radius_mm=min(self.section.half_mm),
            length_mm=-shape.seat_mm,
        )
        inside = Item(
            id=f"{name} inside",
            item="the rest of it, behind the wall",
            kind="other",
            step=self.title,
            part=self.part,
            at_mm=triple(behind),
            axis=triple(shape.out),
            mass_g=rest * mean,
            mass_band_g=(rest * low, rest * high),
            highest_c=material.softens_c,
        )
        return in_bore, inside

    def _facts(
        self, bench: Bench, fit: PipeFit, light: PipeShare, material: MaterialRow, lamp: PointLamp, name: str
    ) -> dict[str, object]:
        shape = fit.shape
        faces = shape.faces(fit.pipe)
        return {
            "pipe": name,
            "led": lamp.id or f"none near `from`: a point of half angle {lamp.half_angle_deg:g} deg is supposed",
            "material": material.name,
            "index": material.index,
            "section": section_word(self.section),
            "path_mm": [list(triple(point)) for point in shape.path.round(9)],
            "length_mm": shape.length_mm,
            "bends": len(shape.path) - 2,
            "slide_fit_mm": bench.process.slide_fit_mm,
            "shoulder_at_mm": -shape.seat_mm,
            "shoulder_seat": "cut flat" if fit.faced or fit.trench else "the inner skin, flat as it is",
            "way_in": f"along {axis_word(shape.out)}" + (", cut open behind it" if fit.trench else ", clear as it is"),
            "drawn_back_mm": fit.back_mm,
            "least_wall_beside_mm": fit.side_wall_mm if np.isfinite(fit.side_wall_mm) else None,
            "wall_over_shoulder_mm": fit.under_mm,
            "polish": {word: face_area(fit.pipe, faces[word]) for word in to_polish(fit.shape)},
            "light_out": light.out,
            "light_out_straight": light.straight,
            "share_of_straight": light.out / light.straight if light.straight > 0.0 else 0.0,
            "light_meets_entry": light.enters,
            "light_passed": light.passed,
            "half_of_it_within_deg": light.half_out_deg,
            "light_goes": dict(light.goes),
        }

    def _findings(self, bench: Bench, fit: PipeFit, light: PipeShare) -> Iterable[Finding]:
        end = triple(fit.shape.path[-1])
        enough = self.least is None or light.out >= self.least
        yield Finding(
            check="light pipe",
            part=self.part,
            verdict="pass" if enough else "fail",
            value=100.0 * light.out,
            limit=None if self.least is None else 100.0 * self.least,
            unit="%",
            at_mm=end,
            says=f"the pipe brings {show_percent(light.out)} of the LED's light out, a straight one of its length "
            f"{show_percent(light.straight)}; {show_percent(1.0 - light.enters)} misses its entry",
            fix="" if enough else "a larger `section`, a smaller `gap`, fewer bends, or an LED of narrower beam",
            made_by=self.title,
        )
        try:
            curve = transmission_of(bench.tables, bench.parts[self.part].material.name)
        except NoTransmission:
            return
        opaque, wall = curve.opaque_mm(DARK), min(fit.side_wall_mm, fit.under_mm)
        yield Finding(
            check="opaque wall",
            part=self.part,
            verdict="pass" if wall >= opaque else "warn",
            value=wall,
            limit=opaque,
            unit="mm",
            at_mm=end,
            says=f"{show_mm(wall)} of {curve.material} about the light pipe lets {show_percent(curve.share(wall))} of "
            f"the light through; {show_mm(opaque)} keeps it to {show_percent(DARK)}"
            + ("" if curve.verified else " (unverified default)"),
            fix=""
            if wall >= opaque
            else f"two coats of black in the bore and {show_mm(opaque)} about it inside, before the pipe goes in",
            made_by=self.title,
        )

    def _cautions(self, fit: PipeFit, lamp: PointLamp) -> Iterable[str]:
        if fit.trench:
            yield f"The way in of the light pipe in {self.part} stays open behind it: close it with black tape or card."
        if not lamp.id:
            yield (
                "No LED is known near the pipe's entry: its light is taken as that of a point at `from`, "
                f"{lamp.half_angle_deg:g} deg to half its strength."
            )

    def _view(self, fit: PipeFit, name: str) -> View:
        """A section along the last leg, in the plane of the bends where there are any."""
        shape = fit.shape
        normal = shape.across if len(shape.path) == 2 else np.cross(shape.out, shape.ways[-2])
        return View(
            title=name,
            part=self.part,
            at_mm=triple(shape.path[-1] - min(shape.length_mm, 8.0) / 2.0 * shape.out),
            normal=triple(normal / np.linalg.norm(normal)),
            span_mm=max(2.2 * float(np.ptp(shape.path, axis=0).max()), 24.0),
        )
