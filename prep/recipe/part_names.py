"""`faulty_names`: names of parts that no file could have, or that two files would share."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from prep.errors import BadValue
from prep.recipe.models import PART_NAME

RESERVED = frozenset({"con", "prn", "aux", "nul"} | {f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10)})
"""Devices, on systems that take these names for no file, whatever ending follows."""


def faulty_names(names: Iterable[str]) -> Iterator[tuple[str, BadValue]]:
    """Every name that cannot be a part's, with its fault.

    Notes
    -----
    Capitals do not tell files apart on every system, so they do not tell parts apart either.
    """
    taken: dict[str, str] = {}
    for name in names:
        plain = name.casefold()
        if not re.fullmatch(PART_NAME, name):
            fix = "use letters, digits, spaces, `_` and `-`, 40 at most"
            yield name, BadValue("a part's name becomes a file's name", found=f"`{name}`", fix=fix)
        elif plain.strip() in RESERVED:
            what = "a part's name becomes a file's name, and some systems keep this one for a device"
            yield name, BadValue(what, found=f"`{name}`", fix=f"add a word to it: `{name.strip()} part`")
        elif plain in taken:
            what = "two parts differ in capitals only, so some systems would write one file for both"
            yield name, BadValue(what, found=f"`{name}` beside `{taken[plain]}`", fix="give one another name")
        taken.setdefault(plain, name)
