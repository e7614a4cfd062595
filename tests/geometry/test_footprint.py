"""How far a thin place reaches."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.footprint import footprints, inside, kind_of
from prep.geometry.rays import RayScene
from tests.geometry.walled import ball, box, solid, without


def test_walk_across_a_plate_comes_out_at_its_rim() -> None:
    """From the middle of a plate every walk ends in the air; the narrowest width is the plate's."""
    plate = RayScene([solid(box(12, 8, 0.5))])
    prints = footprints(plate, np.array([[0, 0, 0.25]]), np.array([[0, 0, -0.25]]), 0.8)
    assert (prints.ends == 2).all()
    assert prints.widths_mm.min() == pytest.approx(8.0)
    assert np.isinf(prints.air_mm).all()
    assert kind_of(prints, 0, 0.5) == "wall"


def test_walk_over_a_pocket_ends_where_the_material_grows_thick() -> None:
    """Over a square pocket the walks end at its walls, to one step."""
    block = RayScene([solid(without(box(30, 30, 10), box(6, 6, 10).translate([0, 0, -0.5])))])
    prints = footprints(block, np.array([[0, 0, 5.0]]), np.array([[0, 0, 4.5]]), 0.8)
    assert (prints.ends == 1).all()
    assert prints.widths_mm.min() == pytest.approx(6.0, abs=2 * 0.75)
    assert kind_of(prints, 0, 0.5) == "skin"


def test_walk_follows_a_curved_wall() -> None:
    """In a spherical shell the walk keeps to the middle of the wall and goes far beyond where a straight line exits."""
    shell = RayScene([solid(without(ball(10, 96), ball(9.5, 96)))])
    prints = footprints(shell, np.array([[10.0, 0, 0]]), np.array([[9.5, 0, 0]]), 0.8)
    assert (prints.ends == 0).all()
    assert prints.reach_mm.min() > 2 * np.sqrt(10**2 - 9.75**2)


def test_way_through_the_air_is_not_inside() -> None:
    """A way across a slot is told from a way through a wall."""
    body = RayScene([solid(without(box(20, 20, 4), box(1, 10, 9)))])
    start = np.array([[-0.5, 0, 0], [-0.5, 0, 0]])
    end = np.array([[0.5, 0, 0], [-10.0, 0, 0]])
    assert inside(body, start, end).tolist() == [False, True]
