"""Faults of paint: a cap that cannot sit, a fit that a film would spoil."""

from __future__ import annotations

from prep.errors.base import PrepError


class CapHangsOver(PrepError):
    """A cap for a window or a land cannot come straight down on the whole of it: some lies beside the skin or on skin
    too steep. A cap that touches only in part lets paint creep under it.
    """

    code = "cap-hangs-over"


class FilmSpoilsFit(PrepError):
    """Paint would lie on the walls of a seat or bore that was made without room for it, so its part would not go in.

    Caps and plugs keep such walls bare; a step that comes after the paint in the recipe would not know of it.
    """

    code = "film-spoils-fit"
