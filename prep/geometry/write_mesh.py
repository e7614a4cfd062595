"""`write_mesh`: solids in a file, whole or not at all, and read back before it appears."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from prep.errors import CannotWriteFile, EmptySolid, OverwritesInput, PrepError, UnknownFormat, WrittenDiffers
from prep.geometry.lib3mf_arrays import Lib3mfError
from prep.geometry.mend import mend
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Array, Solid, Topology
from prep.geometry.write_3mf import DIGITS, write_3mf
from prep.geometry.write_ply import write_ply
from prep.geometry.write_stl import write_stl

WRITTEN = ("3mf", "stl", "ply")

_ROUNDING = 2.0**-23
"""Spacing of single precision, relative; rounding moves a coordinate by half of it."""


def write_mesh(
    path: Path | str,
    solids: Solid | Mapping[str, Solid],
    format: str | None = None,  # noqa: A002  the word the recipe uses
    *,
    inputs: Iterable[Path | str] = (),
    colours: NDArray[np.uint8] | None = None,
) -> str:
    """Write solids to a mesh file in mm, and prove it by reading it back.

    Parameters
    ----------
    path : Path
        Replaced if it is there; its folder is made if it is not.
    solids : Solid, or mapping of name to Solid
        3MF keeps them apart and named; STL and PLY hold all triangles in turn.
    format : {"3mf", "stl", "ply"}, optional
        Default: what the name of the file says.
    inputs : paths
        Files that were read; none of them may be written over.
    colours : (n, 4) uint8, optional
        Red, green, blue and alpha of every vertex of all solids in turn; PLY only.

    Returns
    -------
    str
        The sha256 of the file.

    Raises
    ------
    OverwritesInput, UnknownFormat, CannotWriteFile
        Nothing was written.
    WrittenDiffers
        The file, read back, has other shells, handles, volume or bounds than the solids. Nothing appears.

    Notes
    -----
    The file is written beside its place under a hidden name, flushed to the disk, read back with `read_mesh`, and only
    then given its name in one step. Volume and bounds must agree within what rounding to single precision can do:
    half its spacing at the farthest coordinate, over the whole area. Same solids, same bytes.
    """
    place = Path(path)
    named = {place.stem: solids} if isinstance(solids, Solid) else dict(solids)
    kind = (format or place.suffix.lstrip(".")).lower()
    try:
        _judge(place, named, kind, inputs, colours)
        return _write(place, named, kind, colours)
    except PrepError as fault:
        raise fault.at(str(path)) from None


def _judge(
    place: Path,
    named: Mapping[str, Solid],
    kind: str,
    inputs: Iterable[Path | str],
    colours: NDArray[np.uint8] | None,
) -> None:
    """Refuse what should not be begun."""
    if not named:
        raise EmptySolid("there is no solid to write", found="0 solids", fix="give at least one")
    if kind not in WRITTEN:
        raise UnknownFormat(f"{kind!r} is not a format that can be written", found=repr(kind),
                            fix=f"use one of {', '.join(WRITTEN)}")  # fmt: skip
    count = sum(len(solid.vertices) for solid in named.values())
    if colours is not None and (kind != "ply" or colours.shape != (count, 4)):
        raise UnknownFormat(
            "colours can be written to PLY only, one for every vertex",
            found=f"format {kind}, colours {colours.shape}, {count} vertices",
            fix="write to PLY, with colours of shape (n, 4)",
        )
    for source in inputs:
        if Path(source).resolve() == place.resolve() or (
            place.exists() and Path(source).exists() and place.samefile(source)
        ):
            raise OverwritesInput(
                "the file to be written is one that was read",
                found=f"{str(source)!r} is an input",
                fix="write to another folder or under another name",
            )


def _write(place: Path, named: Mapping[str, Solid], kind: str, colours: NDArray[np.uint8] | None) -> str:
    beside = place.with_name(f".{place.name}.{os.getpid()}.part")
    solids = list(named.values())
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        try:
            if kind == "3mf":
                write_3mf(beside, named, place.stem)
            else:
                with beside.open("wb") as file:
                    if kind == "stl":
                        write_stl(file, solids)
                    else:
                        write_ply(file, solids, colours)
            _flush(beside)
            found = read_mesh(beside)
            _compare(found, solids, kind)
            beside.replace(place)
            _flush(place.parent)
        finally:
            beside.unlink(missing_ok=True)
    except (OSError, Lib3mfError) as error:
        raise CannotWriteFile(
            f"the file {place.name!r} cannot be written",
            found=getattr(error, "strerror", None) or str(error),
            fix="check that the folder is there, may be written to and has room",
        ) from None
    return found.sha256


def _flush(path: Path) -> None:
    """Wait until a file or folder is on the disk."""
    if path.is_dir() and os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY if path.is_dir() or os.name != "nt" else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _compare(found: RawMesh, solids: Sequence[Solid], kind: str) -> None:
    """Hold what was read back against what was meant."""
    far = max(float(np.abs(solid.vertices).max()) for solid in solids)
    step = far * _ROUNDING + (10.0**-DIGITS if kind == "3mf" else 0.0)
    meant = sum(solid.volume_mm3 for solid in solids)
    slack = step * sum(solid.area_mm2 for solid in solids) + 1e-12 * abs(meant)
    low = np.min([solid.bounds_mm[0] for solid in solids], axis=0)
    high = np.max([solid.bounds_mm[1] for solid in solids], axis=0)
    if _same_numbering(found, solids):
        vertices, volume = found.vertices, _volume(found, (low + high) / 2.0)
    else:
        solid = _as_read(found, kind)
        vertices, volume = solid.vertices, solid.volume_mm3
        topology = _sum([one.topology for one in solids])
        if solid.topology != topology:
            raise _differs(kind, f"{_facts(solid.topology)}; meant {_facts(topology)}")
    if abs(volume - meant) > slack:
        raise _differs(kind, f"volume {volume:.9g} mm³, meant {meant:.9g} mm³, rounding explains {slack:.2g} mm³")
    off = max(float(np.abs(vertices.min(axis=0) - low).max()), float(np.abs(vertices.max(axis=0) - high).max()))
    if off > step:
        raise _differs(kind, f"bounds off by {off:.3g} mm, rounding explains {step:.2g} mm")


def _same_numbering(found: RawMesh, solids: Sequence[Solid]) -> bool:
    """Whether the triangles read are those meant under a renumbering of vertices; then shells and handles are too."""
    begin = np.cumsum([0] + [len(solid.vertices) for solid in solids])
    meant = np.concatenate([s.triangles + b for s, b in zip(solids, begin[:-1], strict=True)])
    if meant.shape != found.triangles.shape:
        return False
    number = np.full(int(begin[-1]), -1, dtype=np.int64)
    number[meant.ravel()] = found.triangles.ravel()
    used = number[number >= 0]
    return np.array_equal(number[meant], found.triangles) and np.bincount(used, minlength=1).max() <= 1


def _as_read(found: RawMesh, kind: str) -> Solid:
    """The solid that would be read from the file, without any repair."""
    try:
        return mend(found).solid
    except PrepError as fault:
        raise _differs(kind, fault.found or fault.what) from None


def _volume(found: RawMesh, middle: Array) -> float:
    local = found.vertices - middle
    a, b, c = (local[found.triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def _sum(topologies: Sequence[Topology]) -> Topology:
    return Topology(
        sum(t.shells for t in topologies), sum(t.genus for t in topologies), sum(t.sealed_voids for t in topologies)
    )


def _facts(topology: Topology) -> str:
    return f"{topology.shells} shells with {topology.genus} handles and {topology.sealed_voids} sealed voids"


def _differs(kind: str, found: str) -> WrittenDiffers:
    broken = "rounding to STL breaks the solid" if kind == "stl" else f"the {kind} file does not read back as meant"
    return WrittenDiffers(
        broken,
        found=found,
        fix="write 3MF, which keeps the connectivity" if kind == "stl" else "report this: it is a fault of the writer",
    )
