"""`Record`: everything `report.json` says about one build, and `Built`: the solids that go with it."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
from pydantic import Field

from prep.contract import (
    Bare,
    Film,
    Finding,
    Frozen,
    Item,
    Lamp,
    Ledger,
    Lift,
    PlacedIn,
    Verdict,
    View,
    Void,
    Window,
    Work,
)
from prep.contract.lit import Glow
from prep.geometry.solid import Array, Solid
from prep.places.place import Triple

DECIMALS = 6
"""Digits kept after the point, or significant digits for numbers below one."""
DUST = 1e-9


class RecipeRecord(Frozen):
    """The recipe file that was built, by the hash of its bytes."""

    path: str
    sha256: str


class AxisTarget(Frozen):
    """The balance asked for along one axis, and what came out."""

    wanted_mm: float
    tolerance_mm: float
    found_mm: float

    @property
    def met(self) -> bool:
        """Whether the balance lies within its tolerance."""
        return abs(self.found_mm - self.wanted_mm) <= self.tolerance_mm


class TargetRecord(Frozen):
    """The mass and balance asked for, and what came out.

    Attributes
    ----------
    of : "model", or the name of the one part that is weighed
    found_g : middle of the band of what is weighed
    balance : by axis, "x", "y", "z"; axes left free are absent
    says : why it is only the nearest reachable, empty where the target is met
    """

    of: str = "model"
    mass_g: float
    tolerance_g: float
    found_g: float
    balance: dict[str, AxisTarget] = Field(default_factory=dict)
    says: str = ""

    @property
    def met(self) -> bool:
        """Whether the mass and every axis asked for lie within their tolerance."""
        return abs(self.found_g - self.mass_g) <= self.tolerance_g and all(a.met for a in self.balance.values())


class ModelRecord(Frozen):
    """Mass and balance of the whole model: parts, items and carried things."""

    mass_g: float
    mass_band_g: tuple[float, float]
    centre_mm: Triple
    target: TargetRecord | None = None


class RepairRecord(Frozen):
    """One mend of a mesh on its way in: how much moved and what that did to the volume."""

    repair: str
    says: str
    count: int = 0
    moved_mm: float = 0.0
    volume_change_mm3: float = 0.0


class InputRecord(Frozen):
    """One mesh as it was read."""

    path: str
    sha256: str
    unit: str
    triangles: int
    shells: int
    extents_mm: Triple
    volume_mm3: float
    repairs: tuple[RepairRecord, ...] = ()


class WrittenRecord(Frozen):
    """One mesh file of a part, its path relative to the report."""

    path: str
    sha256: str


class OutputRecord(Frozen):
    """One finished part as it was written and read back.

    Attributes
    ----------
    path, sha256 : of the 3MF where one is written, else of the STL
    files : every file of the part, that one included
    """

    path: str
    sha256: str
    triangles: int
    shells: int
    genus: int
    extents_mm: Triple
    volume_mm3: float
    mass_g: float
    centre_mm: Triple
    files: tuple[WrittenRecord, ...] = ()


class WallRecord(Frozen):
    """The thinnest wall of a finished part, its place, and the least the process allows."""

    thinnest_mm: float
    at_mm: Triple
    limit_mm: float


class PartRecord(Frozen):
    """One part: as read, as written, and its thinnest wall (null where it was not measured)."""

    input: InputRecord
    output: OutputRecord
    wall: WallRecord | None = None
    material: str = ""


class PlaceRecord(Frozen):
    """A place found on a part, with its coordinates."""

    part: str
    feature: str
    at_mm: Triple
    inward: Triple
    roll: Triple

    @classmethod
    def of(cls, placed: PlacedIn) -> PlaceRecord:
        """The record of a place a step found."""
        place = placed.place
        return cls(part=placed.part, feature=placed.feature, at_mm=place.at_mm, inward=place.inward, roll=place.roll)


class StepRecord(Frozen):
    """One step as it ran: what it says of itself, and where it worked."""

    step: str
    name: str
    parts: tuple[str, ...]
    reused: bool = False
    seconds: float = 0.0
    facts: dict[str, Any] = Field(default_factory=dict)
    places: tuple[PlaceRecord, ...] = ()


class AcceptedRecord(Frozen):
    """A finding that the recipe accepts, with the reason given."""

    check: str
    reason: str


class OverrideRecord(Frozen):
    """A table row that the shop's own table or the recipe replaced or added."""

    table: str
    row: str
    says: str


class PictureRecord(Frozen):
    """One picture of the report; paths are relative to the report.

    Attributes
    ----------
    drawing : the same as SVG, null for shaded pictures
    """

    path: str
    kind: Literal["model", "before-after", "map", "walls", "glow", "section", "lift", "extra"]
    title: str
    parts: tuple[str, ...] = ()
    drawing: str | None = None


class FileRecord(Frozen):
    """One mesh written beside the parts: masks, plugs, light pipes, covers."""

    path: str
    sha256: str
    name: str
    triangles: int
    volume_mm3: float


class PaintRecord(Frozen):
    """One coat in its turn: what, where, how much, and how long to wait before it.

    Attributes
    ----------
    why_here, why_wait : in words
    why_sprayed : why it is not printed in that colour; empty where it could be
    """

    turn: int
    step: str
    part: str
    region: str
    paint: str
    kind: str
    colour: str
    why_here: str
    why_sprayed: str
    area_cm2: float
    film_mm: float
    coats: int
    flash_min: float
    unmask_min: float
    recoat_min: float
    wait_min: float
    why_wait: str
    wet_ml: float
    overspray: float


class Record(Frozen):
    """One build, in the words of `report.json`: keys are added, never renamed."""

    report: Literal[1] = 1
    prep: str
    verdict: Verdict
    project: str
    revision: str
    recipe: RecipeRecord
    process: dict[str, Any]
    model: ModelRecord
    parts: dict[str, PartRecord]
    steps: tuple[StepRecord, ...] = ()
    items: tuple[Item, ...] = ()
    checks: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    accepted: tuple[AcceptedRecord, ...] = ()
    work: tuple[Work, ...] = ()
    voids: tuple[Void, ...] = ()
    films: tuple[Film, ...] = ()
    paint: tuple[PaintRecord, ...] = ()
    lamps: tuple[Lamp, ...] = ()
    windows: tuple[Window, ...] = ()
    bare: tuple[Bare, ...] = ()
    overrides: tuple[OverrideRecord, ...] = ()
    extra: tuple[FileRecord, ...] = ()
    pictures: tuple[PictureRecord, ...] = ()
    timing_s: dict[str, float] = Field(default_factory=dict)

    def to_json(self, *, timing: bool = True) -> str:
        """The bytes of `report.json`: keys in the order above, numbers rounded, one line feed at the end.

        Parameters
        ----------
        timing : bool
            False leaves out what differs between two builds of the same recipe: seconds, and what was reused.
        """
        data = self.model_dump(mode="python")
        if not timing:
            data.pop("timing_s")
            for step in data["steps"]:
                step.pop("seconds")
                step.pop("reused")
        return json.dumps(plain(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"

    @classmethod
    def from_json(cls, text: str) -> Record:
        """The record a `report.json` holds."""
        return cls.model_validate_json(text)


@dataclass(frozen=True)
class Built:
    """What a build hands to the report: the record, and the solids and views that pictures are made of.

    Attributes
    ----------
    before, after : by part name, as read and as finished
    extra : by file stem, pieces made beside the parts
    lifts : pieces that sit on a part and come off, named by file stem
    walls : by part name, a function that makes the finished part with corners dense enough to show its walls, and the
        wall thickness in mm at each of its vertices, (n,); NaN where there is none to measure
    glow : a function that works out what the lamps make glow; None where there are no lamps
    """

    record: Record
    before: Mapping[str, Solid]
    after: Mapping[str, Solid]
    extra: Mapping[str, Solid] = field(default_factory=dict)
    views: tuple[View, ...] = ()
    lifts: tuple[Lift, ...] = ()
    ledger: Ledger = field(default_factory=Ledger)
    walls: Mapping[str, Callable[[], tuple[Solid, Array]]] = field(default_factory=dict)
    glow: Callable[[], Glow] | None = None


def plain(value: object) -> object:
    """What JSON can hold: tuples and arrays as lists, floats rounded, what is not finite as null."""
    match value:
        case None | bool() | int() | str():
            held: object = value
        case float():
            held = rounded(value)
        case np.ndarray() | np.generic():
            held = plain(value.tolist())
        case Frozen():
            held = plain(value.model_dump(mode="python"))
        case Mapping():
            held = {str(key): plain(inner) for key, inner in value.items()}
        case list() | tuple():
            held = [plain(inner) for inner in value]
        case _:
            held = str(value)
    return held


def rounded(value: float) -> float | None:
    """A float with six digits after the point, or six significant ones below 1; None where it is not finite.

    Less than a billionth is the dust of addition and becomes 0.
    """
    if not math.isfinite(value):
        return None
    if abs(value) < DUST:
        return 0.0
    magnitude = math.floor(math.log10(abs(value)))
    return round(value, DECIMALS if magnitude >= 0 else DECIMALS - 1 - magnitude)
