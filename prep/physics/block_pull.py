"""Force between two block magnets face to face."""

from __future__ import annotations

from itertools import product

import numpy as np

from prep.physics.pull_force import MM2, MU_0

Size = tuple[float, float, float]
"""Length, width and thickness of a block in mm; magnetised through the thickness."""


def block_pull(size1: Size, br1: float, size2: Size, br2: float, gap: float) -> float:
    """Attraction of two blocks on one axis, sides parallel, magnetised alike through the thickness, N.

    Parameters
    ----------
    size1, size2 : length, width, thickness, mm
    br1, br2 : remanence, T
    gap : mm
        Between the faces that look at each other, 0 or more.

    Notes
    -----
    The closed sum over the 64 pairs of corners; exact for uniform, rigid magnetisation. Digits are lost with the
    sixth power of the distance: relative error about 1e-16 (gap / size)^6, so below 1e-8 up to twenty sizes apart.

    References
    ----------
    G. Akoun, J.-P. Yonnet, 3D analytical calculation of the forces exerted between two cuboidal magnets,
    IEEE Trans. Magn. 20 (1984) 1962.
    """
    signs = np.array(list(product((0, 1), repeat=6)))
    half1, half2 = np.asarray(size1) / 2.0, np.asarray(size2) / 2.0
    offset = np.array([0.0, 0.0, gap + half1[2] + half2[2]])
    ends = offset + (2 * signs[:, 3:] - 1) * half2 - (2 * signs[:, :3] - 1) * half1
    u, v, w = ends[:, 0], ends[:, 1], np.maximum(ends[:, 2], 0.0)
    r = np.sqrt(u**2 + v**2 + w**2)
    terms = -u * w * _log(r, u, v, w) - v * w * _log(r, v, u, w) + u * v * np.arctan2(u * v, r * w) - r * w
    parity = 1 - 2 * (signs.sum(axis=1) % 2)
    return float(-br1 * br2 / (4.0 * np.pi * MU_0) * (parity @ terms) * MM2)


def _log(r: np.ndarray, along: np.ndarray, across: np.ndarray, height: np.ndarray) -> np.ndarray:
    """ln(r - along) without lost digits; 0 where it is infinite, as the factor before it vanishes faster."""
    ahead = along > 0.0
    beyond = np.where(ahead, (across**2 + height**2) / np.where(ahead, r + along, 1.0), r - along)
    return np.log(np.where(beyond > 0.0, beyond, 1.0))
