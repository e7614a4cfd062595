"""`read_numbers`: numbers out of text, all of them or a fault."""

from __future__ import annotations

import warnings

import numpy as np

from prep.errors import FileMalformed
from prep.geometry.solid import Array


def read_numbers(text: bytes, what: str) -> Array:
    """Every number in a text of numbers and white space, (n,) float64.

    Parameters
    ----------
    what : str
        What the numbers are, for the fault.

    Raises
    ------
    FileMalformed
        Something in the text is not a number.

    Notes
    -----
    Words such as `nan` and `inf` count as numbers here, so that they are refused where their meaning is known.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)
            return np.fromstring(text, dtype=np.float64, sep=" ")
    except (ValueError, DeprecationWarning):
        raise FileMalformed(
            f"{what} are not all numbers",
            found=f"{_odd_word(text)!r} where a number belongs",
            fix="export the file again; numbers need a decimal point, not a comma",
        ) from None


def _odd_word(text: bytes) -> str:
    for word in text.split():
        try:
            float(word)
        except ValueError:
            return word[:40].decode("ascii", "replace")
    return text[:40].decode("ascii", "replace")
