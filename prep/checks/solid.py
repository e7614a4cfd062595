"""`solid`: each part is one clean body."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from pydantic import Field

from prep.contract import Bench, Check, Finding, Part
from prep.geometry.self_crossing import self_crossings
from prep.geometry.solid import Array, Solid
from prep.places.place import triple
from prep.units import show_mm3


class SolidBody(Check):
    """Look whether each part is one body whose surface nowhere runs through itself.

    That it is closed and wound outward was settled when it was read. Loose bodies print as loose bodies. A surface
    that runs through itself prints as the slicing program pleases, and no kernel reports it.
    """

    speck: float = Field(0.001, gt=0.0, lt=1.0, description="a body under this share of the part's volume is a speck")

    @classmethod
    def word(cls) -> str:
        """`solid`."""
        return "solid"

    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """One finding a part, or one for each thing wrong with it."""
        return tuple(finding for part in bench.parts.values() for finding in self._of_part(part))

    def _of_part(self, part: Part) -> list[Finding]:
        findings = []
        was = 0 if part.solid is part.original else len(self_crossings(part.original))
        crossings = self_crossings(part.solid)
        if len(crossings):
            old = part.solid is part.original or len(crossings) <= was
            findings.append(
                Finding(
                    check="solid",
                    part=part.name,
                    verdict="warn" if old else "fail",
                    value=float(len(crossings)),
                    limit=0.0,
                    unit="crossings",
                    at_mm=triple(crossings.points[0]),
                    says=f"the surface runs through itself, first here; {len(crossings)} edges pass through a face",
                    fix="unite the bodies in the model before exporting" if old else "move the feature a little",
                    made_by="input" if old else "a step",
                )
            )
        volumes = part.solid.shell_volumes_mm3
        bodies = np.flatnonzero(volumes > 0.0)
        if len(bodies) > 1:
            findings.append(self._loose(part, volumes, bodies))
        if not findings:
            says = f"one closed body of {show_mm3(part.solid.volume_mm3)}, genus {part.solid.topology.genus}"
            findings.append(Finding(check="solid", part=part.name, verdict="pass", value=1.0, limit=1.0, says=says))
        return findings

    def _loose(self, part: Part, volumes: Array, bodies: NDArray[np.intp]) -> Finding:
        small = bodies[int(np.argmin(volumes[bodies]))]
        speck = volumes[small] < self.speck * volumes[bodies].sum()
        old = len(bodies) <= _bodies(part.original)
        return Finding(
            check="solid",
            part=part.name,
            verdict="warn" if old else "fail",
            value=float(len(bodies)),
            limit=1.0,
            unit="bodies",
            at_mm=triple(
                part.solid.vertices[part.solid.triangles[part.solid.shell_of_triangle == small]].mean(axis=(0, 1))
            ),
            says=f"{len(bodies)} bodies that do not touch; the smallest, here, has {show_mm3(float(volumes[small]))}"
            + (", a speck" if speck else ""),
            fix="delete the speck in the model" if speck else "export the bodies as parts of their own, or join them",
            made_by="input" if old else "a step",
        )


def _bodies(solid: Solid) -> int:
    return int((solid.shell_volumes_mm3 > 0.0).sum())
