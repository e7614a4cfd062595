"""`cell_seat`: a seat for button or long cells, sized for the largest allowed, from which they come out again."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from prep.errors import CellTrapped, DoesNotFit, EmptySolid
from prep.geometry.cell_cavity import CoinCavity, LongCavity
from prep.geometry.cell_room import CellRoom
from prep.geometry.columns import Shared, shared_by_columns
from prep.geometry.lathe import lathe
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid, intersect, subtract
from prep.geometry.wire_room import WireEnd
from prep.places.place import Place, Triple, triple
from prep.tables import CellRow, ProcessRow
from prep.units import show_mm, show_point

SOURCE = "common practice, no source"
COIN_CONTACT_MM = 0.8
"""Room for a leaf spring under a button cell and for a tab above it, each."""

SPRING_MM, PLATE_MM = 4.0, 1.5
"""Room for the pressed coil spring at a long cell's minus end, and for the plate at its plus end."""

COIN_SLOT_PAST_MM = 1.2
COIN_NOTCH_MM = 4.0
"""How far the bite for a fingernail reaches past the seat."""

COIN_NOTCH_SHARE = 0.55
"""Radius of that bite in radii of the seat: the rest of the side still holds the cell in its place."""

LONG_SLOT_MM = (1.0, 1.0)
LONG_NOTCH_MM = (14.0, 4.0)
WIRE_PLAY_MM = 1.0
ANGLES = 24
_TOUCHES_MM3 = 1e-3


@dataclass(frozen=True)
class SeatMouth:
    """The mouth of a seat, without its notch and slots, as what must stay bare is described.

    Attributes
    ----------
    at_mm, out, across : middle on the face, unit directions outward and across
    half_mm : half sizes along `across` and along out x across
    depth_mm, clearance_mm : below the mouth, and play per side
    """

    at_mm: Triple
    out: Triple
    across: Triple
    shape: Literal["round", "slot"]
    half_mm: tuple[float, float]
    depth_mm: float
    clearance_mm: float


@dataclass(frozen=True)
class CellSeat:
    """A seat for one or more cells.

    Attributes
    ----------
    cutter : all there is to take away
    shared : volume that takes from the part, found by columns of rays
    at_mm : middle of each cell
    axis : unit, from minus to plus of the first cell
    wires : where a wire's way may end, on the walls of the contact slots
    radius_mm, length_mm : of the largest cell allowed
    wall_mm : least plastic round the seat
    comes_off : parts that must come off before the cells come out
    says : what the person who builds or writes about it must know
    """

    cutter: Solid
    shared: Shared
    mouth: SeatMouth
    at_mm: tuple[Triple, ...]
    axis: Triple
    wires: tuple[WireEnd, ...]
    radius_mm: float
    length_mm: float
    wall_mm: float
    comes_off: tuple[str, ...]
    says: tuple[str, ...]


@dataclass(frozen=True)
class _Shape:
    """A cutter with what follows from it, and the solid that the cells sweep as they come out."""

    cutter: Solid
    wires: tuple[WireEnd, ...]
    middles: Array
    axis: Array
    mouth: SeatMouth
    sweep: Solid


def cell_seat(
    host: Solid,
    place: Place,
    cell: CellRow,
    *,
    count: int = 1,
    process: ProcessRow,
    wall_mm: float,
    others: Mapping[str, Solid] | None = None,
    opens: Collection[str] | None = None,
    wire_mm: float = 2.2,
) -> CellSeat:
    """A seat that opens on a hidden face, with room for contacts, wires and a finger.

    Parameters
    ----------
    place : on the face it opens on; long cells lie along its roll
    count : cells in a row: button cells on one another, long cells side by side, plus and minus in turn
    wall_mm : plastic left round it
    others : the other parts by name, where they stand with all covers on
    opens : those of them that may come off, with all that is fixed to them; None for any
    wire_mm : width of the wire channel that is to end at a contact slot

    Raises
    ------
    DoesNotFit
        The face or the material behind it is too small, with the wall that would be left.
    CellTrapped
        The part itself, or a part that does not come off, is in the cell's way out.

    Notes
    -----
    Sized for the largest cell allowed and the process's sliding fit per side. Rooms for contacts and finger are common
    practice without a source. Of a button cell's notch and slots the turn with most wall is taken; long cells are not
    turned. The way out is proved by the volume the swept cells share with each part.

    References
    ----------
    IEC 60086-2, Primary batteries, part 2: physical and electrical specifications (largest sizes).
    """
    frame, room = place.frame, CellRoom(host, place.frame)
    coin = cell.diameter_mm > cell.height_mm
    reach = 4.0 * float(np.ptp(np.concatenate([s.bounds_mm for s in (host, *(others or {}).values())]), axis=0).max())
    angles = np.arange(ANGLES) * 2.0 * np.pi / ANGLES if coin else np.zeros(1)
    best, best_wall = None, -np.inf
    for angle in angles:
        high = room.highest_mm(_outline_reach(cell, count, process, coin))
        make = _coins if coin else _long
        shape = make(cell, count, process, frame, high, float(angle), reach, wire_mm)
        wall = room.wall_mm(shape.cutter)
        if wall > best_wall + 1e-6:
            best, best_wall = shape, wall
        if best_wall >= 2.0 * wall_mm:
            break
    if best is None or best_wall < wall_mm:
        raise _too_small(cell, count, place, best_wall, wall_mm)
    comes_off = _in_the_way(subtract(host, [best.cutter]), best.sweep, others or {}, opens, cell)
    return CellSeat(
        cutter=best.cutter,
        shared=_taken(host, best.cutter, frame),
        mouth=best.mouth,
        at_mm=tuple(triple(middle) for middle in best.middles),
        axis=triple(best.axis),
        wires=best.wires,
        radius_mm=cell.diameter_mm / 2.0,
        length_mm=cell.height_mm,
        wall_mm=best_wall,
        comes_off=comes_off,
        says=_says(cell, count, coin, comes_off),
    )


def _taken(host: Solid, cutter: Solid, frame: Array) -> Shared:
    """Volume the cutter takes, by columns that run along none of its sides in plan, so that their errors cancel."""
    aslant = np.eye(4)
    c, s = np.cos(0.4), np.sin(0.4)
    aslant[:3, :3] = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]) @ frame[:3, :3].T
    found = shared_by_columns(RayScene([host.moved(aslant)]), cutter.moved(aslant), np.array([0.0, 0.0, 1.0]), 192)
    return Shared(found.volume_mm3, found.error_mm3, np.asarray(found.centre_mm @ aslant[:3, :3]))


def _outline_reach(cell: CellRow, count: int, process: ProcessRow, coin: bool) -> tuple[float, float]:
    """Half sizes of the whole opening, notch and slots included."""
    fit = process.slide_fit_mm
    if coin:
        half = cell.diameter_mm / 2.0 + fit + COIN_NOTCH_MM
        return half, half
    wide = count * cell.diameter_mm + (count + 1) * fit
    return (cell.height_mm + SPRING_MM + PLATE_MM) / 2.0, wide / 2.0 + LONG_NOTCH_MM[1]


def _coins(
    cell: CellRow,
    count: int,
    process: ProcessRow,
    frame: Array,
    high: float,
    angle: float,
    reach: float,
    wire_mm: float,
) -> _Shape:
    out = frame[:3, 2]
    fit, stack = process.slide_fit_mm, count * cell.height_mm
    radius, depth = cell.diameter_mm / 2.0 + fit, stack + 2.0 * COIN_CONTACT_MM
    under = min(depth, COIN_CONTACT_MM + cell.height_mm + COIN_CONTACT_MM)
    slot, notch = (wire_mm + WIRE_PLAY_MM, COIN_SLOT_PAST_MM), (COIN_NOTCH_SHARE * radius, COIN_NOTCH_MM, under)
    cavity = CoinCavity(radius, depth, slot, notch)
    low = COIN_CONTACT_MM + stack
    free = lathe(np.array([[cell.diameter_mm / 2.0, -low], [cell.diameter_mm / 2.0, reach]]), frame)
    depths = COIN_CONTACT_MM + (np.arange(count) + 0.5) * cell.height_mm
    up = min(wire_mm * 0.6, depth / 2.0)
    return _Shape(
        cutter=cavity.cutter(frame, high, angle),
        wires=tuple(WireEnd(at, into) for at, into in cavity.slot_walls(frame, angle, up)),
        middles=frame[:3, 3] - depths[:, None] * out,
        axis=out,
        mouth=_mouth(frame, "round", (radius, radius), depth, fit),
        sweep=free,
    )


def _long(
    cell: CellRow,
    count: int,
    process: ProcessRow,
    frame: Array,
    high: float,
    angle: float,  # noqa: ARG001 - long cells lie as the place is rolled
    reach: float,
    wire_mm: float,  # noqa: ARG001 - the trough is wider than any wire
) -> _Shape:
    fit, wide = process.slide_fit_mm, count * cell.diameter_mm
    length, depth = cell.height_mm + SPRING_MM + PLATE_MM, cell.diameter_mm + fit
    radius = cell.diameter_mm / 2.0 + fit
    width = wide + (count + 1) * fit
    cavity = LongCavity(radius, width, length, depth, LONG_SLOT_MM, (*LONG_NOTCH_MM, cell.diameter_mm / 2.0 + fit))
    shift = (SPRING_MM - PLATE_MM) / 2.0
    moved = frame.copy()
    moved[:3, 3] += shift * frame[:3, 0]
    swept = LongCavity(cell.diameter_mm / 2.0, wide + (count - 1) * fit, cell.height_mm, cell.diameter_mm)
    rows = (np.arange(count) - (count - 1) / 2.0) * (cell.diameter_mm + fit)
    middle = moved[:3, 3] - cell.diameter_mm / 2.0 * frame[:3, 2]
    ends = [frame[:3, 3] - depth / 2.0 * frame[:3, 2] + s * length / 2.0 * frame[:3, 0] for s in (1.0, -1.0)]
    return _Shape(
        cutter=cavity.cutter(frame, high),
        wires=tuple(WireEnd(at, s * frame[:3, 0]) for at, s in zip(ends, (1.0, -1.0), strict=True)),
        middles=middle + rows[:, None] * frame[:3, 1],
        axis=frame[:3, 0],
        mouth=_mouth(frame, "slot", (length / 2.0, width / 2.0), depth, fit),
        sweep=swept.cutter(moved, 0.0, beyond_mm=reach),
    )


def _mouth(
    frame: Array, shape: Literal["round", "slot"], half: tuple[float, float], depth: float, fit: float
) -> SeatMouth:
    return SeatMouth(triple(frame[:3, 3]), triple(frame[:3, 2]), triple(frame[:3, 0]), shape, half, depth, fit)


def _in_the_way(
    cut: Solid, sweep: Solid, others: Mapping[str, Solid], opens: Collection[str] | None, cell: CellRow
) -> tuple[str, ...]:
    """Parts the cells meet on their way out, all of which come off.

    Raises
    ------
    CellTrapped
        One does not.
    """
    met = {name: spot for name, solid in others.items() if (spot := _meet(solid, sweep)) is not None}
    fast = {name: spot for name, spot in met.items() if opens is not None and name not in opens}
    own = _meet(cut, sweep)
    for who, (at, volume) in ([("the part itself", own)] if own else []) + sorted(fast.items()):
        raise CellTrapped(
            f"{cell.name} cannot come out: {who} is in its way",
            where=f"at {show_point(triple(at))}",
            found=f"{volume:.3g} mm³ of {who} in the way along which the cell comes out",
            fix="open the seat another way, move it, or name the part that comes off",
        )
    return tuple(sorted(met))


def _meet(solid: Solid, sweep: Solid) -> tuple[Array, float] | None:
    """Where and by what volume a solid stands in a way, or None."""
    try:
        shared = intersect([solid, sweep])
    except EmptySolid:
        return None
    return (shared.centre_mm, shared.volume_mm3) if shared.volume_mm3 > _TOUCHES_MM3 else None


def _too_small(cell: CellRow, count: int, place: Place, found_mm: float, wall_mm: float) -> DoesNotFit:
    missing = show_mm(wall_mm - found_mm) if np.isfinite(found_mm) else "all of it"
    had = f"{show_mm(found_mm)} of wall" if np.isfinite(found_mm) and found_mm > 0.0 else "the seat breaks out"
    cells = f"{count} × {cell.name}" if count > 1 else cell.name
    return DoesNotFit(
        f"a seat for {cells} does not fit: the wall is short by {missing}",
        where=f"at {show_point(place.at_mm)}",
        found=f"{had}, {show_mm(wall_mm)} asked for",
        fix="move it to where the part is thicker, take a smaller cell, or roll its place",
    )


def _says(cell: CellRow, count: int, coin: bool, comes_off: tuple[str, ...]) -> tuple[str, ...]:
    rooms = f"{show_mm(COIN_CONTACT_MM)} each side" if coin else f"{show_mm(SPRING_MM)} and {show_mm(PLATE_MM)}"
    play = (cell.height_mm - cell.height_min_mm) * (count if coin else 1)
    takes = f"; its spring takes up {show_mm(play)} between the largest and smallest" if cell.height_min_mm else ""
    off = f"take off {' and '.join(comes_off)} to change it" if comes_off else "nothing holds it in: give it a lid"
    cautions = (f"{cell.name}: {cell.caution}",) if cell.caution else ()
    return (
        f"seat for {cell.name} at its largest, {show_mm(cell.diameter_mm)} × {show_mm(cell.height_mm)}",
        f"contacts: {rooms} ({SOURCE}){takes}",
        off,
        *cautions,
    )
