"""`read_bodies`: the further meshes that steps name, read and mended as parts are."""

from __future__ import annotations

from prep.contract import Finding
from prep.errors import PrepError
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid
from prep.recipe import Recipe


def read_bodies(recipe: Recipe) -> tuple[dict[str, Solid], list[Finding], list[PrepError]]:
    """Bodies by the path written in the recipe, what mending changed in them, and a fault for each that is no solid.

    Notes
    -----
    In mm where the file names no unit, and in the assembly's frame as exported.
    """
    bodies: dict[str, Solid] = {}
    findings: list[Finding] = []
    faults: list[PrepError] = []
    for body in recipe.bodies():
        try:
            mended = mend(read_mesh(recipe.body_path(body)))
        except PrepError as fault:
            number = next(k for k, step in enumerate(recipe.steps) if body in step.bodies())
            faults.append(fault.at(f"{recipe.step_where(number)}, body {body}"))
            continue
        bodies[body] = mended.solid
        findings += [
            Finding(check="solid", part=None, verdict="warn", says=f"{body} mended on the way in: {repair.says}")
            for repair in mended.repairs
            if abs(repair.volume_change_mm3) > 1e-3 * max(mended.solid.volume_mm3, 1.0)
        ]
    return bodies, findings, faults
