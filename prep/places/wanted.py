"""How a recipe says where: the forms of a place, and of a pattern of places about one."""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from prep.units import Angle, Direction, Length, Point, Point2


class _Words(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Ray(_Words):
    """A ray through space: it finds the first surface it meets."""

    start: Point = Field(alias="from", description="where the ray starts")
    toward: Direction = Field(description="which way it goes")

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True)


class Ring(_Words):
    """Places evenly round a circle in the plane of the place."""

    count: int = Field(ge=2, le=64, description="how many")
    radius: Length = Field(description="of the circle")
    start: Angle = Field(0.0, description="angle of the first, from the place's own across direction")


class Row(_Words):
    """Places in a line, centred on the place."""

    count: int = Field(ge=2, le=64, description="how many")
    pitch: Length = Field(description="from one to the next")
    turn: Angle = Field(0.0, description="angle of the line, from the place's own across direction")


class Grid(_Words):
    """Places in rows and columns, centred on the place."""

    count: tuple[int, int] = Field(description="how many across and up, as [3, 2]")
    pitch: Length = Field(description="from one to the next, both ways")
    turn: Angle = Field(0.0, description="angle of the rows, from the place's own across direction")


class PlaceWanted(_Words):
    """Where on a part. One of `point`, `ray`, `facing` or `seam`; a pattern may stand beside it.

    A place is a surface point, the direction into the material and a roll about it. It never names a triangle, so it
    survives a revised mesh; what was found is reported with its coordinates.
    """

    point: Point | None = Field(None, description="a point in space; the nearest point of the surface is taken")
    ray: Ray | None = Field(None, description="the first surface a ray meets")
    facing: Direction | None = Field(None, description="the largest flat that faces so, at its middle")
    offset: Point2 | None = Field(None, description="with `facing`: a shift in the flat's own plane")
    near: Point | None = Field(None, description="with `facing`: take the flat nearest to this point instead")
    seam: tuple[str, str] | None = Field(None, description="two parts that mate")
    spread: int | None = Field(None, ge=1, le=64, description="with `seam`: how many, as far apart as can be")
    ring: Ring | None = Field(None, description="a circle of places about this one")
    row: Row | None = Field(None, description="a line of places about this one")
    grid: Grid | None = Field(None, description="rows and columns of places about this one")

    @model_validator(mode="after")
    def _one_form(self) -> PlaceWanted:
        forms = [word for word in ("point", "ray", "facing", "seam") if getattr(self, word) is not None]
        if len(forms) != 1:
            found = " and ".join(forms) or "none"
            raise ValueError(f"a place is exactly one of point, ray, facing, seam; found {found}")
        patterns = [word for word in ("ring", "row", "grid") if getattr(self, word) is not None]
        if len(patterns) > 1:
            raise ValueError(f"at most one pattern stands beside a place; found {' and '.join(patterns)}")
        if self.facing is None and (self.offset is not None or self.near is not None):
            raise ValueError("`offset` and `near` go with `facing`")
        if (self.seam is None) != (self.spread is None):
            raise ValueError("`seam` and `spread` go together")
        return self

    @property
    def has_pattern(self) -> bool:
        """Whether places are laid out about this one, which then need not lie on the surface itself."""
        return self.ring is not None or self.row is not None or self.grid is not None


def _as_list(value: object) -> object:
    return value if isinstance(value, list | tuple) else [value]


PlacesWanted = Annotated[tuple[PlaceWanted, ...], BeforeValidator(_as_list), Field(min_length=1)]
"""One place, or a list of them."""
