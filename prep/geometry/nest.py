"""`nest`: which shells of a surface are bodies, which are cavities, and which are wound inside out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Array, Indices

FLAT = 1e-12
"""A shell whose volume is less than this share of the cube of its diagonal is a sheet."""

_SAMPLES = 3
_MANY = 200_000
"""Triangles of an outer shell above which one sample of the inner shell must do."""


@dataclass(frozen=True, eq=False)
class Nest:
    """The shells of a closed surface and what each one is.

    Attributes
    ----------
    bodies : tuple of tuples of int
        For each body its outer shell, then its cavities.
    turn : tuple of int
        Shells to be turned over because they are inside out.
    flat : tuple of int
        Shells without volume; they are in no body.
    doubled : tuple of int
        Shells equal to another one to the last vertex; they are in no body.
    crowded : bool
        Whether the bounds of any two bodies overlap, so that the bodies may.
    """

    bodies: tuple[tuple[int, ...], ...]
    turn: tuple[int, ...]
    flat: tuple[int, ...]
    doubled: tuple[int, ...]
    crowded: bool


def nest(vertices: Array, triangles: Indices, shell: Indices, volumes: Array) -> Nest:
    """Sort the shells of a closed surface.

    Parameters
    ----------
    vertices, triangles : (n, 3) and (m, 3)
        Closed and consistently wound.
    shell : (m,)
        Which shell each triangle belongs to, from 0.
    volumes : (k,)
        Signed volume of each shell.

    Notes
    -----
    A shell of negative volume is a cavity where the winding number around it is positive, that is, inside the material
    of another; anywhere else it is a body inside out, and is turned over. What is inside a shell that was turned over
    and is wound the other way was turned over with it, so it is turned too: a hollow body inside out becomes a hollow
    body. A shell of positive volume is always a body. Shells are judged from the largest to the smallest. A shell that
    crosses another is judged by most of three of its points. Cost: for shells that do not lie within one
    another's bounds that of the bounds alone, else one sum over the outer shell's triangles for each inner shell.

    References
    ----------
    A. Van Oosterom, J. Strackee, The solid angle of a plane triangle, IEEE Trans. Biomed. Eng. 30 (1983) 125.
    """
    count = len(volumes)
    if count == 1:
        whole = (0,)
        if abs(volumes[0]) <= FLAT * np.linalg.norm(np.ptp(vertices, axis=0)) ** 3:
            return Nest((), (), whole, (), crowded=False)
        return Nest((whole,), whole if volumes[0] < 0 else (), (), (), crowded=False)
    order = np.argsort(shell, kind="stable")
    begin = np.searchsorted(shell[order], np.arange(count + 1))
    rows = [order[begin[k] : begin[k + 1]] for k in range(count)]
    low, high = _bounds(vertices, triangles, shell, count)
    flat = np.abs(volumes) <= FLAT * np.linalg.norm(high - low, axis=1) ** 3
    doubled = _doubled(vertices, triangles, rows, volumes, low, high, flat)
    live = [int(k) for k in np.argsort(-np.abs(volumes), kind="stable") if not flat[k] and k not in doubled]
    sign = np.sign(volumes)
    holder: dict[int, int] = {}
    turn: set[int] = set()
    for i, k in enumerate(live):
        larger = np.array(live[:i], dtype=np.int64)
        holds = (low[larger] <= low[k]).all(axis=1) & (high[k] <= high[larger]).all(axis=1)
        around = [j for j in larger[holds].tolist() if _encloses(vertices, triangles, rows[j], rows[k])]
        if around:
            holder[k] = around[-1]
        went_along = bool(around) and around[-1] in turn and volumes[k] * volumes[around[-1]] < 0
        if went_along or (sign[k] < 0 and sum(sign[j] for j in around) < 0.5):
            turn.add(k)
            sign[k] = -sign[k]
    bodies: dict[int, list[int]] = {k: [k] for k in live if sign[k] > 0}
    for k in live:
        if sign[k] < 0:
            owner = holder[k]
            while sign[owner] < 0:
                owner = holder[owner]
            bodies[owner].append(k)
    outers = list(bodies)
    return Nest(
        tuple(tuple(parts) for parts in bodies.values()),
        tuple(sorted(turn)),
        tuple(np.flatnonzero(flat).tolist()),
        tuple(sorted(doubled)),
        crowded=_any_overlap(low[outers], high[outers]),
    )


def _bounds(vertices: Array, triangles: Indices, shell: Indices, count: int) -> tuple[Array, Array]:
    """Lowest and highest corner of each shell, (k, 3) each; no two shells share a vertex."""
    owner = np.full(len(vertices), -1, dtype=np.int32)
    owner[triangles[:, 0]] = shell
    owner[triangles[:, 1]] = shell
    owner[triangles[:, 2]] = shell
    order = np.argsort(owner, kind="stable")
    begin = np.searchsorted(owner[order], np.arange(count))
    sorted_points = vertices[order]
    return np.minimum.reduceat(sorted_points, begin, axis=0), np.maximum.reduceat(sorted_points, begin, axis=0)


def _doubled(
    vertices: Array,
    triangles: Indices,
    rows: list[NDArray[np.intp]],
    volumes: Array,
    low: Array,
    high: Array,
    flat: NDArray[np.bool_],
) -> set[int]:
    """Shells that repeat another of the same sign and size, vertex for vertex."""
    seen: dict[tuple[object, ...], list[int]] = {}
    doubled: set[int] = set()
    for k in range(len(rows)):
        if flat[k]:
            continue
        key = (len(rows[k]), np.sign(volumes[k]), *low[k].tolist(), *high[k].tolist())
        alike = seen.setdefault(key, [])
        mine = _point_set(vertices, triangles[rows[k]]) if alike else None
        if mine is not None and any(np.array_equal(mine, _point_set(vertices, triangles[rows[j]])) for j in alike):
            doubled.add(k)
        else:
            alike.append(k)
    return doubled


def _point_set(vertices: Array, triangles: Indices) -> Array:
    return np.asarray(np.unique(vertices[triangles].reshape(-1, 9).sum(axis=1)))


def _samples(vertices: Array, triangles: Indices, rows: NDArray[np.intp], count: int) -> Array:
    """Middles of a few triangles spread over a shell, (count, 3)."""
    picks = rows[np.linspace(0, len(rows) - 1, count).astype(int)]
    return np.asarray(vertices[triangles[picks]].mean(axis=1))


def _encloses(vertices: Array, triangles: Indices, outer: NDArray[np.intp], inner: NDArray[np.intp]) -> bool:
    """Whether most of a few points of one shell lie inside another."""
    points = _samples(vertices, triangles, inner, 1 if len(outer) > _MANY else _SAMPLES)
    turns = [abs(_winding(point, vertices, triangles[outer])) for point in points]
    return float(np.median(turns)) > 0.5


def _winding(point: Array, vertices: Array, triangles: Indices) -> float:
    """Winding number of a shell about a point."""
    a, b, c = (vertices[triangles[:, k]] - point for k in range(3))
    la, lb, lc = (np.sqrt(np.einsum("ij,ij->i", side, side)) for side in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    angle = 2.0 * np.arctan2(volume, la * lb * lc + ab * lc + bc * la + ca * lb)
    return float(angle.sum()) / (4.0 * np.pi)


def _any_overlap(low: Array, high: Array) -> bool:
    """Whether any two of several boxes overlap or touch."""
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    for k in range(len(low) - 1):
        until = int(np.searchsorted(low[:, 0], high[k, 0], side="right"))
        others = slice(k + 1, until)
        if ((low[others] <= high[k]) & (low[k] <= high[others])).all(axis=1).any():
            return True
    return False
