"""The ledger: what a model holds, shines, wears and asks of the hands, entry by entry, as steps hand it in."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict

from prep.places.place import Triple
from prep.places.region_wanted import RegionWanted

Why = Literal["magnet seat", "cell seat", "light window", "light pipe", "glue land", "sliding land", "label", "mouth"]
"""What would be spoilt by paint."""


class Frozen(BaseModel):
    """A model that cannot be changed after it is made and refuses unknown fields."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Item(Frozen):
    """A bought thing the model holds: magnet, LED, cell, ballast."""

    id: str
    item: str
    kind: Literal["magnet", "led", "cell", "ballast", "other"]
    step: str
    part: str
    at_mm: Triple
    axis: Triple
    mass_g: float
    mass_band_g: tuple[float, float] | None = None
    pole_out: Literal["N", "S"] | None = None
    ferrous: bool = False
    highest_c: float | None = None
    radius_mm: float = 0.0
    length_mm: float = 0.0
    pairs_with: str | None = None


class Void(Frozen):
    """Air that a step leaves in a part, and what it ends up full of."""

    step: str
    part: str
    at_mm: Triple
    volume_mm3: float
    state: Literal["open", "plugged", "sealed", "filled"]


class Film(Frozen):
    """A coat on a region of a part.

    Attributes
    ----------
    region : in words, as the recipe says it
    coat : name of a row of the `paints` table
    thickness_mm : of the dry film on one face
    area_mm2 : of the region; 0 where not measured
    touches : titles of other steps whose coats lie on this region or within a mask's land of it
    inside : lies on the faces of a lamp's chamber and the hollow round it, and not on the outer skin
    """

    step: str
    part: str
    region: str
    coat: str
    thickness_mm: float
    area_mm2: float = 0.0
    touches: tuple[str, ...] = ()
    inside: bool = False


class Coat(Frozen):
    """A coat that a step will put on, known from its settings alone, so that earlier steps can leave room for it.

    Attributes
    ----------
    paint : row of the `paints` table
    region : where; None for the part's whole outer skin
    covers : parts that close this one, so that its inside is known from its outside
    capped : whether mouths in it are kept bare by caps and plugs
    """

    step: str
    part: str
    paint: str
    region: RegionWanted | None = None
    covers: tuple[str, ...] = ()
    capped: bool = True


class Lamp(Frozen):
    """An LED as a source of light; the bought thing itself is an `Item` of the same id.

    Attributes
    ----------
    at_mm : middle of what shines, in the assembly's frame
    axis : unit direction of the strongest light
    half_angle_deg : off the axis to where the intensity is half of that on it
    intensity_cd : on the axis, at the current it is driven with
    window : id of the window it stands behind; empty for none
    """

    id: str
    step: str
    part: str
    led: str
    at_mm: Triple
    axis: Triple
    half_angle_deg: float
    intensity_cd: float
    colour: str = "white"
    window: str = ""


class Window(Frozen):
    """Where light is meant to show: a patch of the outside, as an outline in the plane square to `out`.

    Attributes
    ----------
    at_mm : its middle, on the outside
    out, across : unit directions, outward and along its first half size
    shape : "round" or "slot" (a rectangle with its corners rounded by `corner_mm`)
    half_mm : half sizes along `across` and along out x across; equal where round
    wall_mm : plastic between the cavity and the outside, along the skin's normal; 0 where a clear insert fills it
    transmits : share of light through that wall, 0 to 1
    depth_mm : how far along `out`, to either side of `at_mm`, the skin still belongs to the window
    """

    id: str
    step: str
    part: str
    at_mm: Triple
    out: Triple
    across: Triple
    shape: Literal["round", "slot"]
    half_mm: tuple[float, float]
    corner_mm: float = 0.0
    wall_mm: float
    transmits: float
    depth_mm: float


class Bare(Frozen):
    """A mouth or land that must stay bare in every colour; caps and plugs are made from these.

    Attributes
    ----------
    why : what would be spoilt
    at_mm, out, across : middle of the mouth on the outside, and unit directions outward and across
    shape : "round", "slot" (rounded rectangle) or "face" (a flat land that is covered, not plugged)
    half_mm : half sizes of the mouth along `across` and along out x across
    depth_mm : how deep it goes below the mouth; 0 for a land or a window
    clearance_mm : play per side that the fit was made with, before any film
    """

    id: str
    step: str
    part: str
    why: Why
    at_mm: Triple
    out: Triple
    across: Triple
    shape: Literal["round", "slot", "face"]
    half_mm: tuple[float, float]
    depth_mm: float = 0.0
    clearance_mm: float = 0.0


class Work(Frozen):
    """One task by hand or machine, and what must come before it."""

    id: str
    step: str
    verb: Literal[
        "print", "wash", "cap", "prime", "mask", "spray", "unmask", "clear", "uncap", "seat", "fill", "close", "weigh"
    ]
    says: str
    after: tuple[str, ...] = ()
    highest_c: float | None = None
    minutes: float | None = None


class Ledger(Frozen):
    """What no mesh knows by itself: everything handed in for the whole model, in the order the steps ran."""

    items: tuple[Item, ...] = ()
    films: tuple[Film, ...] = ()
    voids: tuple[Void, ...] = ()
    work: tuple[Work, ...] = ()
    lamps: tuple[Lamp, ...] = ()
    windows: tuple[Window, ...] = ()
    bare: tuple[Bare, ...] = ()

    def with_entries(self, other: Ledger) -> Ledger:
        """Join another ledger's entries on after this one's."""
        joined = {name: getattr(self, name) + getattr(other, name) for name in type(self).model_fields}
        return Ledger(**joined)
