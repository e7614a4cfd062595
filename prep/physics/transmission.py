"""`Transmission`: the light a printed wall passes, from readings of a step wedge, and the wall that passes a share.

A printed wall scatters, so its curve cannot be known from the material's name: infill, bead, layer, colour and the way
it lay on the bed all change it. Two figures describe what is read: what the faces send back, and what each mm loses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.errors import BadReadings, NoTransmission, WindowTooBright
from prep.tables import Tables
from prep.tables.table import key_of, nearest_word

RELATIVE_NOISE = 0.02
"""Of one reading: how well a phone or a meter held by hand repeats; a habit."""

DARK_NOISE = 0.001
"""Of one reading, as a share of the open window: stray light left after the dark reading is taken off; a habit."""


@dataclass(frozen=True)
class Transmission:
    """What a wall of a material passes: share = surface exp(-per_mm d).

    Attributes
    ----------
    material : as the table names it
    surface : share that enters and leaves at all, 0 to 1
    per_mm : loss of what is left in each mm, 1/mm
    surface_error, per_mm_error : one standard error of each
    residual : root mean square of the readings' distance from the curve, as a share of the reading
    thinnest_mm, thickest_mm : range of the readings; beyond it the curve is a guess
    readings : how many
    verified : the shop's own readings, not what ships
    says : the fit in words
    """

    material: str
    surface: float
    per_mm: float
    surface_error: float
    per_mm_error: float
    residual: float
    thinnest_mm: float
    thickest_mm: float
    readings: int
    verified: bool
    says: str

    def share(self, d_mm: float) -> float:
        """Share of the light that a wall of `d_mm` passes."""
        return self.surface * math.exp(-self.per_mm * d_mm)

    def thickness_for(self, share: float) -> float:
        """The wall that passes the share, mm; the closed inverse of the curve.

        Raises
        ------
        WindowTooBright
            Even the thinnest wall passes less.
        """
        if not 0.0 < share < self.surface:
            most = self.share(0.0)
            raise WindowTooBright(
                f"no wall of {self.material} passes {share:.3g} of the light",
                found=f"at most {most:.3g}: {self.says}",
                fix=f"ask for less than {most:.1%}, or use a clearer material for the window",
            )
        return math.log(self.surface / share) / self.per_mm

    def opaque_mm(self, share: float) -> float:
        """The thinnest wall that passes no more than the share, mm; 0 where any wall does."""
        return 0.0 if share >= self.surface else self.thickness_for(share)

    def within(self, d_mm: float) -> bool:
        """Whether the thickness lies in the range that was read."""
        return self.thinnest_mm - 1e-9 <= d_mm <= self.thickest_mm + 1e-9

    def beyond(self, d_mm: float) -> str:
        """What to say of a thickness outside the range that was read; empty within it."""
        if self.within(d_mm):
            return ""
        return (
            f"{d_mm:.2f} mm lies outside the {self.thinnest_mm:g}-{self.thickest_mm:g} mm that were read: the curve of "
            "a scattering wall bends there, so print a wedge with that step"
        )


def fit_transmission(
    material: str, thickness_mm: Sequence[float], share: Sequence[float], *, verified: bool = True
) -> Transmission:
    """The curve through the readings of one wedge.

    Parameters
    ----------
    thickness_mm, share : (n,)
        Two different thicknesses at least; shares of the open window, between 0 and 1.
    verified : bool
        Whether the shop read them itself.

    Raises
    ------
    BadReadings
        Too few thicknesses, shares that are none, or thicker steps that pass more.

    Notes
    -----
    Least squares on ln(share), each reading weighted by 1 / (0.02^2 + (0.001 / share)^2): a reading is good to 2 % of
    itself and to 0.1 % of the open window. Errors are those of the weights, widened by the root of the reduced chi
    squared where the readings scatter more; they never shrink below what one reading is good for.
    """
    d, t = np.asarray(thickness_mm, dtype=np.float64), np.asarray(share, dtype=np.float64)
    if len(np.unique(d)) < 2:
        raise BadReadings(
            f"the readings of {material} make no curve",
            found=f"{len(d)} readings at {len(np.unique(d))} thickness, at least 2 thicknesses are needed",
            fix="read more steps of the wedge and add them to shop/transmission.csv",
        )
    if not ((t > 0.0) & (t <= 1.0)).all():
        bad = float(t[~((t > 0.0) & (t <= 1.0))][0])
        raise BadReadings(
            f"a reading of {material} is no share of the open window",
            found=f"{bad:g}, must be above 0 and at most 1",
            fix="divide each reading by that of the open window, and leave out steps that read nothing",
        )
    weight = 1.0 / (RELATIVE_NOISE**2 + (DARK_NOISE / t) ** 2)
    matrix = np.stack([np.ones_like(d), -d], axis=1)
    spread = np.linalg.inv(matrix.T @ (weight[:, None] * matrix))
    level, slope = (float(value) for value in spread @ (matrix.T @ (weight * np.log(t))))
    off = np.log(t) - level + slope * d
    if slope <= 0.0:
        raise BadReadings(
            f"thicker steps of {material} read brighter",
            found=f"{slope:.3g} lost per mm over {d.min():g}-{d.max():g} mm",
            fix="read the wedge again with the lamp at one place, and take off the dark reading",
        )
    spare = len(d) - 2
    widen = max(1.0, float(weight @ off**2) / spare) if spare else 1.0
    level_error, slope_error = (math.sqrt(widen * value) for value in np.diag(spread))
    surface, residual = math.exp(level), math.sqrt(float(np.mean(off**2)))
    says = (
        f"{material}: {surface:.3f} ± {surface * level_error:.3f} at the faces, "
        f"{slope:.3g} ± {slope_error:.2g} per mm, {len(d)} readings from {d.min():g} to {d.max():g} mm, "
        f"off by {residual:.1%}"
    )
    if not verified:
        says = (
            f"{material}: {surface:.3g} at the faces and {slope:.3g} per mm are an unverified default, "
            f"set over {d.min():g} to {d.max():g} mm: print the step wedge (`prep coupon step-wedge`) and read it"
        )
    return Transmission(
        material=material,
        surface=surface,
        per_mm=slope,
        surface_error=surface * level_error,
        per_mm_error=slope_error,
        residual=residual,
        thinnest_mm=float(d.min()),
        thickest_mm=float(d.max()),
        readings=len(d),
        verified=verified,
        says=says,
    )


def transmission_of(tables: Tables, material_name: str) -> Transmission:
    """The curve of a material: the shop's readings where it has any, else those that ship.

    Raises
    ------
    NoTransmission
        The table has no reading of that material.
    BadReadings
        Its readings make no curve.
    """
    key = key_of(material_name)
    rows = [row for row in tables.transmission.rows if key_of(row.material) == key]
    if not rows:
        near = nearest_word(material_name, dict.fromkeys(row.material for row in tables.transmission.rows))
        raise NoTransmission(
            f"nobody has read how much light {material_name} passes",
            found=f"no row of the transmission table has the material `{material_name}`",
            fix=(f"did you mean `{near}`? else " if near else "")
            + f'`prep coupon step-wedge --material "{material_name}"`, and put its readings in shop/transmission.csv',
        )
    return fit_transmission(
        rows[0].material,
        [row.thickness_mm for row in rows],
        [row.share for row in rows],
        verified=all(row.status == "shop" for row in rows),
    )
