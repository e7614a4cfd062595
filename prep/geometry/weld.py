"""`exact_weld`: points that are equal to the last bit become one."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from prep.geometry.solid import Indices

_ODD = tuple(np.uint64(k) for k in (0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9))


def exact_weld(points: NDArray[np.floating]) -> tuple[NDArray[np.intp], Indices]:
    """The distinct points among many, in the order in which they first appear.

    Parameters
    ----------
    points : (n, 3) float32 or float64
        Minus zero counts as zero; not-a-number counts as itself.

    Returns
    -------
    first : (k,) intp
        Rows of `points`, one for each distinct point, ascending.
    inverse : (n,) int32
        Which of the `k` each point is: ``points[first][inverse] == points``.

    Notes
    -----
    Exact. Points are ordered by a 64-bit hash of their bits and neighbours compared in full, so one sort of plain
    numbers replaces a sort of rows (about eight times faster on four million corners). Where two different points
    share a hash the rows are sorted after all. Cost O(n log n), five arrays of 8 n bytes.
    """
    plain = np.ascontiguousarray(points) + 0.0
    bits: NDArray[np.unsignedinteger] = plain.view(np.uint32 if plain.dtype == np.float32 else np.uint64)
    key = _hash(bits)
    order = np.argsort(key)
    key = key[order]
    begins = np.ones(len(key), dtype=bool)
    np.not_equal(key[1:], key[:-1], out=begins[1:])
    del key
    if len(order) == 0:
        return order, np.zeros(0, dtype=np.int32)
    first = np.minimum.reduceat(order, np.flatnonzero(begins))
    inverse = np.empty(len(order), dtype=np.int32)
    inverse[order] = np.cumsum(begins, dtype=np.int32) - 1
    del order, begins
    if not np.array_equal(bits[first[inverse]], bits):
        _, first, loose = np.unique(bits, axis=0, return_index=True, return_inverse=True)
        inverse = loose.reshape(-1).astype(np.int32)
    rank = np.argsort(first)
    place = np.empty(len(rank), dtype=np.int32)
    place[rank] = np.arange(len(rank), dtype=np.int32)
    return first[rank], place[inverse]


def _hash(bits: NDArray[np.unsignedinteger]) -> NDArray[np.uint64]:
    """A 64-bit key for each row, (n,)."""
    key = bits[:, 0] * _ODD[0]
    for column in (1, 2):
        key ^= key >> np.uint64(29)
        key += bits[:, column]
        key *= _ODD[column]
    key ^= key >> np.uint64(32)
    return np.asarray(key, dtype=np.uint64)
