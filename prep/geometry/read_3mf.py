"""`read_3mf`: the bodies a 3MF file builds, placed and coloured."""

from __future__ import annotations

import difflib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import lib3mf
import numpy as np
from numpy.typing import NDArray

from prep.errors import EmptyFile, FileMalformed, FileTooLarge, NoSuchObject
from prep.geometry.lib3mf_arrays import Lib3mfError, model_of, properties_of, triangles_of, vertices_of
from prep.geometry.model_text import prove_text
from prep.geometry.package import open_package, unpack
from prep.geometry.placements import Placements
from prep.geometry.raw_mesh import Colours, Parsed
from prep.geometry.solid import Array

MOST_TRIANGLES = 30_000_000
"""Triangles of all bodies placed; a body placed many times counts every time."""

_UNIT = ("micron", "mm", "cm", "inch", "foot", "m")
"""Our words in the order of lib3mf's ModelUnit."""

_KINDS = {lib3mf.Lib3MF.ObjectType.Model}


@dataclass(frozen=True, eq=False)
class _Placed:
    """A mesh object where the build puts it; `matrix` (4, 4) acts on rows."""

    mesh: Any
    matrix: Array
    wanted: bool


def read_3mf(data: bytes, object_name: str | None = None) -> Parsed:
    """Triangles of all bodies that a 3MF file builds, or of one object of it.

    Parameters
    ----------
    object_name : str, optional
        Name or number of an object. It is taken where the build places it, each time it does, or as it stands if the
        build does not.

    Raises
    ------
    EmptyFile, FileMalformed, FileCutShort, FileTooLarge, NoSuchObject, UnknownUnit, UnsafePackage

    Notes
    -----
    lib3mf sees a package only after every member has been unpacked once, counted and proven (`open_package`,
    `prove_text`). Supports and other objects that are not part of the model are left out. lib3mf holds coordinates in
    single precision. A triangle without colour is (0, 0, 0, 0).
    """
    placements = Placements()
    for member in open_package(data):
        prove_text(member.orig_filename, unpack(data, member), placements)
    placements.prove_bounded()
    try:
        return _parse(model_of(data), object_name)
    except (Lib3mfError, UnicodeDecodeError) as error:
        raise FileMalformed(
            "the 3MF file breaks the rules of its format",
            found=str(error).partition(": ")[2][:200] or str(error)[:200],
            fix="export the file again from the program it came from",
        ) from None


def _parse(model: Any, object_name: str | None) -> Parsed:  # noqa: ANN401
    notes: list[str] = []
    placed = list(_build(model, object_name, notes))
    if object_name is not None:
        placed = [body for body in placed if body.wanted] or _unbuilt(model, object_name, notes)
    total = sum(body.mesh.GetTriangleCount() for body in placed)
    if total == 0:
        raise EmptyFile(
            "the 3MF file builds nothing", found=f"{len(placed)} bodies, 0 triangles", fix="export the part as a mesh"
        )
    if total > MOST_TRIANGLES:
        raise FileTooLarge(
            "the 3MF file builds more than can be handled",
            found=f"{total} triangles in {len(placed)} bodies, limit {MOST_TRIANGLES}",
            fix="export the part alone, or with fewer triangles",
        )
    vertices: list[Array] = []
    triangles: list[NDArray[np.int32]] = []
    colours: list[Colours] = []
    known: dict[int, tuple[Array, NDArray[np.int32], Colours | None]] = {}
    count = 0
    for body in placed:
        number = body.mesh.GetUniqueResourceID()
        if number not in known:
            corners = triangles_of(body.mesh).view(np.int32)
            known[number] = (vertices_of(body.mesh).astype(np.float64), corners, _colours(model, body.mesh))
        points, corners, shades = known[number]
        if not np.array_equal(body.matrix, np.eye(4)):
            points = points @ body.matrix[:3, :3] + body.matrix[3, :3]
        if np.linalg.det(body.matrix[:3, :3]) < 0.0:
            corners = corners[:, ::-1]
        vertices.append(points)
        triangles.append(corners + np.int32(count) if count else corners)
        colours.append(np.zeros((len(corners), 4), np.uint8) if shades is None else shades)
        count += len(points)
    coloured = any(shades is not None for *_, shades in known.values())
    return Parsed(
        vertices[0] if len(placed) == 1 else np.concatenate(vertices),
        triangles[0] if len(placed) == 1 else np.concatenate(triangles),
        np.concatenate(colours) if coloured else None,
        _UNIT[int(model.GetUnit())],
        tuple(notes),
    )


def _build(model: Any, object_name: str | None, notes: list[str]) -> Iterator[_Placed]:  # noqa: ANN401
    """Every mesh object the build places."""
    items = model.GetBuildItems()
    while items.MoveNext():
        item = items.GetCurrent()
        matrix = _matrix(item.GetObjectTransform()) if item.HasObjectTransform() else np.eye(4)
        yield from _bodies(item.GetObjectResource(), matrix, object_name, notes, wanted=False)


def _bodies(
    thing: Any,  # noqa: ANN401
    matrix: Array,
    object_name: str | None,
    notes: list[str],
    *,
    wanted: bool,
) -> Iterator[_Placed]:
    """Mesh objects of an object, its components followed to the end."""
    wanted = wanted or _is_called(thing, object_name)
    if thing.GetType() not in _KINDS:
        notes.append(f"object {_called(thing)} was left out: it is {_kind(thing)}, not part of the model")
        return
    if thing.IsMeshObject():
        yield _Placed(thing, matrix, wanted)
    elif thing.IsComponentsObject():
        for number in range(thing.GetComponentCount()):
            component = thing.GetComponent(number)
            own = _matrix(component.GetTransform()) if component.HasTransform() else np.eye(4)
            yield from _bodies(component.GetObjectResource(), own @ matrix, object_name, notes, wanted=wanted)
    else:
        notes.append(f"object {_called(thing)} was left out: it is a field, not a mesh")


def _unbuilt(model: Any, object_name: str, notes: list[str]) -> list[_Placed]:  # noqa: ANN401
    """The object of this name although no build item places it, or a fault with the names there are."""
    names: list[str] = []
    objects = model.GetObjects()
    while objects.MoveNext():
        thing = objects.GetCurrentObject()
        names.append(_called(thing))
        if _is_called(thing, object_name):
            notes.append(f"object {_called(thing)} is not placed by the file's build; it was read as it stands")
            return list(_bodies(_typed(model, thing), np.eye(4), object_name, notes, wanted=True))
    words = [name.partition(" (")[0] for name in names]
    nearest = difflib.get_close_matches(object_name, words, n=1, cutoff=0.5)
    raise NoSuchObject(
        f"the 3MF file has no object {object_name!r}",
        found=f"{len(names)} objects: {', '.join(names[:12])}{', …' if len(names) > 12 else ''}",
        fix=f"did you mean {nearest[0]!r}?" if nearest else "name one of these, by name or number",
    )


def _typed(model: Any, thing: Any) -> Any:  # noqa: ANN401
    """The object as the kind it is; lib3mf's own list gives only the general one."""
    number = thing.GetUniqueResourceID()
    if thing.IsMeshObject():
        return model.GetMeshObjectByID(number)
    return model.GetComponentsObjectByID(number) if thing.IsComponentsObject() else thing


def _is_called(thing: Any, object_name: str | None) -> bool:  # noqa: ANN401
    return object_name is not None and object_name in (thing.GetName(), str(thing.GetModelResourceID()))


def _called(thing: Any) -> str:  # noqa: ANN401
    """Name and number of an object, for a person."""
    name = thing.GetName()
    number = thing.GetModelResourceID()
    return f"{name} ({number})" if name else str(number)


def _kind(thing: Any) -> str:  # noqa: ANN401
    kinds = lib3mf.Lib3MF.ObjectType
    return {kinds.Support: "a support", kinds.SolidSupport: "a support"}.get(thing.GetType(), "of another kind")


def _matrix(transform: Any) -> Array:  # noqa: ANN401
    """(4, 4) acting on rows, as 3MF writes it: the last row is the translation."""
    matrix = np.eye(4)
    matrix[:, :3] = np.array(transform.Fields, dtype=np.float64)
    return matrix


def _colours(model: Any, mesh: Any) -> Colours | None:  # noqa: ANN401
    """Colour of each triangle, the mean of its corners; None where the object has none at all."""
    given = properties_of(mesh).astype(np.int64)
    resource, number, has_own = mesh.GetObjectLevelProperty()
    if has_own:
        bare = given[:, 0] == 0
        given[bare] = (resource, number, number, number)
    if not given[:, 0].any():
        return None
    key = (given[:, :1] << 32) | given[:, 1:]
    used, which = np.unique(key, return_inverse=True)
    palette = np.array([_shade(model, int(code) >> 32, int(code) & 0xFFFFFFFF) for code in used], dtype=np.float64)
    if not palette.any():
        return None
    return np.asarray(np.rint(palette[which.reshape(key.shape)].mean(axis=1)), dtype=np.uint8)


def _shade(model: Any, resource: int, number: int) -> tuple[int, int, int, int]:  # noqa: ANN401
    """Red, green, blue, alpha of one property; zeros where it is none or not a plain colour."""
    kinds = lib3mf.Lib3MF.PropertyType
    try:
        kind = model.GetPropertyTypeByID(resource) if resource else kinds.NoPropertyType
        if kind == kinds.Colors:
            shade = model.GetColorGroupByID(resource).GetColor(number)
        elif kind == kinds.BaseMaterial:
            shade = model.GetBaseMaterialGroupByID(resource).GetDisplayColor(number)
        else:
            return (0, 0, 0, 0)
    except Lib3mfError:
        return (0, 0, 0, 0)
    return (shade.Red, shade.Green, shade.Blue, shade.Alpha)
