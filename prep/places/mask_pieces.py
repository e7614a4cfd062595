"""`removable`: a mask in as few pieces as come straight off the part, each with its way out, a tab and its keys."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from prep.errors import MaskTrapped
from prep.geometry.patch import Patch
from prep.geometry.pull_path import SHARED_MM3, path_length, sample_pull, swept
from prep.geometry.solid import Array, Solid, shared_volume, unite
from prep.geometry.split_shell import Parting, parting_planes
from prep.places.mask_build import Loose, MaskJob, in_order, partings_of, spoken
from prep.places.mask_seating import seated_firmly
from prep.tables import ProcessRow

Tell = Callable[[str, float], None]

NEAR_LANDS = 3.0
"""Within so many lands of a mask the window's edge is its own."""


@dataclass(frozen=True, eq=False)
class MaskPiece:
    """One piece of a mask, as seated.

    Attributes
    ----------
    name : its number, and a letter where a mask is parted
    pull : (3,) unit, the way it comes off
    path_mm : how far until it is past the part
    says : how it is lifted
    """

    name: str
    solid: Solid
    pull: Array
    path_mm: float
    says: str


@dataclass(frozen=True)
class MaskPieces:
    """All pieces, in the order they come off, and what is to be told.

    Attributes
    ----------
    notes : sentences
    partings : the planes that part masks
    """

    pieces: tuple[MaskPiece, ...]
    notes: tuple[str, ...]
    partings: tuple[Parting, ...]


def removable(
    part: Solid,
    masks: Sequence[Solid],
    patch: Patch,
    *,
    pull: Array | None,
    land_mm: float,
    gap_mm: float,
    process: ProcessRow,
    tell: Tell,
    by_eye: bool = False,
    partings: Sequence[Parting] | None = None,
) -> MaskPieces:
    """The pieces of a mask that come straight off, each along its own way.

    Parameters
    ----------
    masks : connected solids as they sit on the part
    pull : (3,) the way asked for; pieces that cannot come off along it find their own
    land_mm, gap_mm : of the mask
    by_eye : whether a mask that stays free to turn or slide is told of, and not refused
    partings : planes to part along; by default those of `parting_planes`

    Raises
    ------
    MaskTrapped
        No way out, whole or parted.
    FreeToTurn
        Contacts and pads leave a mask a motion that moves the window's edge, and it is not laid by eye.

    Notes
    -----
    Ways and partings are found on samples (`sample_pull`, `ways_apart`) and every piece is then swept out against the
    part and the pieces still seated (`swept`), so a hook the samples missed is not let through.
    """
    asked = None if pull is None else np.asarray(pull, dtype=np.float64) / np.linalg.norm(pull)
    named: list[tuple[str, MaskJob, Loose]] = []
    notes: list[str] = []
    used: list[Parting] = []
    for number, mask in enumerate(masks, start=1):
        tell(f"pulling mask {number} of {len(masks)}", (number - 1) / len(masks))
        samples = sample_pull(part, mask, patch, gap_mm, asked)
        firm = seated_firmly(part, mask, patch, samples, land_mm=land_mm, gap_mm=gap_mm, by_eye=by_eye)
        if firm.pads:
            samples = sample_pull(part, firm.solid, patch, gap_mm, asked)
            notes.append(f"mask {number}: {firm.pads} pads behind the land hold it in its place")
        notes += [f"mask {number}: {note}" for note in firm.notes]
        job = MaskJob(part, firm.solid, patch, samples, process, asked, NEAR_LANDS * land_mm)
        pieces, plan = job.solve(parting_planes(mask, part) if partings is None else partings)
        letters = [chr(ord("a") + k) for k in range(len(pieces))] if len(pieces) > 1 else [""]
        named += [(f"{number}{letter}", job, piece) for letter, piece in zip(letters, pieces, strict=True)]
        used += partings_of(plan)
        notes += [f"mask {number}: {note}" for note in job.notes_on(plan, pieces)]
    order = in_order(part, [piece for _, _, piece in named])
    if order is None:
        raise MaskTrapped(
            "pieces of the mask hold one another",
            found=f"none of {', '.join(name for name, _, _ in named)} comes off past the others",
            fix="shorten `reach:`, or mask the region in two steps",
        )
    tell("tabs", 0.9)
    with_tabs = _with_tabs(part, [named[row] for row in order])
    notes += [f"piece {name} has no room for a tab" for name, _, held in with_tabs if not held]
    return MaskPieces(
        tuple(_finished(part, with_tabs, row) for row in range(len(with_tabs))), tuple(notes), tuple(used)
    )


def _with_tabs(part: Solid, ordered: Sequence[tuple[str, MaskJob, Loose]]) -> list[tuple[str, Loose, bool]]:
    """Pieces with tabs that are in the way of no other piece, and whether each has one."""
    pieces = [piece for _, _, piece in ordered]
    held = []
    for row, (_, job, piece) in enumerate(ordered):

        def clear(body: Solid, row: int = row) -> bool:
            others = [part, *(other.solid for k, other in enumerate(pieces) if k != row)]
            if any(shared_volume(other, body) > 0.0 for other in others):
                return False
            before = all(swept([body], one.solid, one.way) <= SHARED_MM3 for one in pieces[:row])
            later = [part, *(one.solid for one in pieces[row + 1 :])]
            return before and swept(later, body, pieces[row].way) <= SHARED_MM3

        hold = job.room.tab_for(piece.chosen[: job.samples.spread], piece.way, clear)
        if hold is not None:
            pieces[row] = replace(piece, solid=unite([piece.solid, hold.solid]))
        held.append(hold is not None)
    return [(name, piece, tab) for (name, _, _), piece, tab in zip(ordered, pieces, held, strict=True)]


def _finished(part: Solid, ordered: Sequence[tuple[str, Loose, bool]], row: int) -> MaskPiece:
    name, piece, held = ordered[row]
    path = path_length([part, *(other.solid for _, other, _ in ordered[row + 1 :])], piece.solid, piece.way)
    by = "by its tab " if held else ""
    return MaskPiece(name, piece.solid, piece.way, path, f"lift {by}straight along {spoken(piece.way)}, {path:.0f} mm")
