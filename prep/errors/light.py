"""Faults of lamps, light walls and their circuits."""

from __future__ import annotations

from prep.errors.base import PrepError


class SupplyTooLow(PrepError):
    """The supply cannot drive the lamps: the lamps in a row need more volts than it has, or would barely glow.

    Lamps side by side need the volts of one; lamps in a row need the sum.
    """

    code = "supply-too-low"


class SupplyTooHigh(PrepError):
    """The supply has more volts than a hand-built circuit in a model should carry, or than a ready-made lamp takes.

    Only a tested power unit should stand between a model and the mains.
    """

    code = "supply-too-high"


class CurrentTooHigh(PrepError):
    """The current is above what the lamp bears without end, so it would age fast or burn out.

    A lower current, or a resistor where there is none, mends it.
    """

    code = "current-too-high"


class ResistorTooHot(PrepError):
    """The series resistor would turn more power to heat than a small resistor bears.

    More lamps in a row, a lower current or a lower supply leave less for it to burn.
    """

    code = "resistor-too-hot"


class PocketTooHot(PrepError):
    """The lamp's heat would bring the pocket it is closed in too near the heat at which the plastic gives way.

    Less power, a larger pocket, a thinner wall or an opening to the air mends it.
    """

    code = "pocket-too-hot"


class WindowTooBright(PrepError):
    """The window should pass more light than the material passes however thin it is.

    Part of the light never enters: the surface sends it back.
    """

    code = "window-too-bright"


class NoTransmission(PrepError):
    """Nobody has measured how much light a wall of this material passes, and none ships for it.

    A step wedge printed in that material, read and entered in the shop's table, tells it.
    """

    code = "no-transmission"


class BadReadings(PrepError):
    """The readings of a step wedge make no curve: too few thicknesses, or thicker walls that pass more light.

    Two thicknesses are the least; six to eight are better.
    """

    code = "bad-readings"


class NoWireRoute(PrepError):
    """The wire has no way inside the part that leaves the wall asked for and bends no tighter than it may.

    The narrowest place found is named, with the width or bend that would pass there.
    """

    code = "no-wire-route"


class CellTrapped(PrepError):
    """The cell cannot be taken out again: the part itself, or a part that does not come off, stands in its way."""

    code = "cell-trapped"


class CavityBreaksOut(PrepError):
    """The part is too thin for an LED's cavity: the wall round it would be thinner than asked, or stand in the open.

    A smaller lamp or window, another place, or a thicker part mends it.
    """

    code = "cavity-breaks-out"


class NotClear(PrepError):
    """A light pipe is asked for in a material that has no refractive index, so nobody says it is clear.

    Clear rows of the materials table carry an index; the shop's own table may add one.
    """

    code = "not-clear"


class MirrorLeaks(PrepError):
    """A 45 degree mirror of a light pipe would let the light out, as it meets it at less than the critical angle.

    A mirror without a coat turns light only where the refractive index is above the square root of two.
    """

    code = "mirror-leaks"


class NoHollow(PrepError):
    """A divider has no hollow to stand in: no air above the floor there, or air that runs out of the box at a side.

    Places on the floor of the hollow, or the part that closes the open side named as a cover, mend it.
    """

    code = "no-hollow"


class CellTooNarrow(PrepError):
    """Two cells of a light box lie so close that the divider between them would stand in a lamp or its play.

    Cells farther apart, or a thinner divider of a darker plastic, mend it.
    """

    code = "cell-too-narrow"
