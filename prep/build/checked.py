"""`CheckReport`: what `prep check` says of the files it was given, with the stable keys of its JSON."""

from __future__ import annotations

import json
from typing import Any, Literal

from pydantic import Field

from prep.build.record import AcceptedRecord, InputRecord, plain
from prep.contract import Finding, Frozen, Verdict
from prep.errors import PrepError
from prep.places.place import Triple

Outcome = Literal["pass", "warn", "fail", "refused"]
ORDER: tuple[Outcome, ...] = ("pass", "warn", "fail", "refused")


class FaultRecord(Frozen):
    """Why a file was refused, in the four parts of every fault."""

    code: str
    what: str
    where: str = ""
    found: str = ""
    fix: str = ""

    @classmethod
    def of(cls, fault: PrepError) -> FaultRecord:
        """The record of a fault."""
        return cls(code=fault.code, what=fault.what, where=fault.where, found=fault.found, fix=fault.fix)


class AgainstRecord(Frozen):
    """How a mesh compares with an older one.

    Attributes
    ----------
    likeness : "same" where it stands, "moved" only, or it "differs"
    says : the same in a sentence
    turn_deg, shift_mm : of the motion that carries the old shape to where it was compared
    largest_mm : greatest distance between the surfaces; nearer than tolerance_mm counts as none
    at_mm : where that is, in the frame of the new mesh
    share : of the surface that differs by more than the tolerance, 0 to 1
    new_thin : thin places that the old mesh has not
    """

    path: str
    sha256: str
    likeness: Literal["same", "moved", "differs"]
    says: str
    turn_deg: float
    shift_mm: float
    largest_mm: float
    tolerance_mm: float
    at_mm: Triple
    share: float
    volume_change_mm3: float
    new_thin: tuple[Finding, ...] = ()


class CheckedPart(Frozen):
    """One mesh that was read and examined.

    Attributes
    ----------
    fingerprint : of its shape, the same whatever the file's name, format, triangle order or position
    worst : the first of the heaviest findings; null where everything passed
    """

    input: InputRecord
    fingerprint: str
    notes: tuple[str, ...] = ()
    verdict: Verdict
    worst: Finding | None
    checks: tuple[Finding, ...]
    against: AgainstRecord | None = None


class CheckedFile(Frozen):
    """One file as it was named: a mesh, a recipe with its parts, or one that was refused."""

    path: str
    kind: Literal["mesh", "recipe"]
    verdict: Outcome
    process: dict[str, Any]
    parts: dict[str, CheckedPart] = Field(default_factory=dict)
    faults: tuple[FaultRecord, ...] = ()
    accepted: tuple[AcceptedRecord, ...] = ()


class CheckReport(Frozen):
    """All files of one call, in the order in which they were named."""

    check: Literal[1] = 1
    prep: str
    verdict: Outcome
    files: tuple[CheckedFile, ...]
    timing_s: dict[str, float] = Field(default_factory=dict)

    @property
    def exit_status(self) -> int:
        """0 passed, warnings allowed; 1 a check failed; 2 a file was refused."""
        return {"pass": 0, "warn": 0, "fail": 1, "refused": 2}[self.verdict]

    def to_json(self, *, timing: bool = True) -> str:
        """One document: keys in the order above, numbers rounded; `timing` False leaves out the seconds."""
        data = self.model_dump(mode="python")
        if not timing:
            data.pop("timing_s")
        return json.dumps(plain(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def heaviest(outcomes: list[Outcome]) -> Outcome:
    """The worst of several outcomes; "pass" for none."""
    return max(outcomes, key=ORDER.index, default="pass")
