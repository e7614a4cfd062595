"""`keep_bare`: plugs and caps for everything of a part that must stay bare under a coat, read off the ledger."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from prep.contract import Bare, Bench, Finding, Lift
from prep.errors import CapHangsOver, FilmSpoilsFit
from prep.geometry.cap import cap
from prep.geometry.plug import plug
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid
from prep.places.place import Place, Triple

CAP_GAP_MM = 0.05
"""Between a cap and the skin: crisp below 0.1 mm (common practice, no source)."""
CAP_LEAST_MM = 1.0
PLUG_DEPTH_MM = 4.0
LIFT_MM = 15.0
"""How far pieces are lifted in a picture."""
FLOOR_ROOM_MM = 0.4
"""Left under a plug, so that it seats at its mouth and not on the floor."""
SLOT_CORNER = 0.25
"""Of a slot's smaller half size, where the entry does not say."""


@dataclass(frozen=True)
class KeptBare:
    """Plugs and caps of one coat.

    Attributes
    ----------
    pieces : by name, as they sit on the part
    for_what : by the same name, the entry's id
    by_hand : ids and reasons of what no piece can be made for
    findings : one for each of those
    outs : by the name of a piece, the way it comes off
    """

    pieces: dict[str, Solid]
    for_what: dict[str, str]
    by_hand: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    outs: dict[str, Triple] = field(default_factory=dict)

    def lifts(self, part: str) -> tuple[Lift, ...]:
        """How the pieces come off, all in one picture; none where there are none."""
        if not self.pieces:
            return ()
        way = dict.fromkeys(self.pieces, LIFT_MM)
        return (Lift(part=part, pieces=tuple(way), toward=tuple(self.outs.values()), path_mm=tuple(way.values())),)


def keep_bare(bench: Bench, name: str, covers: Callable[[Array], NDArray[np.bool_]] | None, made_by: str) -> KeptBare:
    """Make a plug for every mouth and a cap for every window, land or label that a coat would reach.

    Parameters
    ----------
    name : of the part
    covers : whether the coat covers skin at points (n, 3) mm, (n,) bool; None where it covers all
    """
    scene = RayScene([bench.parts[name].solid])
    pieces: dict[str, Solid] = {}
    for_what: dict[str, str] = {}
    outs: dict[str, Triple] = {}
    by_hand: list[tuple[str, str]] = []
    findings: list[Finding] = []
    for bare in reached(bench, name, covers):
        title = f"{'plug' if bare.depth_mm > 0.0 else 'cap'} {len(pieces) + 1}"
        try:
            pieces[title] = _piece(bench, scene, bare)
        except CapHangsOver as fault:
            by_hand.append((bare.id, f"{fault.what}: {fault.found} {fault.where}"))
            findings.append(
                Finding(
                    check="bare",
                    part=name,
                    verdict="warn",
                    at_mm=bare.at_mm,
                    says=f"{bare.why} `{bare.id}` has no cap: {fault.found}",
                    fix=fault.fix,
                    made_by=made_by,
                )
            )
            continue
        for_what[title], outs[title] = bare.id, bare.out
    return KeptBare(pieces, for_what, tuple(by_hand), tuple(findings), outs)


def refuse_spoilt(bench: Bench, name: str, covers: Callable[[Array], NDArray[np.bool_]] | None, film_mm: float) -> None:
    """Refuse a coat without caps that would lie on walls made without room for it.

    Raises
    ------
    FilmSpoilsFit
        The first entry whose clearance is less than the film.
    """
    for bare in reached(bench, name, covers):
        if bare.depth_mm > 0.0 and bare.clearance_mm < film_mm:
            x, y, z = bare.at_mm
            raise FilmSpoilsFit(
                f"paint would jam the {bare.why} `{bare.id}`",
                where=f"part {name} at ({x:.1f}, {y:.1f}, {z:.1f}) mm",
                found=f"{film_mm:.3f} mm of film per side, {bare.clearance_mm:.3f} mm of clearance",
                fix="leave `caps` on, so that it is plugged",
            )


def reached(bench: Bench, name: str, covers: Callable[[Array], NDArray[np.bool_]] | None) -> Sequence[Bare]:
    """The entries of a part that a coat covers, at their middle or anywhere on their rim."""
    own = [bare for bare in bench.ledger.bare if bare.part == name]
    if covers is None:
        return own
    return [bare for bare in own if bool(covers(_rim(bare)).any())]


def _rim(bare: Bare) -> Array:
    """Points a little outside the mouth's rim, and its middle where it has no hole, (n, 3) mm."""
    frame = _frame(bare)
    angle = np.arange(16) * np.pi / 8.0
    reach = 1.1 * np.array(bare.half_mm) + 0.1
    ring = np.stack([reach[0] * np.cos(angle), reach[1] * np.sin(angle)], axis=1)
    points = frame[:3, 3] + ring @ frame[:3, :2].T
    return points if bare.depth_mm > 0.0 else np.concatenate([points, frame[None, :3, 3]])


def _piece(bench: Bench, scene: RayScene, bare: Bare) -> Solid:
    corner = SLOT_CORNER * min(bare.half_mm)
    shape: Literal["round", "slot"] = "slot" if bare.shape == "slot" else "round"
    if bare.depth_mm > 0.0:
        long = max(min(PLUG_DEPTH_MM, bare.depth_mm - FLOOR_ROOM_MM), 0.5 * bare.depth_mm)
        return plug(shape, bare.half_mm, corner, long, bench.process.slide_fit_mm, _frame(bare))
    thick = max(CAP_LEAST_MM, bench.process.wall_limit_mm)
    return cap(scene, shape, bare.half_mm, corner, _frame(bare), gap_mm=CAP_GAP_MM, thick_mm=thick)


def _frame(bare: Bare) -> Array:
    return Place.of(np.array(bare.at_mm), -np.array(bare.out), np.array(bare.across)).frame
