"""`round_mouths`: round holes that paint must not fill, as entries of the ledger."""

from __future__ import annotations

from prep.contract.ledger import Bare, Why
from prep.geometry.seat_room import square_axes
from prep.geometry.solid import Array
from prep.places.place import triple


def round_mouths(
    step: str, part: str, why: Why, mouths: Array, outs: Array, size: tuple[float, float, float]
) -> list[Bare]:
    """One entry a hole, numbered from 1.

    Parameters
    ----------
    mouths, outs : (n, 3), middle of each mouth in mm, and the direction out of it
    size : radius and depth of every hole, and the clearance per side it was made with, mm
    """
    radius, depth, clearance = size
    across = square_axes(outs)[0]
    return [
        Bare(
            id=f"{step} {part} {number}",
            step=step,
            part=part,
            why=why,
            at_mm=triple(mouth),
            out=triple(out),
            across=triple(side),
            shape="round",
            half_mm=(radius, radius),
            depth_mm=depth,
            clearance_mm=clearance,
        )
        for number, (mouth, out, side) in enumerate(zip(mouths, outs, across, strict=True), start=1)
    ]
