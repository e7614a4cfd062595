"""`shape_fingerprint`: a short text that copies of one mesh share, wherever they stand and however they are stored."""

from __future__ import annotations

import numpy as np

from prep.geometry.solid import Array, Solid

_VERSION = "s1"
_STEP = 1e-5
"""Relative width of one step of a size; a step of a pure number is the same width."""

_FINER = 300.0
"""How much finer the handedness is counted, being a product of small numbers."""


def shape_fingerprint(solid: Solid) -> str:
    """A text that tells one shape from another: counts, then sizes that no motion changes, each in steps.

    Returns
    -------
    str
        ``s1-`` triangles, shells, genus, then eight whole numbers: volume and area (their cube and square roots on a
        logarithmic scale), the three principal second moments of the material, two of the surface, and a handedness
        that changes sign in a mirror.

    Notes
    -----
    One step is 1e-5 of a size. Copies that went through single precision agree to a hundredth of a step near the
    origin and to a fifth of one a metre from it, so their texts are equal but for the rare size that lies on the
    border of a step; `same_fingerprint` allows for that. A change of the triangle count, the topology, or of any size
    by two steps shows. A change that keeps the triangles and changes every size by less than 1e-5 does not:
    `same_shape` measures. Cost: one pass over the triangles.

    References
    ----------
    M. G. Kendall, A. Stuart, "The Advanced Theory of Statistics" (1958), on moments; the sums over triangles are the
    exact integrals of second degree (E. P. Lien, J. T. Kajiya, IEEE Comput. Graph. Appl. 4 (1984) 35).
    """
    counts = (len(solid.triangles), solid.topology.shells, solid.topology.genus)
    steps = [round(float(value) / _STEP) for value in _invariants(solid)]
    return "-".join([_VERSION, *(str(count) for count in counts), *(_signed(step) for step in steps)])


def same_fingerprint(first: str, second: str) -> bool:
    """Whether two fingerprints are of one shape: equal counts, and no size more than one step apart."""
    if first == second:
        return True
    one, other = first.split("-"), second.split("-")
    if len(one) != len(other) or one[:4] != other[:4]:
        return False
    return all(abs(_number(a) - _number(b)) <= 1 for a, b in zip(one[4:], other[4:], strict=True))


def _signed(step: int) -> str:
    """A whole number without a hyphen, so that hyphens only part the numbers."""
    return f"n{-step}" if step < 0 else str(step)


def _number(text: str) -> int:
    return -int(text[1:]) if text.startswith("n") else int(text)


def _invariants(solid: Solid) -> Array:
    """Eight numbers that no rigid motion changes, all about 1 to 10 but the last, which is small."""
    corners = solid.corners - solid.centre_mm
    total = corners.sum(axis=1)
    six = np.einsum("ij,ij->i", corners[:, 0], np.cross(corners[:, 1], corners[:, 2]))
    outer = np.einsum("mki,mkj->mij", corners, corners) + np.einsum("mi,mj->mij", total, total)
    volume = abs(solid.volume_mm3)
    of_volume = np.einsum("m,mij->ij", six, outer) / 120.0 / max(volume, 1e-300)
    areas = solid.triangle_areas
    of_area = np.einsum("m,mij->ij", areas, outer) / 12.0 / max(solid.area_mm2, 1e-300)
    spread = float(np.sqrt(np.trace(of_area)))
    return np.array(
        [
            np.log(max(volume, 1e-300)) / 3.0,
            np.log(max(solid.area_mm2, 1e-300)) / 2.0,
            *(np.linalg.eigvalsh(of_volume) / spread**2),
            *(np.linalg.eigvalsh(of_area)[:2] / spread**2),
            _handedness(total / 3.0 / spread, areas / solid.area_mm2, of_area / spread**2),
        ]
    )


def _handedness(middle: Array, share: Array, moment: Array) -> float:
    """A sum whose sign turns in a mirror; 0 for a shape with a mirror plane, and small for one that is nearly round.

    The mean over the triangles' middles c of the volume spanned by c, M c and M M c, with M the second moment: in
    principal axes, of x y z times the differences of the principal moments.
    """
    once = middle @ moment
    return _FINER * float(share @ np.einsum("ij,ij->i", middle, np.cross(once, once @ moment)))
