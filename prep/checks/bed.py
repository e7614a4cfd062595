"""`bed`: each part fits the room the process has."""

from __future__ import annotations

import numpy as np

from prep.contract import Bench, Check, Finding, Part
from prep.geometry.seat_room import square_axes
from prep.places.place import unit_of
from prep.units import show_mm


class Bed(Check):
    """Compare each part's size, standing in its build direction, with the room of the process.

    Turned by a quarter on the bed if that helps; not laid diagonally.
    """

    @classmethod
    def word(cls) -> str:
        """`bed`."""
        return "bed"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding a part."""
        return tuple(_of_part(bench, part) for part in bench.parts.values())


def _of_part(bench: Bench, part: Part) -> Finding:
    process = bench.process
    up = unit_of(part.up)
    across, away = square_axes(up[None])
    local = part.solid.vertices @ np.stack([across[0], away[0], up]).T
    flat = np.sort(np.ptp(local[:, :2], axis=0))
    height = float(np.ptp(local[:, 2]))
    room = np.sort([process.bed_x_mm, process.bed_y_mm])
    over = np.array([flat[0] - room[0], flat[1] - room[1], height - process.bed_z_mm])
    worst = int(np.argmax(over))
    fits = over[worst] <= 0.0
    size = f"{flat[1]:.1f} x {flat[0]:.1f} mm on the bed, {height:.1f} mm high"
    limits = (float(room[0]), float(room[1]), process.bed_z_mm)
    return Finding(
        check="bed",
        part=part.name,
        verdict="pass" if fits else "fail",
        value=float((flat[0], flat[1], height)[worst]),
        limit=limits[worst],
        unit="mm",
        says=f"{size}: " + ("fits" if fits else f"too large by {show_mm(float(over[worst]))}"),
        fix="" if fits else "choose another build direction (`up:`), another machine, or cut the part in two",
    )
