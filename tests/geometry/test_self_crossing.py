"""`self_crossings`: where a surface runs through itself."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import (
    blob,
    box,
    bumpy_dome,
    irregular,
    joined,
    moved,
    overlapping_boxes,
    prism_ngon,
    scaled,
    spherical_shell,
    subdivided,
    torus,
    turned,
)
from fixtures.gauges import distances
from prep.geometry.self_crossing import self_crossings
from prep.geometry.solid import Solid, subtract


@pytest.mark.parametrize(
    "drawn",
    [
        box(),
        torus(),
        blob(4),
        bumpy_dome(),
        spherical_shell(),
        irregular(box(), 6),
        joined(box(), moved(box(), (10.0, 0.0, 0.0))),
        joined(box(), moved(box(), (10.0, 5.0, 5.0))),
    ],
    ids=["box", "torus", "blob", "dome", "shell", "irregular", "face to face", "part of a face"],
)
@pytest.mark.parametrize("away", [0.0, 1000.0])
def test_clean_surfaces_do_not_cross(drawn, away) -> None:
    """Nothing is seen on clean solids, even where bodies only touch."""
    assert len(self_crossings(Solid.of(*moved(drawn, (away, 0.0, away))))) == 0


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_overlapping_boxes_cross_on_both_surfaces(scale) -> None:
    """Two boxes exported into one another cross, at points that lie on both, at any scale."""
    drawn = scaled(overlapping_boxes(), scale)
    found = self_crossings(Solid.of(*drawn))
    assert len(found) > 0
    for rows in (slice(0, 12), slice(12, 24)):
        assert distances((drawn[0], drawn[1][rows]), found.points).max() < 1e-5 * scale


def test_a_rod_through_a_ring() -> None:
    """A thin rod through a torus is seen however either is meshed."""
    rod = moved(turned(prism_ngon(16, 0.8, 60.0), (0.0, 1.0, 0.0), 90.0), (-30.0, 0.0, 0.0))
    for first in (torus(), subdivided(torus())):
        found = self_crossings(Solid.of(*joined(first, rod)))
        assert len(found) > 0
        assert np.hypot(found.points[:, 1], found.points[:, 2]).max() < 0.9


def test_one_surface_folded_through_itself() -> None:
    """A single shell whose corner was pulled through its far side is seen there."""
    vertices, triangles = (np.array(part) for part in blob(2, subdivisions=3))
    vertices[7] = -1.8 * vertices[7]
    found = self_crossings(Solid.of(vertices, triangles))
    assert len(found) > 0
    line = vertices[7] / np.linalg.norm(vertices[7])
    assert np.linalg.norm(np.cross(found.points, line), axis=1).max() < 4.0


def test_a_cut_by_the_kernel_is_clean() -> None:
    """What the kernel cuts does not cross."""
    cut = subtract(Solid.of(*blob(5)), [Solid.of(*box((6.0, 6.0, 30.0)))])
    assert len(self_crossings(cut)) == 0
