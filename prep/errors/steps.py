"""Faults of steps: what does not fit, cannot go in, is too weak, or cannot be reached."""

from __future__ import annotations

from prep.errors.base import PrepError


class DoesNotFit(PrepError):
    """A feature needs more room than the part has, with the dimension that is short and by how much."""

    code = "does-not-fit"


class CannotInsert(PrepError):
    """The way by which a magnet, weight or LED would go in is blocked by the part itself."""

    code = "cannot-insert"


class TooWeak(PrepError):
    """The magnets asked for do not hold the force asked for, at the gap the parts leave between them."""

    code = "too-weak"


class TargetOutOfReach(PrepError):
    """No pockets inside the walls bring the model to the mass and balance asked for."""

    code = "target-out-of-reach"


class ImplausibleWeight(PrepError):
    """The weight of the bare print differs from the computed one by more than density and flow explain.

    Usual causes: another material or infill than the recipe names, supports still on the part, a wrong unit.
    """

    code = "implausible-weight"
