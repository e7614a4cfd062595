"""One row of each table: a frozen record whose field names are the table's columns and carry the unit.

A field without a default is a column that every row must fill. Lengths and masses are never negative;
0 means "none" where the attribute says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from prep.errors import UnfinishedRow

Status = Literal["published", "common practice, no source", "unverified default", "from memory", "shop"]


@dataclass(frozen=True, kw_only=True)
class TableRow:
    """What every row of every table has.

    Attributes
    ----------
    name : the recipe's word for it
    source : where the figures come from
    status : how far they can be trusted; "shop" for figures of the shop's own table
    """

    name: str
    source: str
    status: Status

    def refuse_if_unfinished(self) -> None:
        """Raise where the row ships without a figure that only the shop can know."""


@dataclass(frozen=True, kw_only=True)
class GradeRow(TableRow):
    """A grade of sintered NdFeB.

    Attributes
    ----------
    remanence_low_t, remanence_high_t : range over the makers' tables compared
    highest_c : working temperature of the grade without suffix
    """

    remanence_low_t: float
    remanence_high_t: float
    highest_c: float
    density_g_cm3: float = 7.5


@dataclass(frozen=True, kw_only=True)
class MagnetRow(TableRow):
    """A disc or block magnet, magnetised through its thickness.

    Attributes
    ----------
    diameter_mm : of a disc; 0 for a block
    width_mm, length_mm : of a block; 0 for a disc
    thickness_mm : along the magnetised direction
    remanence_t, remanence_low_t, remanence_high_t : middle and range of the grade
    mass_g : from the size and the grade's density unless the row says otherwise
    size_tolerance_mm : plus or minus, on every dimension
    stocked : whether `hold` may choose it
    """

    shape: Literal["disc", "block"]
    diameter_mm: float = 0.0
    width_mm: float = 0.0
    length_mm: float = 0.0
    thickness_mm: float
    grade: str
    remanence_t: float
    remanence_low_t: float
    remanence_high_t: float
    highest_c: float
    mass_g: float
    size_tolerance_mm: float = 0.1
    stocked: bool = False


@dataclass(frozen=True, kw_only=True)
class MaterialRow(TableRow):
    """What a part is printed in.

    Attributes
    ----------
    density_g_cm3, density_low, density_high : of the solid material, and its range, g/cm3
    softens_c : temperature at which a part begins to lose its shape
    index : refractive index of a clear material; 0 for one that is not clear
    absorption_per_mm : share of the light lost in each mm of a clear material
    """

    density_g_cm3: float
    density_low: float
    density_high: float
    softens_c: float
    index: float = 0.0
    absorption_per_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class TransmissionRow(TableRow):
    """One reading of a step wedge: how much light one thickness of a printed material passes.

    Attributes
    ----------
    material : row of the `materials` table, or a name of the shop's own, such as a colour
    thickness_mm : of the step
    share : light behind the step over light at the open window, dark reading taken off both, 0 to 1
    """

    material: str
    thickness_mm: float
    share: float


@dataclass(frozen=True, kw_only=True)
class ProcessRow(TableRow):
    """A way of printing, with what it can and cannot make.

    Attributes
    ----------
    category : in the words of ISO/ASTM 52900
    layer_mm : layer height
    bead_mm : width of one extruded bead; 0 where there is none
    wall_limit_mm : thinnest wall held on both sides
    web_limit_mm : thinnest wall between two features
    gap_limit_mm : narrowest gap that stays open
    hole_limit_mm, feature_limit_mm, pin_limit_mm : smallest hole, detail and free-standing pin, across
    escape_mm : smallest opening that lets support, powder or resin out
    void_holds, void_density_g_cm3 : what a sealed void is full of
    glue_fit_mm : clearance per side of a glued seat
    press_mm : interference on the diameter of a pressed seat
    rib_mm : interference on the diameter over the tips of crush ribs
    glue_line_mm : glue under a magnet, along its axis
    lead_in_mm : chamfer at a seat's mouth, on the radius
    vent_mm : diameter of the air hole of a glued blind seat
    slide_fit_mm : clearance per side of faces that slide
    bed_x_mm, bed_y_mm, bed_z_mm : room to print in
    solid : printed full; then walls, skins and infill say nothing
    walls : beads side by side in the printed wall
    skins : full layers at each top and bottom
    infill : share of the core that is filled, 0 to 1
    tolerance_mm : plus or minus, on a printed dimension
    """

    category: Literal["material extrusion", "material jetting", "vat photopolymerization", "powder bed fusion"]
    layer_mm: float
    bead_mm: float
    wall_limit_mm: float
    web_limit_mm: float
    gap_limit_mm: float
    hole_limit_mm: float
    feature_limit_mm: float
    pin_limit_mm: float
    escape_mm: float
    void_holds: Literal["air", "support", "powder", "resin"]
    void_density_g_cm3: float
    glue_fit_mm: float
    press_mm: float
    rib_mm: float
    glue_line_mm: float
    lead_in_mm: float
    vent_mm: float
    slide_fit_mm: float
    bed_x_mm: float
    bed_y_mm: float
    bed_z_mm: float
    solid: bool
    walls: int
    skins: int
    infill: float
    tolerance_mm: float


@dataclass(frozen=True, kw_only=True)
class BallastRow(TableRow):
    """Something heavy to put in a pocket.

    Attributes
    ----------
    kind : what it is handled as
    density_g_cm3 : of the solid; for pieces their mass over the cylinder around them. 0: only the shop can know
    packing, packing_low, packing_high : share of the pocket that is solid; 1 for pieces and putty
    diameter_mm, thickness_mm, hole_mm : of one piece or bead; 0 where there is none
    mass_g : of one piece; 0 for shot and putty
    ferrous : pulled by magnets
    toxic : not for open pockets in a part that is handled
    caution : what the person filling the pocket must know
    """

    kind: Literal["shot", "slug", "washer", "coin", "putty"]
    density_g_cm3: float
    packing: float = 1.0
    packing_low: float = 1.0
    packing_high: float = 1.0
    diameter_mm: float = 0.0
    thickness_mm: float = 0.0
    hole_mm: float = 0.0
    mass_g: float = 0.0
    ferrous: bool
    toxic: bool
    caution: str = ""
    stocked: bool = False

    def refuse_if_unfinished(self) -> None:
        """Raise where the density is the maker's secret and the shop has not given it."""
        if self.density_g_cm3 <= 0.0:
            raise UnfinishedRow(
                f"{self.name} has no density here: makers differ too much for a default",
                found=f"no density_g_cm3 in row `{self.name}` of the ballast table",
                fix="weigh some in water and put name and density_g_cm3 in shop/ballast.csv",
            )


@dataclass(frozen=True, kw_only=True)
class LedRow(TableRow):
    """A lamp to build in.

    Attributes
    ----------
    shape : "round" lamps have a domed body with a flange, "chip" lamps are flat, a "strip" is one section as it can be
        cut, a "module" brings its own circuit
    diameter_mm, flange_mm : of the body and of the flange of a round lamp; 0 for a chip or a strip
    flange_height_mm, flat_mm : of the flange along the axis, and from the axis to its keyed flat, which is on the
        side of the minus lead
    width_mm, length_mm : of a chip or a strip; 0 for a round lamp
    height_mm : without leads
    pitch_mm : between the leads of a round lamp, between the lamps of a strip; 0 for a chip
    leads, lead_mm, resin_mm : how many, the side of one, and how far the body's resin may climb them
    lamps : points of light in the row's piece
    size_tolerance_mm : plus or minus
    forward_low_v, forward_v, forward_high_v : at the usual current; of a strip or a module the volts it is fed with
    current_ma, current_max_ma : usual and absolute
    slope_ohm : by which the forward voltage rises with the current, beside the diode's own law
    half_angle_deg : from the axis to where the intensity has fallen to half
    intensity_cd : along the axis, at the usual current
    mass_g : with leads
    caution : what the person who builds it in must know
    """

    shape: Literal["round", "chip", "strip", "module"]
    colour: str
    diameter_mm: float = 0.0
    flange_mm: float = 0.0
    flange_height_mm: float = 0.0
    flat_mm: float = 0.0
    width_mm: float = 0.0
    length_mm: float = 0.0
    height_mm: float
    pitch_mm: float = 0.0
    leads: int = 2
    lead_mm: float = 0.0
    resin_mm: float = 0.0
    lamps: int = 1
    size_tolerance_mm: float
    forward_low_v: float
    forward_v: float
    forward_high_v: float
    current_ma: float
    current_max_ma: float
    slope_ohm: float = 0.0
    half_angle_deg: float = 60.0
    intensity_cd: float = 0.0
    mass_g: float
    caution: str = ""

    def refuse_if_unfinished(self) -> None:
        """Raise where the size is the maker's choice and the shop has not given it."""
        if self.height_mm <= 0.0 or max(self.diameter_mm, self.width_mm) <= 0.0:
            raise UnfinishedRow(
                f"{self.name} has no size here: makers differ too much for a default",
                found=f"no height_mm or no diameter_mm in row `{self.name}` of the leds table",
                fix="measure yours and put name, diameter_mm, height_mm and mass_g in shop/leds.csv",
            )


@dataclass(frozen=True, kw_only=True)
class CellRow(TableRow):
    """A primary cell; a seat is sized for the largest one allowed.

    Attributes
    ----------
    code : designation in IEC 60086
    diameter_mm, height_mm : largest allowed
    diameter_min_mm, height_min_mm : smallest allowed; 0 where not known
    internal_ohm : resistance of a fresh cell; 0 where not known
    ferrous : pulled by magnets, as cans of plated or stainless steel are
    caution : what the person who builds it in must know
    """

    code: str
    chemistry: str
    diameter_mm: float
    diameter_min_mm: float = 0.0
    height_mm: float
    height_min_mm: float = 0.0
    nominal_v: float
    capacity_mah: float
    internal_ohm: float = 0.0
    mass_g: float
    ferrous: bool = True
    caution: str = ""


@dataclass(frozen=True, kw_only=True)
class PaintRow(TableRow):
    """A coat.

    Attributes
    ----------
    kind : place in the order of coats
    colour : #rrggbb; empty for clear
    film_mm, film_low_mm, film_high_mm : dry thickness on one face, all its coats together
    density_g_cm3 : of the dry film
    coats : passes that build the film, with `flash_min` between them
    flash_min, unmask_min, recoat_min : minutes between coats, until a mask may come off, and until another paint or a
        mask may lie on it
    solids : share by volume of the wet paint that stays
    overspray : share of the paint sprayed that misses the part
    special : why it is sprayed and not printed; empty where a print of that colour would do
    caution : what the person who sprays it must know
    """

    kind: Literal["primer", "colour", "clear"]
    colour: str = ""
    film_mm: float
    film_low_mm: float
    film_high_mm: float
    density_g_cm3: float
    coats: int
    flash_min: float
    unmask_min: float
    recoat_min: float
    solids: float
    overspray: float
    special: str = ""
    caution: str = ""


@dataclass(frozen=True, kw_only=True)
class AdhesiveRow(TableRow):
    """A glue.

    Attributes
    ----------
    gap_mm, gap_max_mm : gap it likes best, and widest it bridges
    highest_c : above which the bond is lost
    cure_min : minutes until it can be handled
    density_g_cm3 : cured
    holds_magnets : fit to hold a magnet
    beside_lead : does not attack lead
    """

    gap_mm: float
    gap_max_mm: float
    highest_c: float
    cure_min: float
    density_g_cm3: float
    holds_magnets: bool
    beside_lead: bool
    caution: str = ""
