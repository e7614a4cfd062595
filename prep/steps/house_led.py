"""`house_led`: a cavity for an LED behind a light wall, with its wire, its circuit and its place in the ledger."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from pydantic import Field, model_validator

from prep.contract import Bench, Finding, Outcome, PlacedIn, Prediction, Step, View
from prep.contract.led_entries import LedEntries, SeatedCell, body_of
from prep.errors import BadValue
from prep.geometry.solid import Solid, subtract
from prep.geometry.wire_room import WireEnd
from prep.physics.led_circuit import LedCircuit, led_circuit, supply_of
from prep.physics.resistor import Series
from prep.places.cell_seat import cell_seat
from prep.places.find import find_places
from prep.places.led_cut import CutLeds, LedAim, cut_leds
from prep.places.led_figures import cavity_figures, circuit_figures, light_says, sheet_line, wall_figures, wire_figures
from prep.places.led_heat import refuse_heat
from prep.places.led_seat import LedFit, even_standoff, led_seat, window_of
from prep.places.led_wanted import CellWanted, OpensThrough, WindowSize, WireWanted
from prep.places.led_window import WindowWall, window_wall
from prep.places.led_wire import LedWire, lead_wire
from prep.places.place import Place, triple, unit_of
from prep.places.wanted import PlacesWanted
from prep.tables import LedRow
from prep.units import Angle, Current, Direction, Length

BENDS = 2.0
"""Least radius of a wire's way over its width, if the recipe does not say."""
STARE = "Do not look straight into a bright LED, and keep it from the eyes of children."


@dataclass(frozen=True)
class _Made:
    """Everything found before it is said."""

    names: tuple[str, ...]
    led: LedRow
    fit: LedFit
    wall: WindowWall
    circuit: LedCircuit | None
    cut: CutLeds
    cell: SeatedCell | None
    wire: LedWire | None
    solids: dict[str, Solid]


class HouseLed(Step):
    """House an LED behind a light wall that follows the outside at one thickness, or behind a clear insert.

    The cavity is a bore for the package with a recess for its flange, keyed by the flange's flat, and a chamber that
    widens to the window. In a solid part it is bored from the hidden side; behind a thin skin a tube is grown round it.
    The light wall is snapped to whole beads where it stands and to whole layers where it lies. The LED must come out
    the way it went in: straight back, then toward the open side. Brightness, resistor and run time follow the supply.

    Examples
    --------
        - step: house_led
          part: cover
          led: chip 2835 white
          at: {point: "0, 0, 32 mm"}
          window: 1 mm
          standoff: 2 mm
          open: -z
          supply: CR2032
          current: 2 mA
    """

    step: Literal["house_led"] = Field(description="this step's word")
    part: str = Field(description="the part that gets the cavity")
    led: str = Field(description="a row of the `leds` table")
    at: PlacesWanted = Field(description="middle of the window, on the outside; one place or several")
    window: OpensThrough = Field(
        description="light wall left (`1.2 mm`), `{transmit: 35 %}`, or `{insert: clear material}`"
    )
    size: WindowSize | None = Field(
        None, description="of the window: `8 mm` or a slot `20 x 8 mm`; default: the LED's bore"
    )
    turn: Angle = Field(0.0, description="angle of a slot's length from level")
    standoff: Length | None = Field(
        None, gt=0.0, description="LED tip to window; default: even light over the window, and a strip's pitch"
    )
    open: Direction = Field(description="the hidden side the LED goes in from")
    wire: WireWanted | None = Field(None, description="where its wire leads, in a channel inside the part")
    cell: CellWanted | None = Field(None, description="where the cells of the supply are seated")
    supply: str | None = Field(None, description="what feeds it: `CR2032`, `3 x AAA` or `5 V`")
    current: Current | None = Field(None, gt=0.0, description="in one row of LEDs; default: the LED's usual current")
    in_series: int = Field(1, ge=1, le=12, description="LEDs in one row; rows lie side by side")
    resistors: Series = Field("E24", description="the series of resistors in stock: E12 or E24")
    covers: tuple[str, ...] = Field((), description="parts that close it: holder and wire keep clear of them")
    coat: str | None = Field(None, description="black inside the chamber: a row of the `paints` table")

    @model_validator(mode="after")
    def _whole(self) -> HouseLed:
        if self.cell is not None and self.supply is None:
            raise ValueError("a cell's seat needs its size: give `supply:`")
        if self.wire is not None and self.wire.to is None and (self.cell is None or self._cell_part != self.part):
            raise ValueError("`wire:` says where it leads with `to:`, unless a `cell:` is seated in the same part")
        return self

    @property
    def _cell_part(self) -> str:
        """The part that holds the cell, and this one where there is no cell."""
        return self.cell.part or self.part if self.cell else self.part

    def changes(self) -> tuple[str, ...]:
        """Return the part that gets the cavity, and the one that gets the cell."""
        return tuple(dict.fromkeys((self.part, self._cell_part)))

    def reads(self) -> tuple[str, ...]:
        """Return the parts that the holder and the wire keep clear of."""
        return tuple(name for name in self.covers if name not in self.changes())

    def _others(self, bench: Bench) -> dict[str, Solid]:
        """The other parts it may look at, as they stand."""
        return {name: bench.parts[name].solid for name in (*self.changes(), *self.reads()) if name != self.part}

    def apply(self, bench: Bench) -> Outcome:
        """Choose the window, cut cavities, cell seat and channel, and enter LEDs, windows and work in the ledger."""
        part = bench.parts[self.part]
        led = bench.tables.leds.get(self.led)
        fit = led_seat(led, bench.process)
        places = find_places(part.solid, self.at)
        out, up = -np.array(places[0].inward), unit_of(part.up)
        wall = window_wall(self.window, part.material.name, bench.tables, bench.process, out, up)
        circuit = self._circuit(bench, led, len(places))
        bench.tell("cutting the cavity", 0.2)
        aim = self._aim(bench, led, fit, wall)
        cut = cut_leds(part.solid, places, aim, self._others(bench))
        if circuit is not None:
            refuse_heat(circuit, cut.leds, bench.wall_limit_mm, part.material.softens_c)
        solids = {name: bench.parts[name].solid for name in self.changes()} | {self.part: cut.solid}
        cell = self._seat_cell(bench, circuit, solids)
        if cell is not None:
            solids[cell.part] = subtract(solids[cell.part], [cell.seat.cutter])
        bench.tell("leading the wire", 0.6)
        wire = self._wire(bench, cut, cell, solids)
        if wire is not None:
            solids[self.part] = wire.solid
        first = 1 + sum(item.kind == "led" for item in bench.ledger.items)
        names = tuple(f"L{first + k}" for k in range(len(cut.leds)))
        return self._outcome(bench, _Made(names, led, fit, wall, circuit, cut, cell, wire, solids))

    # --- what is asked for ----------------------------------------------------------------------

    def _circuit(self, bench: Bench, led: LedRow, count: int) -> LedCircuit | None:
        if self.supply is None:
            return None
        if count % self.in_series:
            raise BadValue(
                "the LEDs do not make whole rows",
                found=f"{count} LEDs, {self.in_series} in a row",
                fix="choose `in_series:` so that it divides the number of LEDs",
            )
        supply = supply_of(self.supply, bench.tables)
        return led_circuit(led, supply, self.current, self.in_series, count // self.in_series, self.resistors)

    def _aim(self, bench: Bench, led: LedRow, fit: LedFit, wall: WindowWall) -> LedAim:
        insert = self.window.insert is not None
        window = window_of(fit, self.size, insert)
        return LedAim(
            fit=fit,
            wall_mm=wall.wall_mm,
            standoff_mm=self.standoff,
            even_mm=even_standoff(led, window),
            window=window,
            turn_deg=self.turn,
            beside_mm=bench.wall_limit_mm,
            toward=unit_of(self.open),
            up=unit_of(bench.parts[self.part].up),
            insert=insert,
        )

    def _seat_cell(self, bench: Bench, circuit: LedCircuit | None, solids: dict[str, Solid]) -> SeatedCell | None:
        if self.cell is None or circuit is None:
            return None
        row = circuit.supply.cell
        if row is None:
            raise BadValue(
                "a supply in volts has no cell to seat",
                found=f"`supply: {self.supply}` with `cell:`",
                fix="name the cell, such as `supply: CR2032`, or leave `cell:` out",
            )
        host = solids[self._cell_part]
        found = find_places(host, (self.cell.at,))[0]
        seat = cell_seat(
            host,
            Place.of(np.array(found.at_mm), -unit_of(self.cell.open), np.array(found.roll)),
            row,
            count=circuit.supply.count,
            process=bench.process,
            wall_mm=bench.wall_limit_mm,
            others={n: s for n, s in (self._others(bench) | solids).items() if n != self._cell_part},
            wire_mm=self.wire.width if self.wire else WireWanted().width,
        )
        return SeatedCell(self._cell_part, row, seat)

    def _wire(self, bench: Bench, cut: CutLeds, cell: SeatedCell | None, solids: dict[str, Solid]) -> LedWire | None:
        """The wire of the LED nearest to where it leads; the leads of the others join it behind their cavities."""
        if self.wire is None:
            return None
        here = cell is not None and cell.part == self.part
        if self.wire.to is not None:
            place = find_places(bench.parts[self.part].solid, (self.wire.to,))[0]
            ends: tuple[WireEnd, ...] = (WireEnd(np.array(place.at_mm), np.array(place.inward)),)
        else:
            ends = cell.seat.wires if cell is not None else ()
        held = [i for i in bench.ledger.items if i.part == self.part and i.radius_mm * i.length_mm > 0.0]
        blocked = [*(led.cutter for led in cut.leds), *(body_of(item) for item in held)]
        return lead_wire(
            solids[self.part],
            cut.leds,
            ends,
            others=[solid for name, solid in (self._others(bench) | solids).items() if name != self.part],
            blocked=[*blocked, cell.seat.cutter] if here and cell is not None else blocked,
            width_mm=self.wire.width,
            bend_mm=self.wire.bend or BENDS * self.wire.width,
            wall_mm=bench.wall_limit_mm,
            toward=unit_of(self.open),
            up=unit_of(bench.parts[self.part].up),
            tell=bench.tell,
        )

    # --- what is said ---------------------------------------------------------------------------

    def _outcome(self, bench: Bench, made: _Made) -> Outcome:
        inserts: dict[str, Solid] = {}
        if self.window.insert is not None:
            fit, glue = bench.process.glue_fit_mm, bench.process.glue_line_mm
            for name, led in zip(made.names, made.cut.leds, strict=True):
                inserts[f"window {name}"] = led.cavity.insert(fit, glue)
        entries = LedEntries(
            step=self.title,
            part=self.part,
            names=made.names,
            led=made.led,
            leds=made.cut.leds,
            wall=made.wall,
            circuit=made.circuit,
            wire=made.wire,
            cell=made.cell,
            inserts=inserts,
            clear=bench.tables.materials.get(self.window.insert) if self.window.insert else None,
            coat=bench.tables.paints.get(self.coat) if self.coat else None,
            clearance_mm=made.fit.clearance_mm,
            keyed=made.fit.seat.flat_mm > 0.0,
            slack_mm=bench.process.layer_mm,
        )
        return Outcome(
            solids=made.solids,
            predictions=tuple(self._predictions(made, len(inserts))),
            extra=inserts,
            ledger=entries.ledger,
            facts=self._facts(made),
            places=tuple(self._places(made)),
            findings=tuple(self._findings(made)),
            cautions=tuple(self._cautions(made)),
            views=tuple(self._views(made)),
        )

    def _predictions(self, made: _Made, inserts: int) -> Iterable[Prediction]:
        for name in made.solids:
            volume = error = 0.0
            if name == self.part:
                volume, error = made.cut.volume_mm3, made.cut.error_mm3
                volume += made.wire.volume_mm3 if made.wire else 0.0
                error += made.wire.error_mm3 if made.wire else 0.0
            if made.cell is not None and made.cell.part == name:
                volume -= made.cell.seat.shared.volume_mm3
                error += made.cell.seat.shared.error_mm3
            handles = inserts + (made.wire.handles if made.wire else 0)
            yield Prediction(
                part=name,
                genus=handles if name == self.part else 0,
                volume_mm3=volume,
                volume_tolerance_mm3=error + 0.005 * abs(volume),
            )

    def _facts(self, made: _Made) -> dict[str, Any]:
        each = [
            {"id": name, "sheet": sheet_line(name, made.led, made.wall, one.cavity.standoff_mm, made.circuit)}
            | cavity_figures(made.led, one, walls)
            for name, one, walls in zip(made.names, made.cut.leds, made.cut.walls, strict=True)
        ]
        facts = {"led": made.led.name, "seat": made.fit.says, "clearance_mm": made.fit.clearance_mm, "leds": each}
        facts |= wall_figures(made.wall)
        facts |= circuit_figures(made.circuit) if made.circuit else {}
        facts |= {"cell_seat": list(made.cell.seat.says)} if made.cell else {}
        return facts | (wire_figures(made.wire) if made.wire else {})

    def _findings(self, made: _Made) -> Iterable[Finding]:
        wall = made.wall
        at = triple(np.array(made.cut.leds[0].cavity.skin.frame[:3, 3]))
        yield Finding(
            check="light wall",
            part=self.part,
            verdict="pass" if wall.verified else "warn",
            value=wall.passes,
            at_mm=at,
            says=light_says(wall),
            fix="" if wall.verified else "print `prep coupon step-wedge`, read it, and fill shop/transmission.csv",
            made_by=self.title,
        )

    def _cautions(self, made: _Made) -> Iterable[str]:
        yield f"{made.led.name}: {made.led.caution}" if made.led.caution else STARE
        cell = made.circuit.supply.cell if made.circuit else None
        if cell is not None and cell.caution:
            yield f"{cell.name}: {cell.caution}"

    def _places(self, made: _Made) -> Iterable[PlacedIn]:
        for led in made.cut.leds:
            frame = led.cavity.skin.frame
            place = Place.of(frame[:3, 3], -frame[:3, 2], frame[:3, 0])
            yield PlacedIn(part=self.part, feature="light window", place=place)
        if made.wire is not None:
            points = made.wire.route.points
            yield PlacedIn(part=self.part, feature="wire", place=Place.of(points[-1], points[-2] - points[-1]))

    def _views(self, made: _Made) -> Iterable[View]:
        for name, led in zip(made.names, made.cut.leds, strict=True):
            cavity = led.cavity
            middle = cavity.to_part(np.array([[0.0, 0.0, cavity.back_mm / 2.0]]))[0]
            span = max(-1.6 * cavity.back_mm, 6.0 * cavity.holder_outline.farthest_mm, 24.0)
            yield View(
                title=name,
                part=self.part,
                at_mm=triple(middle),
                normal=triple(cavity.skin.frame[:3, 1]),
                span_mm=span,
            )
