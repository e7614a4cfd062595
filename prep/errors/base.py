"""`PrepError`: a fault that a person can mend, printed in four parts, and `Faults`, several of them together."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Self


class PrepError(Exception):
    """A fault that a person can mend: what is wrong, where, what was found, what to do.

    Parameters
    ----------
    what : str
        One sentence, what is wrong.
    found : str
        The numbers that were found and the limit they missed.
    fix : str
        One action that mends it.
    where : str
        File, line, step, part and place, as far as they are known.
    """

    code: ClassVar[str] = "fault"
    exit_status: ClassVar[int] = 2

    def __init__(self, what: str, *, found: str = "", fix: str = "", where: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.found = found
        self.fix = fix
        self.where = where

    def at(self, where: str) -> Self:
        """Put an outer place before the place known so far, and return the fault itself."""
        self.where = f"{where}, {self.where}" if self.where else where
        return self

    def __str__(self) -> str:
        lines = [f"error[{self.code}]: {self.what}"]
        lines += [
            f"  {label}{text}"
            for label, text in (("where: ", self.where), ("found: ", self.found), ("fix:   ", self.fix))
            if text
        ]
        return "\n".join(lines)


class Faults(PrepError):
    """Several faults found together, printed one after the other; none hides the next."""

    code = "faults"

    def __init__(self, faults: Sequence[PrepError]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = tuple(faults)

    def at(self, where: str) -> Self:
        """Put an outer place before the place of every fault held."""
        for fault in self.faults:
            fault.at(where)
        return self

    def __str__(self) -> str:
        return "\n\n".join(str(fault) for fault in self.faults)
