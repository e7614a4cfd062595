"""`find_places`: from the words of a recipe to places on a solid."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from prep.errors import NoSuchPlace
from prep.geometry.distance import Nearest
from prep.geometry.flats import Flat, find_flats
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid
from prep.places.place import Place
from prep.places.wanted import PlaceWanted

DROP_MM = 10.0
"""How far above and below a place's plane a pattern's places look for the skin."""

ON_FLAT_MM = 0.02
FACET_SHARE = 1e-3
"""A flat under this share of the part's outline may be one facet of a curved skin."""
STEP_PAST_MM = 1e-3


def find_places(solid: Solid, wanted: Sequence[PlaceWanted]) -> list[Place]:
    """Every place asked for on one solid, patterns laid out, in the order written.

    Raises
    ------
    NoSuchPlace
        A ray that misses, a direction no flat faces, a flat whose middle is a hole, a pattern that runs off the part,
        or a seam where one part was asked.
    """
    scene = RayScene([solid])
    places = []
    for one in wanted:
        place = _find(solid, scene, one)
        places += _pattern(scene, place, one)
    return places


def _find(solid: Solid, scene: RayScene, wanted: PlaceWanted) -> Place:
    if wanted.point is not None:
        return _at_point(solid, np.array(wanted.point))
    if wanted.ray is not None:
        start, toward = np.array(wanted.ray.start), np.array(wanted.ray.toward)
        hit = scene.cast(start[None], toward[None])
        if hit.triangle[0] < 0:
            raise NoSuchPlace(
                "the ray meets nothing",
                found=f"from {_say(start)} toward {_say(toward, '')} no surface is met; the part spans "
                f"{_say(solid.bounds_mm[0])} to {_say(solid.bounds_mm[1])}",
                fix="move `from`, or turn `toward`, so that the ray runs into the part",
            )
        return Place.of(start + toward * hit.distance_mm[0], -scene.normals[hit.triangle[0]])
    if wanted.facing is not None:
        return _facing(solid, wanted)
    raise NoSuchPlace(
        "a place on a seam needs two parts",
        found="`seam:` in a step on one part",
        fix="use `between: [first, second]`, or give a `point:`, `ray:` or `facing:` on the part",
    )


def _at_point(solid: Solid, point: Array) -> Place:
    found = Nearest.of(solid).query(point[None])
    return Place.of(found.point[0], -solid.triangle_normals[found.triangle[0]])


def _facing(solid: Solid, wanted: PlaceWanted) -> Place:
    toward = np.array(wanted.facing)
    flats = find_flats(solid, toward)
    if not flats:
        raise NoSuchPlace(
            "no flat faces that way",
            found=f"no flat within 20 deg of {_say(toward, '')}",
            fix="give a `point:` or a `ray:` instead; a curved skin has no flat",
        )
    flat = flats[0]
    if wanted.near is None and flat.area_mm2 < FACET_SHARE * _outline_mm2(solid, toward):
        raise NoSuchPlace(
            "no flat faces that way, only facets of a curved skin",
            found=f"the largest is {flat.area_mm2:.2f} mm2, at {_say(flat.centre_mm)}",
            fix="give a `point:` or a `ray:` instead, or say which flat with `near:`",
        )
    if wanted.near is not None:
        near = np.array(wanted.near)
        flat = min(flats, key=lambda one: _off(solid, one, near))
    place = Place.of(flat.centre_mm, -flat.normal, _across(flat.normal))
    if wanted.offset is not None:
        place = Place.of(_shifted(place, np.array([wanted.offset]))[0], -flat.normal, _across(flat.normal))
    off = _off(solid, flat, np.array(place.at_mm))
    if off > ON_FLAT_MM and not wanted.has_pattern:
        raise NoSuchPlace(
            "the place lies beside its flat" if wanted.offset else "the middle of the flat is not on it",
            found=f"{_say(np.array(place.at_mm))} is {off:.2f} mm off the flat of {flat.area_mm2:.1f} mm2",
            fix="give an `offset:` that stays on the flat" + ("" if wanted.offset else ", such as beside its hole"),
        )
    return place


def _outline_mm2(solid: Solid, toward: Array) -> float:
    """Area of the part's bounds as seen along a direction."""
    x, y, z = solid.extents_mm
    return float(np.abs(toward) @ np.array([y * z, x * z, x * y]))


def _off(solid: Solid, flat: Flat, point: Array) -> float:
    """Distance from a point to a flat, mm."""
    return float(Nearest(solid.vertices, solid.triangles[flat.triangles]).query(point[None]).distance_mm[0])


def _pattern(scene: RayScene, place: Place, wanted: PlaceWanted) -> list[Place]:
    offsets: Array
    if wanted.ring is not None:
        angle = math.radians(wanted.ring.start) + np.arange(wanted.ring.count) * 2.0 * math.pi / wanted.ring.count
        offsets = wanted.ring.radius * np.stack([np.cos(angle), np.sin(angle)], axis=1)
    elif wanted.row is not None:
        steps = (np.arange(wanted.row.count) - (wanted.row.count - 1) / 2.0) * wanted.row.pitch
        offsets = np.stack([steps, np.zeros_like(steps)], axis=1) @ _turned(wanted.row.turn)
    elif wanted.grid is not None:
        u, v = ((np.arange(n) - (n - 1) / 2.0) * wanted.grid.pitch for n in wanted.grid.count)
        grid = np.stack(np.meshgrid(u, v, indexing="xy"), axis=-1).reshape(-1, 2)
        offsets = grid @ _turned(wanted.grid.turn)
    else:
        return [place]
    return [_onto_skin(scene, place, spot) for spot in _shifted(place, offsets)]


def _onto_skin(scene: RayScene, place: Place, spot: Array) -> Place:
    """The skin nearest to a spot of the pattern's plane, of those that look the same way."""
    inward = np.array(place.inward)
    found: list[tuple[float, Array]] = []
    travelled = -DROP_MM
    while True:
        hit = scene.cast((spot + travelled * inward)[None], inward[None])
        travelled += float(hit.distance_mm[0])
        if travelled > DROP_MM:
            break
        normal = scene.normals[hit.triangle[0]]
        if normal @ inward < 0.0:
            found.append((travelled, normal))
        travelled += STEP_PAST_MM
    if not found:
        raise NoSuchPlace(
            "a place of the pattern lies off the part",
            found=f"no skin within {DROP_MM:g} mm of {_say(spot)}",
            fix="make the pattern smaller, or move the place it is laid about",
        )
    depth, normal = min(found, key=lambda one: abs(one[0]))
    return Place.of(spot + depth * inward, -normal, np.array(place.roll))


def _shifted(place: Place, offsets: Array) -> Array:
    frame = place.frame
    return np.asarray(np.array(place.at_mm) + offsets[:, :1] * frame[:3, 0] + offsets[:, 1:] * frame[:3, 1])


def _turned(degrees: float) -> Array:
    cosine, sine = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.array([[cosine, sine], [-sine, cosine]])


def _across(normal: Array) -> Array:
    """First direction in a flat's plane: level, along x where it can be."""
    return np.array([1.0, 0.0, 0.0]) if abs(normal[0]) < 0.9 else np.array([0.0, 1.0, 0.0])


def _say(values: Array, unit: str = " mm") -> str:
    return "(" + ", ".join(f"{value:.2f}" for value in values) + f"){unit}"
