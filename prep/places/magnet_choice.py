"""`choose_magnet`: which disc, where its seats go, and how the set pulls."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from prep.errors import CannotInsert, DoesNotFit, PrepError, TooWeak
from prep.geometry.round_seat import RoundSeat
from prep.geometry.seat_room import SeatRoom
from prep.geometry.solid import Array
from prep.physics.magnetism import pull_force, steel_pull
from prep.physics.seat_fit import Fixing, SeatFit, seat_fit
from prep.places.place import triple
from prep.places.seam import seats_at
from prep.places.seat_need import Candidates, SeatNeed, SeatsFound, Shortfall, Side
from prep.tables import MagnetRow, ProcessRow
from prep.units import show_mm, show_n, show_point

WALL_MARGIN_MM = 0.03
SAG_MM = 0.6
TOOL_ROOM_MM = 3.0
MOST_OFFERED = 14


@dataclass(frozen=True)
class MagnetAim:
    """What is wanted of a set of magnets.

    Attributes
    ----------
    names : the part, or the two parts of the pair
    fixing, skin_mm, vent : how each is held
    count : seats to spread; None for exactly the places given
    against : what each magnet pulls on
    service : share of the ideal pull that is counted on
    hold_n : force wanted of the whole set; 0 for none
    gap_film_mm, wall_film_mm : paint that will lie between the faces that meet, both together, and on a seat's walls
    """

    names: tuple[str, ...]
    fixing: Fixing
    skin_mm: float
    vent: Literal["groove", "hole", "none"]
    count: int | None
    against: Literal["magnet", "steel"]
    service: float
    hold_n: float
    process: ProcessRow
    wall_mm: float
    gap_film_mm: float = 0.0
    wall_film_mm: float = 0.0

    @property
    def from_behind(self) -> bool:
        """Whether seats open on the far side and leave a skin toward the mating face."""
        return self.skin_mm > 0.0 and self.fixing != "buried"


@dataclass(frozen=True)
class MagnetSet:
    """A disc, its seats, and its pull.

    Attributes
    ----------
    gaps_mm : (n,) between the magnet's face and its partner's, along each axis
    pulls_n : (n,) ideal
    """

    magnet: MagnetRow
    fit: SeatFit
    shape: RoundSeat
    found: SeatsFound
    gaps_mm: Array
    pulls_n: Array

    @property
    def pull_n(self) -> float:
        """Ideal pull of the whole set, N: what the pulls come to together along the way they share.

        Magnets that face one another across a nested part add nothing; on one flat seam this is their plain sum.
        """
        return float(np.linalg.norm(self.pulls_n @ self.found.axes))


CandidatesFor = Callable[[float], tuple[Candidates, ...]]
"""Candidates for a seat whose mouth has this radius, mm, to be tried in turn."""


def choose_magnet(
    aim: MagnetAim, rooms: list[SeatRoom], candidates: CandidatesFor, wanted: list[MagnetRow], offered: list[MagnetRow]
) -> MagnetSet:
    """The first of the discs wanted that fits in every part and, where a force is wanted, holds.

    Parameters
    ----------
    wanted : discs to try, in order; with one, it is taken if it fits, whatever it holds
    offered : discs to name where none of the wanted fits

    Raises
    ------
    DoesNotFit
        No disc fits: which dimension is short, by how much, and what would fit.
    CannotInsert
        There is room for the seats, and no free way to bring the magnets in.
    TooWeak
        Several were tried and none holds.
    """
    shortfalls: list[tuple[MagnetRow, Shortfall]] = []
    strongest = 0.0
    seats = aim.count or len(candidates(1.0)[0].points)
    for magnet in wanted:
        fit, shape = seat_shape(aim, magnet)
        at_best = seats * aim.service * float(ideal_pulls(aim, magnet, np.array([_least_gap(aim, fit)]))[0])
        if len(wanted) > 1 and at_best < aim.hold_n:
            strongest = max(strongest, at_best)
            continue
        result = _place(aim, rooms, magnet, candidates(shape.mouth_radius_mm))
        if isinstance(result, Shortfall):
            shortfalls.append((magnet, result))
            continue
        gaps = _gaps(aim, result, fit)
        chosen = MagnetSet(magnet, fit, shape, result, gaps, ideal_pulls(aim, magnet, gaps))
        strongest = max(strongest, chosen.pull_n * aim.service)
        if len(wanted) == 1 or chosen.pull_n * aim.service >= aim.hold_n:
            return chosen
    if shortfalls:
        raise _does_not_fit(aim, rooms, candidates, offered, *shortfalls[0])
    raise TooWeak(
        "no stocked disc holds that much",
        found=f"{show_n(strongest)} at most with {seats} seats, {show_n(aim.hold_n)} wanted",
        fix="more seats (`count:`), less skin, or a larger disc in shop/magnets.csv",
    )


def seat_shape(aim: MagnetAim, magnet: MagnetRow) -> tuple[SeatFit, RoundSeat]:
    """The seat for one disc, by the way of fixing."""
    fit = seat_fit(magnet, aim.process, aim.fixing, aim.wall_film_mm)
    buried = aim.fixing == "buried"
    vent = aim.process.vent_mm if aim.fixing == "glue" else 0.0
    return fit, RoundSeat(
        radius_mm=fit.diameter_mm / 2.0,
        depth_mm=fit.depth_mm + (aim.skin_mm if buried else 0.0),
        rim_mm=0.0 if buried else aim.process.lead_in_mm,
        rib_tip_mm=fit.rib_tip_mm / 2.0,
        groove_mm=vent if aim.vent == "groove" else 0.0,
        hole_mm=vent if aim.vent == "hole" else 0.0,
        roof_mm=aim.skin_mm if buried else 0.0,
    )


def ideal_pulls(aim: MagnetAim, magnet: MagnetRow, gaps_mm: Array) -> Array:
    """Ideal pull of one seat at each gap, (n,) N."""
    d, t, br = magnet.diameter_mm, magnet.thickness_mm, magnet.remanence_t
    if aim.against == "steel":
        return np.array([float(steel_pull(d, t, br, float(gap))) for gap in gaps_mm])
    return np.array([float(pull_force(d, t, br, d, t, br, float(gap))) for gap in gaps_mm])


def sunk_mm(aim: MagnetAim, fit: SeatFit) -> float:
    """Depth of the magnet's face under the seam: its skin and the glue on it, or the recess of an open seat."""
    return aim.skin_mm + (fit.under_mm if aim.from_behind else fit.recess_mm)


def _least_gap(aim: MagnetAim, fit: SeatFit) -> float:
    return sunk_mm(aim, fit) * len(aim.names) + aim.gap_film_mm


def _gaps(aim: MagnetAim, found: SeatsFound, fit: SeatFit) -> Array:
    if len(found.mouths) == 1:
        return np.full(len(found.axes), _least_gap(aim, fit))
    air = np.einsum("ij,ij->i", found.mouths[1] - found.mouths[0], found.axes)
    return np.asarray(np.maximum(air, 0.0) + _least_gap(aim, fit))


def _place(
    aim: MagnetAim, rooms: list[SeatRoom], magnet: MagnetRow, candidates: tuple[Candidates, ...]
) -> SeatsFound | Shortfall:
    fit, shape = seat_shape(aim, magnet)
    need = SeatNeed(
        radius_mm=shape.radius_mm,
        rim_mm=shape.rim_mm,
        depth_mm=fit.depth_mm,
        roof_mm=aim.skin_mm,
        from_behind=aim.from_behind,
        buried=aim.fixing == "buried",
        wall_mm=aim.wall_mm + WALL_MARGIN_MM,
        travel_mm=magnet.thickness_mm + TOOL_ROOM_MM,
        sag_mm=SAG_MM,
    )
    sides = [Side(room, need, sign) for room, sign in zip(rooms, (1, -1), strict=False)]
    results = (seats_at(sides, each, aim.count, 2.0 * shape.mouth_radius_mm + need.wall_mm) for each in candidates)
    result = next(results)
    for other in results:
        if isinstance(result, SeatsFound):
            break
        result = other
    return result


def _does_not_fit(
    aim: MagnetAim,
    rooms: list[SeatRoom],
    candidates: CandidatesFor,
    offered: list[MagnetRow],
    magnet: MagnetRow,
    short: Shortfall,
) -> PrepError:
    wanted = aim.count or len(candidates(1.0)[0].points)
    options = [f"`count: {short.fits}`"] if 0 < short.fits < wanted and aim.count else []
    smaller = [row for row in offered if row.diameter_mm < magnet.diameter_mm]
    for row in sorted(smaller, key=lambda row: (-row.diameter_mm, -row.thickness_mm))[:MOST_OFFERED]:
        fit, shape = seat_shape(aim, row)
        result = _place(aim, rooms, row, candidates(shape.mouth_radius_mm))
        if isinstance(result, SeatsFound):
            holds = aim.service * float(ideal_pulls(aim, row, _gaps(aim, result, fit)).sum())
            weak = f" (holds {show_n(holds)} of {show_n(aim.hold_n)})" if holds < aim.hold_n else ""
            options.append(f"`magnet: {row.name}`{weak}")
            break
    fits = "what would fit: " + " or ".join(options)
    parts = "parts" if len(aim.names) > 1 else "part"
    at = "nearest at" if aim.count else "at"
    limit = "wanted" if short.sense == "short" else "allowed"
    where = f"{parts} {' and '.join(aim.names)}, {at} {show_point(triple(short.at_mm))}"
    found = f"{show_mm(short.found_mm)} of {short.what}, {show_mm(short.wanted_mm)} {limit}; room for {short.fits}"
    times = f" {wanted} times" if wanted > 1 else ""
    missing = f"{short.what} is {short.sense} by {show_mm(short.missing_mm)}"
    if short.blocked:
        return CannotInsert(
            f"{magnet.name} cannot be put in{times}: {missing}",
            where=where,
            found=found,
            fix=_other_way(aim),
        )
    if not options:
        fits = "none of the stocked discs fits here either: thicken the part there, or add a boss in the model"
    return DoesNotFit(f"{magnet.name} does not fit{times}: {missing}", where=where, found=found, fix=fits)


def _other_way(aim: MagnetAim) -> str:
    """What else to try where the way in is blocked."""
    ways = ["open the way in the model", "move the seats"]
    if aim.from_behind:
        ways.append("leave `skin:` out, so that they go in from the face")
    if aim.process.void_holds == "air":
        ways.append("bury them at a pause (`fixing: buried` with a `skin:`)")
    return ", or ".join(ways)
