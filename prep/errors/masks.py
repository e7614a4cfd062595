"""Faults of masks: a lip that cannot be printed, nothing left to cover, a mask that cannot be made whole."""

from __future__ import annotations

from prep.errors.base import PrepError


class LipTooThin(PrepError):
    """The lip of a mask, at the edge of its window or behind it, is thinner than the process can print.

    A lip thinner than two beads or the least wall curls, and paint creeps under it.
    """

    code = "lip-too-thin"


class NothingToMask(PrepError):
    """No clean skin within reach of the window's edge is turned toward the spray, so there is nothing to cover.

    Paint the part without a mask, or choose a smaller region.
    """

    code = "nothing-to-mask"


class MaskTrapped(PrepError):
    """A mask hooks on the part: neither whole nor parted in up to four does it come straight off.

    A mask that is forced off bends, and is dragged across wet paint.
    """

    code = "mask-trapped"


class FreeToTurn(PrepError):
    """A mask can slide or turn on the part without lifting, and its window would move with it.

    The paint line then lies wherever the mask happened to lie; give it a shape to sit on, or lay it by eye.
    """

    code = "free-to-turn"
