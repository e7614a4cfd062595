"""`sealed_void`: nothing is trapped inside a part unless a step declared it."""

from __future__ import annotations

import numpy as np

from prep.contract import Bench, Check, Finding, Part
from prep.geometry.solid import Array, Solid
from prep.places.place import triple
from prep.units import show_g, show_mm3

DECLARED_WITHIN_MM = 1.0


class SealedVoid(Check):
    """Find cavities that no opening reaches, with what the process leaves in them and its mass.

    Support, powder or resin in a sealed void stays there for good: the part weighs more than computed, and resin may
    break out. A void that a step declares, such as a magnet buried at a pause, passes.
    """

    @classmethod
    def word(cls) -> str:
        """`sealed_void`."""
        return "sealed_void"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding for every sealed void, or one pass for a part without any."""
        return tuple(finding for part in bench.parts.values() for finding in _of_part(bench, part))


def _of_part(bench: Bench, part: Part) -> list[Finding]:
    declared = [np.array(v.at_mm) for v in bench.ledger.voids if v.part == part.name and v.state == "sealed"]
    findings = []
    before = None
    for middle, corners, volume in _voids(part.solid):
        low, high = corners.min(axis=0) - DECLARED_WITHIN_MM, corners.max(axis=0) + DECLARED_WITHIN_MM
        if any(((low <= at) & (at <= high)).all() for at in declared):
            continue
        before = before if before is not None else [m for m, _, _ in _voids(part.original)]
        old = any(np.linalg.norm(middle - m) < DECLARED_WITHIN_MM for m in before)
        findings.append(_finding(bench, part.name, middle, volume, old))
    if not findings:
        says = "no sealed void" if not declared else f"no sealed void but the {len(declared)} declared"
        findings.append(Finding(check="sealed_void", part=part.name, verdict="pass", value=0.0, limit=0.0, says=says))
    return findings


def _finding(bench: Bench, part: str, middle: Array, volume: float, old: bool) -> Finding:
    process = bench.process
    trapped = volume * process.void_density_g_cm3 / 1000.0
    holds = f"it will hold {process.void_holds}" + (f", {show_g(trapped)}" if trapped > 0.0 else "")
    harmless = process.void_holds == "air"
    return Finding(
        check="sealed_void",
        part=part,
        verdict="warn" if old and harmless else "fail",
        value=volume,
        limit=0.0,
        unit="mm3",
        at_mm=triple(middle),
        says=f"a sealed void of {show_mm3(volume)}; {holds}",
        fix=f"open it with a hole of {process.escape_mm:g} mm or more, or fill it in the model",
        made_by="input" if old else "a step",
    )


def _voids(solid: Solid) -> list[tuple[Array, Array, float]]:
    """Middle, corners and volume of every sealed void."""
    volumes = solid.shell_volumes_mm3
    found = []
    for shell in np.flatnonzero(volumes < 0.0):
        corners = solid.vertices[solid.triangles[solid.shell_of_triangle == shell]].reshape(-1, 3)
        found.append((corners.mean(axis=0), corners, -float(volumes[shell])))
    return found
