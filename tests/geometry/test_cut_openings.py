"""`cut_surface`: openings, joined shells and walls of simple cuts, beside what the solid kernel makes of them."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from prep.geometry.cut_openings import cut_surface
from prep.geometry.solid import Solid, subtract, unite

UP = np.array([0.0, 0.0, 1.0])


def box(size, middle=(0.0, 0.0, 0.0)):
    """A box about a point."""
    mesh = trimesh.creation.box(size)
    return Solid.of(np.asarray(mesh.vertices) + middle, np.asarray(mesh.faces))


PLATE = box((20.0, 16.0, 4.0))
HOLLOW = subtract(box((20.0, 20.0, 20.0)), [box((12.0, 12.0, 12.0))])
TUBE = subtract(box((20.0, 20.0, 20.0)), [box((12.0, 12.0, 30.0))])
CASES = {
    "through": (PLATE, box((2.0, 2.0, 9.0)), UP, 2, 7.0),
    "blind": (PLATE, box((2.0, 2.0, 4.0), (0.0, 0.0, 2.0)), UP, 1, 7.0),
    "off the middle": (PLATE, box((2.0, 2.0, 9.0), (0.0, 6.0, 0.0)), UP, 2, 1.0),
    "two walls": (TUBE, box((30.0, 2.0, 2.0)), np.array([1.0, 0.0, 0.0]), 3, 9.0),
    "into a sealed void": (HOLLOW, box((2.0, 2.0, 9.0), (0.0, 0.0, 8.0)), UP, 2, 9.0),
}


@pytest.mark.parametrize("name", CASES)
def test_against_the_kernel(name) -> None:
    """Handles, shells and sealed voids change as read off the cutter's skin; the wall is what is drawn."""
    part, cutter, way, openings, wall = CASES[name]
    found = cut_surface(part, cutter, ways=way, spacing_mm=0.5)
    before, after = part.topology, subtract(part, [cutter]).topology
    assert found.openings == openings
    assert found.genus == after.genus - before.genus
    assert -found.shells_joined == after.shells - before.shells
    assert -found.voids_joined == after.sealed_voids - before.sealed_voids
    if name != "into a sealed void":
        assert found.wall_mm == pytest.approx(wall, abs=1e-9)


def test_bent_cut() -> None:
    """A cut that turns a corner inside a block opens at both its ends."""
    block = box((20.0, 20.0, 20.0))
    bent = unite([box((12.0, 2.0, 2.0), (-5.0, 0.0, 0.0)), box((2.0, 2.0, 12.0), (0.0, 0.0, 5.0))])
    ways = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    found = cut_surface(block, bent, ways=ways, spacing_mm=0.5)
    assert (found.openings, found.genus) == (2, 1)
    assert found.wall_mm == pytest.approx(9.0, abs=1e-9)
