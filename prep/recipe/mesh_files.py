"""`missing_mesh` and `missing_bodies`: meshes a recipe names that are not there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from prep.contract import Step
from prep.errors import MissingFile
from prep.recipe.source import Keys, Source
from prep.tables.table import nearest_word


def missing_mesh(folder: Path, mesh: str) -> MissingFile | None:
    """The fault of a mesh that is not there, with the nearest file name that is; None where it is there."""
    path = folder / mesh
    if path.is_file():
        return None
    names = sorted(each.name for each in path.parent.iterdir() if each.is_file()) if path.parent.is_dir() else []
    near = nearest_word(path.name, names)
    fix = (
        f"did you mean `{Path(mesh).with_name(near)}`?"
        if near
        else "export the part there; paths are relative to the recipe"
    )
    return MissingFile("there is no such mesh", found=f"`{mesh}`", fix=fix)


def missing_bodies(source: Source, steps: list[tuple[int, Step]]) -> Iterator[tuple[MissingFile, Keys]]:
    """The faults of the bodies that steps name, each with the keys under which its path is written."""
    for index, step in steps:
        for body in step.bodies():
            fault = missing_mesh(source.path.parent, body)
            if fault is not None:
                keys: Keys = ("steps", index)
                yield fault, next((keys + more for more in _where_written(source.at(keys), body)), keys)


def _where_written(data: object, text: str) -> Iterator[Keys]:
    """The keys that lead to a text in plain data."""
    if data == text:
        yield ()
    pairs = data.items() if isinstance(data, Mapping) else enumerate(data) if isinstance(data, list) else ()
    for key, value in pairs:
        yield from ((key, *more) for more in _where_written(value, text))
