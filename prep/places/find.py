"""`find_places`: from the words of a recipe to places on a solid."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from prep.errors import NoSuchPlace
from prep.geometry.distance import Nearest
from prep.geometry.flats import find_flats
from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Solid
from prep.places.place import Place
from prep.places.wanted import PlaceWanted

DROP_MM = 10.0
"""How far above and below a place's plane a pattern's places look for the skin."""


def find_places(solid: Solid, wanted: Sequence[PlaceWanted]) -> list[Place]:
    """Every place asked for on one solid, patterns laid out, in the order written.

    Raises
    ------
    NoSuchPlace
        A ray that misses, a direction no flat faces, a pattern that runs off the part, or a seam where one part was
        asked.
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
        normal = scene.normals[hit.triangle[0]]
        inward = -normal if normal @ toward < 0 else normal
        return Place.of(start + toward * hit.distance_mm[0], inward)
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
    if wanted.near is not None:
        near = np.array(wanted.near)
        flat = min(flats, key=lambda one: float(np.linalg.norm(one.centre_mm - near)))
    place = Place.of(flat.centre_mm, -flat.normal, _across(flat.normal))
    if wanted.offset is not None:
        place = Place.of(_shifted(place, np.array([wanted.offset]))[0], -flat.normal, _across(flat.normal))
    return place


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
    inward = np.array(place.inward)
    hit = scene.cast((spot - DROP_MM * inward)[None], inward[None])
    if not hit.distance_mm[0] <= 2.0 * DROP_MM:
        raise NoSuchPlace(
            "a place of the pattern lies off the part",
            found=f"no skin within {DROP_MM:g} mm of {_say(spot)}",
            fix="make the pattern smaller, or move the place it is laid about",
        )
    normal = scene.normals[hit.triangle[0]]
    return Place.of(spot + (hit.distance_mm[0] - DROP_MM) * inward, -normal, np.array(place.roll))


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
