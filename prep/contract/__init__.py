"""Floor 4. What steps and checks share: `Step`, `Check`, `Outcome`, `Finding`, `Ledger`, `Bench`.

What lives here: the frozen models a step is given and hands back, the ledger's beside them; no geometry of its own.
What may be imported: errors, units, tables, geometry, physics, places; pydantic.
What must not come in: any one step or check, the recipe file, the disk.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, ClassVar, Literal

import numpy as np
from pydantic import Field

from prep.contract.ledger import Bare, Coat, Film, Frozen, Item, Lamp, Ledger, Void, Window, Work
from prep.geometry.solid import Solid
from prep.geometry.spot_origin import already_in
from prep.geometry.thin_spots import ThinSpot
from prep.physics.balance import Lump, balance
from prep.physics.part_mass import part_factor, part_mass
from prep.places.beside import beside
from prep.places.place import Place, Triple, triple
from prep.tables import MaterialRow, ProcessRow, Tables

__all__ = [
    "TITLE",
    "Bare",
    "Bench",
    "Check",
    "Coat",
    "Film",
    "Finding",
    "Frozen",
    "Item",
    "Lamp",
    "Ledger",
    "Lift",
    "Outcome",
    "Part",
    "PlacedIn",
    "Prediction",
    "Step",
    "Verdict",
    "View",
    "Void",
    "Window",
    "Work",
    "before_weighing",
    "handful",
    "makers",
    "weigh",
    "weigh_part",
    "worst",
]

Verdict = Literal["pass", "warn", "fail"]

TITLE = r"^[^/\\\x00-\x1f]{1,60}$"
"""A step's name: up to 60 letters, none of which could lead out of a folder."""

# --- what a step predicts and says -------------------------------------------------------------


class Prediction(Frozen):
    """What a step says it will do to one part, found without the solid kernel; `build` holds it to that.

    Attributes
    ----------
    volume_mm3 : change of volume, negative for a cut
    volume_tolerance_mm3 : how far off the prediction may be
    grows : whether the bounds may grow
    """

    part: str
    shells: int = 0
    genus: int = 0
    sealed_voids: int = 0
    volume_mm3: float
    volume_tolerance_mm3: float
    grows: bool = False


class Finding(Frozen):
    """One thing a check or step found: a verdict with place, number, limit and action."""

    check: str
    part: str | None
    verdict: Verdict
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    at_mm: Triple | None = None
    says: str
    fix: str = ""
    made_by: str = ""
    """The step that made it, or "input"; empty where neither applies."""


class View(Frozen):
    """A true section worth a picture: the plane through `at_mm` with this normal."""

    title: str
    part: str
    with_parts: tuple[str, ...] = ()
    at_mm: Triple
    normal: Triple
    span_mm: float


class Lift(Frozen):
    """Pieces that sit on a part while it is painted, and how each comes off; worth a picture.

    Attributes
    ----------
    pieces : names as in `Outcome.extra`
    toward : unit direction in which each is lifted
    path_mm : how far each goes until it is free
    """

    part: str
    pieces: tuple[str, ...]
    toward: tuple[Triple, ...]
    path_mm: tuple[float, ...]


class PlacedIn(Frozen):
    """A place found, and the part and feature it is for."""

    part: str
    feature: str
    place: Place


@dataclass(frozen=True)
class Outcome:
    """What a step hands back: solids, what it predicted of them, and what it says to the ledger."""

    solids: Mapping[str, Solid]
    predictions: tuple[Prediction, ...]
    extra: Mapping[str, Solid] = field(default_factory=dict)
    ledger: Ledger = field(default_factory=Ledger)
    facts: Mapping[str, Any] = field(default_factory=dict)
    places: tuple[PlacedIn, ...] = ()
    findings: tuple[Finding, ...] = ()
    cautions: tuple[str, ...] = ()
    views: tuple[View, ...] = ()
    lifts: tuple[Lift, ...] = ()


# --- what a step is given ----------------------------------------------------------------------


@dataclass(frozen=True)
class Part:
    """One part as it stands on the bench.

    Attributes
    ----------
    solid : as it is now
    original : as it was read, before any step
    up : build direction, (3,) unit
    colours : of every triangle of `original`, "#rrggbb" or "" where it has none; None where the file has no colours
    weighed_g : the bare print of `original` on the scale, if it was weighed
    """

    name: str
    solid: Solid
    original: Solid
    material: MaterialRow
    up: Triple = (0.0, 0.0, 1.0)
    weighed_g: float | None = None
    colours: tuple[str, ...] | None = None


@dataclass(frozen=True)
class Bench:
    """Everything a step or a check may look at; it is never changed in place.

    Attributes
    ----------
    bodies : meshes that steps name in their settings, by the path written there, in the assembly's frame
    ahead : coats that any step of the recipe will put on
    fine : whether checks measure at half their usual spacing, at four times the cost
    """

    parts: Mapping[str, Part]
    ledger: Ledger
    process: ProcessRow
    tables: Tables
    wall_limit_mm: float
    step_name: str = ""
    bodies: Mapping[str, Solid] = field(default_factory=dict)
    ahead: tuple[Coat, ...] = ()
    fine: bool = False
    tell: Callable[[str, float], None] = field(default=lambda *_: None)

    def after(self, outcome: Outcome) -> Bench:
        """The bench once an outcome's solids and ledger entries are on it."""
        parts = dict(self.parts)
        for name, solid in outcome.solids.items():
            parts[name] = replace(parts[name], solid=solid)
        return replace(self, parts=parts, ledger=self.ledger.with_entries(outcome.ledger))


# --- the two kinds ------------------------------------------------------------------------------


class Step(Frozen, ABC):
    """One finishing step: settings and `apply`. The docstring of a subclass is its page's first paragraph.

    A subclass declares ``step: Literal["<word>"]`` where the word is also its file's name.
    """

    whole_model: ClassVar[bool] = False
    """Whether it weighs or otherwise reads parts it does not change, so that it waits for all before it."""

    name: str | None = Field(
        None, pattern=TITLE, description="how reports call this step; default: the step's own word"
    )

    @classmethod
    def word(cls) -> str:
        """The word that names the step in a recipe."""
        return str(cls.model_fields["step"].annotation.__args__[0])  # type: ignore[union-attr]

    @property
    def title(self) -> str:
        """How reports call it."""
        return self.name or self.word().replace("_", " ")

    @abstractmethod
    def changes(self) -> tuple[str, ...]:
        """Names of the parts it may change."""

    def reads(self) -> tuple[str, ...]:
        """Names of the parts it looks at without changing them."""
        return ()

    def coats(self) -> tuple[Coat, ...]:
        """Return the coats it will put on, as far as its settings tell."""
        return ()

    def bodies(self) -> tuple[str, ...]:
        """Paths, as written in its settings, of further meshes it looks at; `build` reads them onto the bench."""
        return ()

    @abstractmethod
    def apply(self, bench: Bench) -> Outcome:
        """New solids for the parts it changes, with predictions; the bench is left alone."""


class Check(Frozen, ABC):
    """One check: settings and `examine`. The docstring of a subclass is its page's first paragraph."""

    fails_input: ClassVar[bool] = False
    """Whether what it warns of in a mesh as it came is a failure where that mesh itself is judged (`prep check`)."""

    @classmethod
    @abstractmethod
    def word(cls) -> str:
        """The word that names the check in recipes and reports; also its file's name."""

    @abstractmethod
    def examine(self, bench: Bench) -> tuple[Finding, ...]:
        """What it finds on the bench; at least one finding for every part it looked at, passes included."""


def weigh_part(bench: Bench, name: str) -> Lump:
    """What one part weighs as printed, items not counted; the band is that of its material unless it was weighed."""
    part = bench.parts[name]
    factor = part_factor(part.original, part.material, bench.process, part.up, part.weighed_g)
    printed = part_mass(part.solid, part.material, bench.process, part.up, factor)
    density = part.material.density_g_cm3
    low, high = part.material.density_low / density, part.material.density_high / density
    if part.weighed_g is not None:
        low = high = 1.0
    return Lump(printed.mass_g, printed.mass_g * low, printed.mass_g * high, printed.centre_mm)


def weigh(bench: Bench, only: str | None = None) -> Lump:
    """Mass, band and balance point of the whole model, or of one part with what it holds; read off the ledger."""
    lumps = [weigh_part(bench, name) for name in bench.parts if only in {None, name}]
    for item in bench.ledger.items:
        if only in {None, item.part}:
            low, high = item.mass_band_g or (item.mass_g, item.mass_g)
            lumps.append(Lump(item.mass_g, low, high, np.array(item.at_mm)))
    return balance(lumps)


def before_weighing(bench: Bench, only: str | None = None) -> tuple[str, ...]:
    """The tasks that put on the scale what `weigh` counts: prints, then what is seated, filled and closed by now."""
    prints = [f"print {name}" for name in bench.parts if only in {None, name}]
    steps = {item.step for item in bench.ledger.items if only in {None, item.part}}
    others = tuple(f" {name}:" for name in bench.parts if only not in {None, name})
    put = [
        task.id
        for task in bench.ledger.work
        if task.verb in {"seat", "fill", "close"} and task.step in steps and not any(o in task.id for o in others)
    ]
    return (*prints, *put)


def worst(findings: tuple[Finding, ...]) -> Verdict:
    """The worst verdict among findings; "pass" for none."""
    order: tuple[Verdict, ...] = ("pass", "warn", "fail")
    return order[max((order.index(finding.verdict) for finding in findings), default=0)]


def makers(bench: Bench, part: Part, spots: Sequence[ThinSpot], near_mm: float) -> tuple[str, ...]:
    """Who made each spot: "input" where both its skins are the original's, else the step whose work is beside it.

    Parameters
    ----------
    near_mm : how far beyond an item or void of a step its work reaches; where none reaches, "a step"
    """
    if part.solid is part.original:
        return ("input",) * len(spots)
    items = [
        (i.step, i.at_mm, i.radius_mm + i.length_mm + near_mm)
        for i in bench.ledger.items
        if i.part == part.name and i.step != "carried"
    ]
    voids = [(v.step, v.at_mm, v.volume_mm3 ** (1 / 3) + near_mm) for v in bench.ledger.voids if v.part == part.name]
    return tuple(
        "input" if before else beside(triple(spot.at_mm), (*items, *voids)) or "a step"
        for spot, before in zip(spots, already_in(part.original, spots), strict=True)
    )


def handful(findings: Sequence[Finding], most: int) -> list[Finding]:
    """The first few findings; the last of them says how many more there are like it."""
    kept = list(findings[:most])
    if len(findings) > most:
        says = f"{kept[-1].says}; and {len(findings) - most} more like it"
        kept[-1] = kept[-1].model_copy(update={"says": says})
    return kept
