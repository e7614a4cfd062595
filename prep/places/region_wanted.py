"""How a recipe says which part of a skin: the forms of a region, and how they are joined."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Self

from pydantic import BaseModel, ConfigDict, Field, StringConstraints, model_validator

from prep.places.wanted import PlaceWanted
from prep.units import Angle, Direction, Fraction, Level, Point, show_deg, show_mm, show_point, write_direction

FORMS = ("facing", "between", "box", "patch", "colour", "solid", "any", "all", "not")
WITH = {"within": "facing", "crease": "patch", "tolerance": "colour"}
"""Settings that go with one form each."""

WITHIN_DEG = 30.0
CREASE_DEG = 30.0
OFF_COLOUR = 0.02

Colour = Annotated[str, StringConstraints(pattern=r"^#[0-9a-fA-F]{6}$", to_lower=True)]


class RegionWanted(BaseModel):
    """Which part of a skin. One of `facing`, `between`, `box`, `patch`, `colour` or `solid`, or several joined.

    A region never names a triangle, so it survives a revised mesh. It speaks of skin that is seen from outside: the
    walls of sealed voids and of deep hollows are left out.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)

    facing: Direction | None = Field(None, description="skin that faces so; its edge follows the curve of the skin")
    within: Angle | None = Field(
        None, gt=0, le=180, description="with `facing`: how far it may turn away; default: 30 deg"
    )
    between: tuple[Level, Level] | None = Field(
        None, description="skin between two levels along one axis", examples=["[z 10 mm, z 20 mm]"]
    )
    box: tuple[Point, Point] | None = Field(
        None, description="skin inside a box, by two opposite corners", examples=['["0, 0, 0 mm", "10, 5, 20 mm"]']
    )
    patch: PlaceWanted | None = Field(None, description="the smooth skin around a place, up to its creases")
    crease: Angle | None = Field(
        None, gt=0, lt=180, description="with `patch`: the turn at which an edge ends it; default: 30 deg"
    )
    colour: Colour | None = Field(None, description="skin of this colour in the part's file", examples=["#ff8800"])
    tolerance: Fraction | None = Field(
        None, ge=0, le=1, description="with `colour`: how far off it may be, black to white being 100 %; default: 2 %"
    )
    solid: str | None = Field(
        None, min_length=1, description="skin inside another exported body, relative to the recipe"
    )
    any_of: tuple[RegionWanted, ...] | None = Field(
        None, alias="any", min_length=1, description="skin in at least one of these regions"
    )
    all_of: tuple[RegionWanted, ...] | None = Field(
        None, alias="all", min_length=1, description="skin in every one of these regions"
    )
    none_of: RegionWanted | None = Field(None, alias="not", description="skin outside this region")

    @model_validator(mode="after")
    def _one_form(self) -> Self:
        found = [word for word in FORMS if self._held(word) is not None]
        if len(found) != 1:
            raise ValueError(f"a region is exactly one of {', '.join(FORMS)}; found {' and '.join(found) or 'none'}")
        for word, form in WITH.items():
            if getattr(self, word) is not None and found != [form]:
                raise ValueError(f"`{word}` goes with `{form}`")
        if self.between is not None:
            low, high = self.between
            if low.axis != high.axis or low.at_mm == high.at_mm:
                raise ValueError("`between` is two different levels along one axis, such as [z 10 mm, z 20 mm]")
        if self.box is not None and any(a == b for a, b in zip(*self.box, strict=True)):
            raise ValueError("the two corners of `box` differ along x, y and z")
        if self.patch is not None and self.patch.seam is not None:
            raise ValueError("`patch` grows around a place on one part, not on a seam")
        return self

    @property
    def form(self) -> str:
        """The word of the form it has."""
        return next(word for word in FORMS if self._held(word) is not None)

    @property
    def joined(self) -> tuple[RegionWanted, ...]:
        """The regions it joins; none where it is a form of its own."""
        return self.any_of or self.all_of or ((self.none_of,) if self.none_of is not None else ())

    def leaves(self) -> Iterator[RegionWanted]:
        """The forms of its own that it is joined of, in the order written."""
        if not self.joined:
            yield self
        for one in self.joined:
            yield from one.leaves()

    def bodies(self) -> tuple[str, ...]:
        """Paths of the exported bodies it names, each once."""
        return tuple(dict.fromkeys(leaf.solid for leaf in self.leaves() if leaf.solid is not None))

    def says(self) -> str:
        """The region in words."""
        if self.joined and self.none_of is None:
            return (" or " if self.any_of else " and ").join(f"({one.says()})" for one in self.joined)
        if self.facing is not None:
            words = f"facing {write_direction(self.facing)} within {show_deg(self.within or WITHIN_DEG)}"
        elif self.between is not None:
            low, high = sorted(self.between, key=lambda level: level.at_mm)
            words = f"between {low.axis} {show_mm(low.at_mm)} and {show_mm(high.at_mm)}"
        elif self.box is not None:
            words = f"in the box from {show_point(self.box[0])} to {show_point(self.box[1])}"
        elif self.none_of is not None:
            words = f"not ({self.none_of.says()})"
        else:
            words = "the smooth patch around a place" if self.patch is not None else ""
            words = f"of colour {self.colour}" if self.colour is not None else words
            words = f"inside {self.solid}" if self.solid is not None else words
        return words

    def _held(self, word: str) -> object:
        return getattr(self, {"any": "any_of", "all": "all_of", "not": "none_of"}.get(word, word))
