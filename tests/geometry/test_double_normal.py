"""The shortest way through a wall."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.double_normal import ShortestWays
from tests.geometry.walled import ball, box, rod, solid, torus, wedge, without


def test_guess_beside_a_point_is_drawn_to_it() -> None:
    """From a guess beside the tip of a conical pocket the way ends on the tip."""
    ways = ShortestWays(solid(without(box(20, 20, 10), rod(6, 3, 32, 0).translate([0, 0, 1]))))
    way = ways.refine(np.array([0.4, 0.3, 5.0]), np.array([0.4, 0.3, 3.0]), 0.0, 0.9)
    assert way is not None
    assert way.length_mm == pytest.approx(1.0)
    assert way.end == pytest.approx([0, 0, 4])
    assert not way.closes


def test_two_round_holes_are_nearest_on_their_common_line() -> None:
    """Between two holes the way lies on the line of their axes."""
    body = without(box(20, 20, 4), rod(9, 2, 64).translate([-2.5, 0, 0]), rod(9, 3, 64).translate([3.4, 0, 0]))
    way = ShortestWays(solid(body)).refine(np.array([-0.55, 0.4, 0]), np.array([0.45, 0.3, 0]), 5.0, 0.9)
    assert way is not None
    assert way.length_mm == pytest.approx(0.9, abs=1e-9)


def test_wedge_closes() -> None:
    """A way between the faces of a wedge slides to its edge and says so."""
    way = ShortestWays(solid(wedge(20))).refine(np.array([0.5, 0, 5]), np.array([0.47, 0.17, 5]), 20.0, 0.9)
    assert way is not None
    assert way.closes
    assert way.wedge_deg == pytest.approx(20.0, abs=1e-6)


def test_pin_keeps_its_width() -> None:
    """Across a round that bulges both ways the way does not slide to a shorter chord by more than 0.14 %."""
    way = ShortestWays(solid(torus(8, 0.5, 96))).refine(np.array([8, 0, 0.5]), np.array([8, 0, -0.5]), 0.0, 0.6)
    assert way is not None
    assert way.length_mm == pytest.approx(1.0, rel=3e-3)


def test_square_faces_give_no_way() -> None:
    """Two faces at a right angle are never taken for the two skins of a wall."""
    ways = ShortestWays(solid(box(10, 10, 10)))
    assert ways.refine(np.array([4.9, 5, 0]), np.array([5, 4.9, 0]), 60.0, 0.5) is None


def test_eccentric_void_is_nearest_where_it_leans() -> None:
    """A void off centre comes nearest the skin on the side it is moved to."""
    body = solid(without(ball(10, 64), ball(8, 64).translate([1, 0, 0])))
    row = int(np.argmax(body.corners.mean(axis=1) @ [1, 0, 0]))
    start = body.corners[row].mean(axis=0)
    way = ShortestWays(body).refine(start, start - [1.02, 0, 0], 2.0, 0.9)
    assert way is not None
    assert way.length_mm == pytest.approx(1.0, rel=5e-3)
