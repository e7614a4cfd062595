"""`LedEntries`: what the LEDs of one step put into the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from prep.contract.ledger import Bare, Film, Item, Lamp, Ledger, Void, Window, Work
from prep.geometry.lathe import lathe
from prep.geometry.led_cavity_outline import Outline
from prep.geometry.solid import Array, Solid
from prep.physics.led_circuit import LedCircuit
from prep.places.cell_seat import CellSeat
from prep.places.led_cut import CutLed
from prep.places.led_window import WindowWall
from prep.places.led_wire import LedWire
from prep.places.place import Place, triple
from prep.tables import CellRow, LedRow, MaterialRow, PaintRow

RESISTOR_G = 0.2
"""A quarter-watt resistor with leads (from memory)."""


@dataclass(frozen=True)
class SeatedCell:
    """A cell seat cut into a part: its row, its seat, and how the step words the part."""

    part: str
    row: CellRow
    seat: CellSeat


@dataclass(frozen=True)
class LedEntries:
    """Everything a step made for its LEDs, to be told to the ledger.

    Attributes
    ----------
    step, part : title of the step, and the part the LEDs are in
    names : of the LEDs
    inserts : clear pieces by name, `window L1`
    coat : inside the chambers; None for none
    clearance_mm : per side of the package
    keyed : whether the seat has a flat
    slack_mm : added to a window's depth along its axis
    """

    step: str
    part: str
    names: tuple[str, ...]
    led: LedRow
    leds: tuple[CutLed, ...]
    wall: WindowWall
    circuit: LedCircuit | None
    wire: LedWire | None
    cell: SeatedCell | None
    inserts: Mapping[str, Solid]
    clear: MaterialRow | None
    coat: PaintRow | None
    clearance_mm: float
    keyed: bool
    slack_mm: float

    @property
    def ledger(self) -> Ledger:
        """All entries."""
        each = list(zip(self.names, self.leds, strict=True))
        return Ledger(
            items=tuple(self._items()),
            films=tuple(self._film(self.coat, name, led) for name, led in each if self.coat is not None),
            voids=tuple(self._void(led) for led in self.leds),
            work=tuple(self._work()),
            lamps=tuple(self._lamp(name, led) for name, led in each),
            windows=tuple(self._window(name, led) for name, led in each),
            bare=tuple(self._bare()),
        )

    def _items(self) -> Iterable[Item]:
        led = self.led
        wide = led.diameter_mm or min(led.width_mm, led.length_mm)
        for name, one in zip(self.names, self.leds, strict=True):
            yield Item(
                id=name,
                item=led.name,
                kind="led",
                step=self.step,
                part=self.part,
                at_mm=triple(one.cavity.at_mm - led.height_mm / 2.0 * one.axis),
                axis=triple(one.axis),
                mass_g=led.mass_g,
                radius_mm=wide / 2.0,
                length_mm=led.height_mm,
            )
            piece = self.inserts.get(f"window {name}")
            if piece is not None and self.clear is not None:
                mass = piece.volume_mm3 * self.clear.density_g_cm3 / 1000.0
                yield self._other(f"{name} insert", self.clear.name, piece.centre_mm, one.axis, mass)
        circuit = self.circuit
        if circuit is not None and circuit.resistor_ohm:
            for first in range(0, len(self.leds), circuit.in_series):
                one = self.leds[first]
                item = f"resistor {circuit.resistor_ohm:g} ohm"
                yield self._other(f"{self.names[first]} resistor", item, one.mouth, one.axis, RESISTOR_G)
        if self.wire is not None:
            yield self._other(
                f"{self.names[0]} wire", "two thin wires", self.wire.middle, self.leds[0].axis, self.wire.mass_g
            )
        if self.cell is not None:
            yield from self._cells(self.cell)

    def _cells(self, cell: SeatedCell) -> Iterable[Item]:
        for k, at in enumerate(cell.seat.at_mm):
            number = f" {k + 1}" if len(cell.seat.at_mm) > 1 else ""
            yield Item(
                id=f"{self.names[0]} cell{number}",
                item=cell.row.name,
                kind="cell",
                step=self.step,
                part=cell.part,
                at_mm=at,
                axis=cell.seat.axis,
                mass_g=cell.row.mass_g,
                ferrous=cell.row.ferrous,
                radius_mm=cell.seat.radius_mm,
                length_mm=cell.seat.length_mm,
            )

    def _other(self, name: str, item: str, at: Array, axis: Array, mass: float) -> Item:
        return Item(
            id=name,
            item=item,
            kind="other",
            step=self.step,
            part=self.part,
            at_mm=triple(at),
            axis=triple(axis),
            mass_g=mass,
        )

    def _film(self, coat: PaintRow, name: str, led: CutLed) -> Film:
        return Film(
            step=self.step,
            part=self.part,
            region=f"inside the chamber of {name}, its window left bare",
            coat=coat.name,
            thickness_mm=coat.film_mm,
            area_mm2=led.cutter.area_mm2 - led.cavity.window.area_mm2,
            inside=True,
        )

    def _void(self, led: CutLed) -> Void:
        at, volume = triple(led.cutter.centre_mm), led.cutter.volume_mm3
        return Void(step=self.step, part=self.part, at_mm=at, volume_mm3=volume, state="open")

    def _lamp(self, name: str, led: CutLed) -> Lamp:
        sunk = self.led.diameter_mm / 2.0 if self.led.shape == "round" else 0.0
        return Lamp(
            id=name,
            step=self.step,
            part=self.part,
            led=self.led.name,
            at_mm=triple(led.cavity.at_mm - sunk * led.axis),
            axis=triple(led.axis),
            half_angle_deg=self.led.half_angle_deg,
            intensity_cd=self.circuit.intensity_cd if self.circuit else self.led.intensity_cd,
            colour=self.led.colour,
            window=f"window {name}",
        )

    def _window(self, name: str, led: CutLed) -> Window:
        outline = led.cavity.opening or led.cavity.window
        skin = led.cavity.field(outline, 0.0)[..., 2]
        return Window(
            id=f"window {name}",
            step=self.step,
            part=self.part,
            wall_mm=0.0 if led.cavity.opening else led.cavity.wall_mm,
            transmits=self.wall.passes,
            depth_mm=float(np.abs(skin).max()) + self.slack_mm,
            corner_mm=0.0 if outline.is_round else outline.corner_mm,
            **_patch(outline, led.cavity.skin.frame),
        )

    def _bare(self) -> Iterable[Bare]:
        for name, led in zip(self.names, self.leds, strict=True):
            cavity = led.cavity
            patch = _patch(cavity.opening or cavity.window, cavity.skin.frame)
            yield Bare(id=f"window {name}", step=self.step, part=self.part, why="light window", **patch)
            mouth = cavity.skin.frame.copy()
            mouth[:3, 3] = led.mouth
            mouth[:3, 1:3] *= -1.0
            yield Bare(
                id=f"{name} mouth",
                step=self.step,
                part=self.part,
                why="mouth",
                depth_mm=cavity.tip_mm - led.mouth_mm,
                clearance_mm=self.clearance_mm,
                **_patch(cavity.seat.behind, mouth),
            )
        if self.cell is not None:
            mouth_of = self.cell.seat.mouth
            yield Bare(
                id=f"{self.names[0]} cell seat",
                step=self.step,
                part=self.cell.part,
                why="cell seat",
                at_mm=mouth_of.at_mm,
                out=mouth_of.out,
                across=mouth_of.across,
                shape=mouth_of.shape,
                half_mm=mouth_of.half_mm,
                depth_mm=mouth_of.depth_mm,
                clearance_mm=mouth_of.clearance_mm,
            )

    def _work(self) -> Iterable[Work]:
        names = ", ".join(self.names)
        before = [f"print {self.part}"]
        if self.coat is not None:
            spray = f"spray inside {self.part}: {self.step}"
            says = f"{self.coat.name} inside the chambers of {names}, before all other coats; mask their light walls"
            yield Work(
                id=spray, step=self.step, verb="spray", says=says, after=tuple(before), minutes=self.coat.recoat_min
            )
            before.append(spray)
        if self.inserts:
            glue = f"seat windows {self.part}: {self.step}"
            says = f"clear inserts of {names} onto their steps, clear glue on the steps only"
            yield Work(id=glue, step=self.step, verb="seat", says=says, after=tuple(before))
            before.append(glue)
        key = ", the flat of its flange to the flat of the seat" if self.keyed else ""
        says = f"{self.led.name} into {self.part} as {names}{key}: solder and try it first, a drop of glue behind; "
        says += "light it in a dark room before closing, and see that nothing but the window glows"
        seat = f"seat {self.part}: {self.step}"
        yield Work(id=seat, step=self.step, verb="seat", says=says, after=tuple(before))
        if self.cell is not None:
            yield Work(
                id=f"seat cell {self.cell.part}: {self.step}",
                step=self.step,
                verb="seat",
                says=f"{self.cell.row.name} into {self.cell.part}, last: {'; '.join(self.cell.seat.says)}",
                after=(f"print {self.cell.part}", seat),
            )


def body_of(item: Item) -> Solid:
    """The cylinder an item fills."""
    place = Place.of(np.array(item.at_mm), -np.array(item.axis))
    half = item.length_mm / 2.0
    return lathe(np.array([[item.radius_mm, -half], [item.radius_mm, half]]), place.frame)


def _patch(outline: Outline, frame: Array) -> dict[str, Any]:
    """The fields that windows and bare mouths share."""
    return {
        "at_mm": triple(frame[:3, 3]),
        "out": triple(frame[:3, 2]),
        "across": triple(frame[:3, 0]),
        "shape": "round" if outline.is_round else "slot",
        "half_mm": (outline.half_u_mm, outline.half_v_mm),
    }
