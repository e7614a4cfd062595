"""`lightness`: how light a colour looks, CIE L*."""

from __future__ import annotations

WHITE_SHARE = 216.0 / 24389.0
"""Below this share of white's luminance L* is linear."""
SLOPE = 24389.0 / 27.0


def lightness(colour: str) -> float:
    """L* of an sRGB colour, 0 for black to 100 for white.

    Parameters
    ----------
    colour : str
        "#rrggbb".

    Raises
    ------
    ValueError
        Not six hexadecimal digits after a "#".

    References
    ----------
    IEC 61966-2-1:1999 for the transfer curve and the luminance weights of sRGB; CIE 15:2004, section 8.2.1, for L*.
    """
    if len(colour) != 7 or colour[0] != "#":
        raise ValueError(f"{colour!r} is not #rrggbb")
    red, green, blue = (_linear(int(colour[k : k + 2], 16) / 255.0) for k in (1, 3, 5))
    luminance = 0.2126 * red + 0.7152 * green + 0.0722 * blue
    if luminance <= WHITE_SHARE:
        return SLOPE * luminance
    return float(116.0 * luminance ** (1.0 / 3.0) - 16.0)


def _linear(value: float) -> float:
    return value / 12.92 if value <= 0.04045 else float(((value + 0.055) / 1.055) ** 2.4)
