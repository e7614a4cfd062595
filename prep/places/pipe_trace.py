"""`trace_pipe`: what share of a lamp's light a pipe brings to the outside, and where the rest goes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from prep.errors import MirrorLeaks, NotClear
from prep.geometry.lathe import prism
from prep.geometry.light_pipe import PipeShape
from prep.geometry.light_rays import LightRays, lamp_rays
from prep.geometry.solid import Array, Progress, Solid
from prep.geometry.trace_light import Clear, Traced, trace_light
from prep.physics.fresnel import critical_angle_deg, reflectance
from prep.physics.lambert import lambert_order
from prep.tables import MaterialRow

RAYS = 24_000
SEED = 20_011
LEAST_SHARE = 1e-5
MIRROR_DEG = 45.0


@dataclass(frozen=True)
class PointLamp:
    """A lamp as small as a point.

    Attributes
    ----------
    id : in the ledger; empty for one that is only supposed
    at_mm, axis : (3,) where it shines from, and the unit direction of its strongest light
    half_angle_deg : off the axis to where it is half as strong
    """

    id: str
    at_mm: Array
    axis: Array
    half_angle_deg: float


@dataclass(frozen=True)
class PipeShare:
    """Shares of the lamp's light.

    Attributes
    ----------
    out : leaves at the outside
    enters : meets the entry face
    straight : would leave a straight pipe of the same length without a shoulder, the lamp on its axis
    half_out_deg : half of what leaves does so within this angle of the last leg
    goes : where all of it goes, by name; the sum is 1
    """

    out: float
    enters: float
    straight: float
    half_out_deg: float
    goes: Mapping[str, float]

    @property
    def passed(self) -> float:
        """Share of what meets the entry that leaves at the outside."""
        return self.out / self.enters if self.enters > 0.0 else 0.0


def clear_of(material: MaterialRow, *, bends: int) -> Clear:
    """What light meets in a clear material, able to turn it at the mirrors of a bent pipe.

    Raises
    ------
    NotClear
        The row has no refractive index.
    MirrorLeaks
        Light along the pipe would meet a mirror at less than the critical angle.

    References
    ----------
    M. Born, E. Wolf, Principles of Optics, 7th ed. (1999), section 1.5.4: total reflection beyond asin(1 / n).
    """
    if material.index <= 1.0:
        raise NotClear(
            f"{material.name} is not known to be clear",
            found="no index in its row of the materials table",
            fix="choose a clear `material`, such as `resin clear`, or put its index in shop/materials.csv",
        )
    critical = critical_angle_deg(material.index)
    if bends and critical >= MIRROR_DEG:
        raise MirrorLeaks(
            f"a mirror of the light pipe in {material.name} would let the light out",
            found=f"light meets it at {MIRROR_DEG:g} deg, total reflection begins at {critical:.2f} deg "
            f"(index {material.index:g}, at least 1.4142)",
            fix="choose a `material` of higher index, or `bends: straight`",
        )
    return Clear(material.index, -math.log1p(-material.absorption_per_mm), reflectance)


def trace_pipe(
    pipe: Solid, shape: PipeShape, clear: Clear, lamp: PointLamp, gap_mm: float, tell: Progress
) -> PipeShare:
    """Trace the lamp's light through the finished pipe, and through the straight ideal.

    Notes
    -----
    Smooth, polished faces in air; `RAYS` rays, the same at every run. A share p is good to about sqrt(p / `RAYS`).
    """
    order = lambert_order(lamp.half_angle_deg)
    found = _traced(pipe, shape, clear, lamp_rays(lamp.at_mm, lamp.axis, order, RAYS, seed=SEED), tell)
    entry = shape.path[0]
    length = shape.length_mm
    straight = PipeShape(shape.section, np.stack([entry, entry + length * shape.out]), shape.across, 0.0, 0.0, -length)
    rod = prism(shape.section.outline(), -length, 0.0, straight.frame)
    on_axis = lamp_rays(entry - gap_mm * shape.out, shape.out, order, RAYS, seed=SEED)
    ideal = _traced(rod, straight, clear, on_axis, tell)
    goes = {
        "leaves at the outside": found.leaves["exit"],
        "misses the pipe": found.missed,
        "turned back at the entry": found.turned_back + found.leaves["entry"],
        "lost at mirrors": sum(share for name, share in found.leaves.items() if name.startswith("mirror")),
        "lost at the sides": found.leaves["sides"],
        "absorbed": found.absorbed,
        "too faint to follow": found.left_over,
    }
    return PipeShare(
        out=found.leaves["exit"],
        enters=1.0 - found.missed,
        straight=ideal.leaves["exit"],
        half_out_deg=_half_angle_deg(found.exits, shape.out),
        goes=goes,
    )


def _traced(pipe: Solid, shape: PipeShape, clear: Clear, light: LightRays, tell: Progress) -> Traced:
    return trace_light(pipe, clear, light, shape.faces(pipe), watch="exit", least_share=LEAST_SHARE, tell=tell)


def _half_angle_deg(exits: LightRays, out: Array) -> float:
    """Angle about a direction that holds half of the power."""
    if len(exits.power) == 0:
        return 0.0
    angle = np.degrees(np.arccos(np.clip(exits.directions @ out, -1.0, 1.0)))
    order = np.argsort(angle, kind="stable")
    power = np.cumsum(exits.power[order])
    return float(angle[order][np.searchsorted(power, 0.5 * power[-1])])
