"""`mend`: a solid out of the triangles of a file, with every repair listed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from prep.errors import EmptySolid, FileTooLarge, NoArea, NotASolid, NoVolume, OpenMesh
from prep.geometry.close_gaps import SHARE, Closed, close_gaps, drop_collapsed
from prep.geometry.duplicates import drop_duplicates, drop_sheets
from prep.geometry.edges import Edges, is_closed, largest_loop
from prep.geometry.longest import check_longest
from prep.geometry.nest import Nest, nest
from prep.geometry.orient import orient
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.solid import Array, Indices, Solid, unite
from prep.geometry.split_edges import split_edges
from prep.geometry.weld import exact_weld

MOST_SHELLS = 20_000
"""Shells of one mesh; more are a scan's dust or a cloud of specks, not a part."""

_SAME = 1e-9
"""Relative change of volume below which a union changed nothing."""

Kind = Literal["collapsed", "duplicates", "welded", "turned", "parted", "sheets", "inside-out", "doubled", "united"]
Triangles = NDArray[np.int64]


@dataclass(frozen=True)
class Repair:
    """One thing done to the triangles of a file.

    Attributes
    ----------
    kind : what was done
    count : to how many triangles, vertices, edges or shells
    moved_mm : how far at most a point of the surface moved
    volume_change_mm3 : what it did to the volume enclosed
    says : the same in a sentence
    """

    kind: Kind
    count: int
    moved_mm: float
    volume_change_mm3: float
    says: str


@dataclass(frozen=True, eq=False)
class Mended:
    """A solid, and what it took to make it one.

    Attributes
    ----------
    solid : Solid
        In the frame of the file.
    repairs : tuple of Repair
        In the order in which they were made; empty for a clean file.
    open_edges : int
        Open edges before anything but equal points was welded.
    """

    solid: Solid
    repairs: tuple[Repair, ...] = ()
    open_edges: int = 0


def mend(raw: RawMesh, *, longest: tuple[float, float] | None = None) -> Mended:
    """The solid that a mesh bounds, mended where that is no guess at its shape.

    In turn, and each only where needed: triangles collapsed to a line are dropped, equal points made one, second copies
    of triangles dropped, gaps welded with a growing tolerance, winding made to agree, touching edges parted, flat
    sheets dropped, bodies inside out turned over, cavities kept, doubled bodies dropped, bodies that overlap united.

    Parameters
    ----------
    longest : (mm, mm), optional
        The longest dimension stated and its tolerance; see `check_longest`.

    Raises
    ------
    WrongUnit
        The longest dimension is not the one stated.
    OpenMesh
        Gaps are left; says how many open edges, where the largest gap is and how large.
    OneSided, NotASolid, NoArea, NoVolume, KernelRefused
        The triangles bound no volume whatever is done.
    FileTooLarge
        More separate shells than any part has.

    Notes
    -----
    A mesh that is closed as it stands is not touched. Gaps are welded up to 1e-4 of the diagonal, in the frame of the
    file, where its rounding was done. Bodies are united about the middle of the bounds, for precision, and put back.
    A single shell that runs through itself is left as it is: material is where it winds around at least once.
    Cost for a clean mesh: two sorts of its edges, the kernel's own reading, and the shells; about as much again as
    reading the file.
    """
    if longest is not None:
        check_longest(raw.extents_mm, longest[0], longest[1], raw.unit)
    middle = _middle(raw)
    repairs: list[Repair] = []
    if is_closed(raw.triangles):
        return Mended(_settle(raw.vertices, raw.triangles, middle, repairs), tuple(repairs))
    vertices, triangles, open_edges = _close(raw.vertices, raw.triangles.astype(np.int64), middle, repairs)
    solid = _settle(vertices, triangles, middle, repairs)
    return Mended(solid, tuple(repairs), open_edges)


def _middle(raw: RawMesh) -> Array:
    """Middle of the bounds, (3,), in single precision, so that taking it off coordinates of a file loses nothing."""
    low, high = raw.vertices.min(axis=0), raw.vertices.max(axis=0)
    return np.asarray(((low + high) / 2.0).astype(np.float32).astype(np.float64))


# --- until every edge is shared by two ----------------------------------------------------------


def _close(vertices: Array, triangles: Triangles, middle: Array, repairs: list[Repair]) -> tuple[Array, Triangles, int]:
    """Triangles that close, or a fault; also how many edges were open at first."""
    kept = drop_collapsed(triangles)
    first, inverse = exact_weld(vertices)
    if len(first) < len(vertices):
        vertices, kept = vertices[first], drop_collapsed(inverse.astype(np.int64)[kept])
    if len(kept) == 0:
        raise NoArea("every triangle has shrunk to a line", found=f"{len(triangles)} triangles", fix="export again")
    _say(repairs, "collapsed", len(triangles) - len(kept), "{} triangles that had shrunk to a line were dropped")
    triangles = drop_duplicates(kept)
    change = _volume(vertices - middle, triangles) - _volume(vertices - middle, kept)
    _say(repairs, "duplicates", len(kept) - len(triangles), "{} second copies of triangles were dropped", change=change)
    edges = Edges.of(triangles)
    open_edges = edges.open_count
    if open_edges:
        before = _volume(vertices - middle, triangles)
        closed = close_gaps(vertices, triangles, _diagonal(vertices))
        triangles, edges = closed.triangles, Edges.of(closed.triangles)
        if edges.open_count:
            raise _open(vertices, edges, open_edges)
        _say_welded(repairs, closed, open_edges, _volume(vertices - middle, triangles) - before)
    if (edges.forward != edges.backward).any():
        before = _volume(vertices - middle, triangles)
        triangles, count = orient(triangles, edges)
        edges = Edges.of(triangles)
        if (edges.forward != edges.backward).any():
            raise NotASolid(
                "the triangles around some edges cannot be wound to agree",
                found=f"{int((edges.forward != edges.backward).sum())} edges shared by more than two triangles",
                fix="remove inner walls and faces that stand in the air where the part was modelled",
            )
        change = _volume(vertices - middle, triangles) - before
        _say(repairs, "turned", count, "{} triangles wound against their neighbours were turned over", change=change)
    vertices, triangles, count = split_edges(vertices, triangles, edges)
    _say(repairs, "parted", count, "{} edges at which bodies touch were given to each of them, without moving")
    return vertices, triangles, open_edges


def _open(vertices: Array, edges: Edges, at_first: int) -> OpenMesh:
    loops, loop = largest_loop(vertices, edges)
    x, y, z = loop.centre_mm
    dx, dy, dz = loop.size_mm
    return OpenMesh(
        "the surface has gaps that rounding does not explain",
        found=f"{edges.open_count} open edges ({at_first} before welding) in {loops} gaps; the largest has "
        f"{loop.edges} edges and is {dx:.4g} × {dy:.4g} × {dz:.4g} mm about ({x:.4g}, {y:.4g}, {z:.4g}) mm; "
        f"welding may move points by {SHARE * _diagonal(vertices):.2g} mm",
        fix="close the surface there where the part was modelled, and export it again as one closed body",
    )


# --- from a closed surface to bodies ------------------------------------------------------------


def _settle(vertices: Array, triangles: NDArray[np.integer], middle: Array, repairs: list[Repair]) -> Solid:
    """The bodies of a closed surface as one solid, put back in its place."""
    solid = _bounded(vertices, triangles, repairs)
    shell, volumes = solid.shell_of_triangle, solid.shell_volumes_mm3
    if len(volumes) > MOST_SHELLS:
        raise FileTooLarge(
            "the mesh is a cloud of separate shells, not a part",
            found=f"{len(volumes)} shells, limit {MOST_SHELLS}",
            fix="export the part alone",
        )
    local = solid.vertices - middle
    found = nest(local, solid.triangles, shell, volumes)
    if not found.bodies:
        raise _nothing(len(volumes), solid.volume_mm3)
    turned = _turn(solid.triangles, shell, found, volumes, repairs)
    if found.flat or found.doubled or found.turn:
        keep = np.isin(shell, [k for body in found.bodies for k in body])
        solid = Solid.of(solid.vertices, turned[keep])
    if len(found.bodies) == 1 or not found.crowded:
        return solid
    bodies = [Solid.of(local, turned[np.isin(shell, body)]) for body in found.bodies]
    one = unite(bodies)
    change = one.volume_mm3 - solid.volume_mm3
    if abs(change) <= _SAME * abs(solid.volume_mm3) and one.topology == solid.topology:
        return solid
    _say(
        repairs,
        "united",
        len(bodies),
        "{} bodies that overlap or touch were united, so that what they share counts once",
        change=change,
    )
    back = np.eye(4)
    back[:3, 3] = middle
    return one.moved(back)


def _bounded(vertices: Array, triangles: NDArray[np.integer], repairs: list[Repair]) -> Solid:
    """The solid of a closed surface; triangles back to back, of which the kernel takes none, are dropped for it."""
    try:
        return Solid.of(vertices, triangles)
    except EmptySolid:
        raise _nothing(1, 0.0) from None
    except NotASolid:
        kept = drop_sheets(triangles)
        if len(kept) == len(triangles):
            raise
    if len(kept) == 0:
        raise _nothing(len(triangles) // 2, 0.0)
    _say(repairs, "sheets", (len(triangles) - len(kept)) // 2, "{} pairs of triangles back to back were dropped")
    return _bounded(vertices, kept, repairs)


def _nothing(shells: int, volume: float) -> NoVolume:
    return NoVolume(
        "the surface encloses nothing",
        found=f"{shells} closed shells, {volume:.3g} mm³ in all",
        fix="export the part as a body with thickness",
    )


def _turn(triangles: Indices, shell: Indices, found: Nest, volumes: Array, repairs: list[Repair]) -> Indices:
    """The triangles with every shell that was inside out turned over, and repairs said of shells."""
    at = {kind: np.array(rows, dtype=np.int64) for kind, rows in
          (("flat", found.flat), ("doubled", found.doubled), ("turn", found.turn))}  # fmt: skip
    _say(repairs, "sheets", len(at["flat"]), "{} closed sheets without thickness were dropped",
         change=-float(volumes[at["flat"]].sum()))  # fmt: skip
    _say(repairs, "doubled", len(at["doubled"]), "{} second copies of whole shells were dropped",
         change=-float(volumes[at["doubled"]].sum()))  # fmt: skip
    _say(repairs, "inside-out", len(at["turn"]), "{} shells that were inside out were turned over",
         change=-2.0 * float(volumes[at["turn"]].sum()))  # fmt: skip
    if not found.turn:
        return triangles
    over = np.isin(shell, at["turn"])
    return np.where(over[:, None], triangles[:, ::-1], triangles)


def _say(
    repairs: list[Repair], kind: Kind, count: int, sentence: str, *, moved: float = 0.0, change: float = 0.0
) -> None:
    """Note a repair, if there was any."""
    if count:
        repairs.append(Repair(kind, count, moved, change, sentence.format(count)))


def _say_welded(repairs: list[Repair], closed: Closed, open_edges: int, change: float) -> None:
    cuts = f", {closed.split} sides cut where a point lay on them" if closed.split else ""
    _say(
        repairs,
        "welded",
        max(closed.welded, closed.split),
        f"{open_edges} open edges were closed by welding {closed.welded} points within {closed.tolerance:.2g} mm{cuts}",
        moved=closed.moved,
        change=change,
    )


def _volume(vertices: Array, triangles: Triangles) -> float:
    """Signed volume of the cones from the origin, mm3; that of the surface where it is closed."""
    a, b, c = (vertices[triangles[:, k]] for k in range(3))
    return float(np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0)


def _diagonal(vertices: Array) -> float:
    return float(np.linalg.norm(np.ptp(vertices, axis=0)))
