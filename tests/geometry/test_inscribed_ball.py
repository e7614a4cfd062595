"""The largest ball that touches a point from inside: values of the table of closed forms, section 10."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.distance import Nearest
from prep.geometry.inscribed_ball import Balls, inscribed_balls
from prep.geometry.solid import Solid
from tests.geometry.walled import box, rod, solid, wedge, without


def balls(body: Solid, point: list[float], normal: list[float], start: float = 60.0) -> Balls:
    """One ball at one point."""
    start_mm = np.array([start])
    return inscribed_balls(
        Nearest.of(body), body.triangle_normals, np.array([point]), np.array([normal]), start_mm, 60.0
    )


@pytest.mark.parametrize(
    ("angle", "expected"), [(10, 1.74977), (20, 3.52654), (30, 5.35898), (45, 8.28427), (60, 11.54701)]
)
def test_wedge_holds_twice_the_tangent_of_half_its_angle(angle: float, expected: float) -> None:
    """At 10 mm from the edge the ball is 2 x tan(angle / 2), and the wedge it reports is the angle."""
    body = solid(wedge(angle, 40.0, 60.0))  # the ball is started small enough to stay clear of the other faces
    found = balls(body, [10.0, 0.0, 30.0], [0.0, -1.0, 0.0], 1.2 * expected)
    assert found.diameter_mm[0] == pytest.approx(expected, rel=2e-5)
    assert found.wedge_deg[0] == pytest.approx(angle, abs=0.1)
    assert found.opposed_mm[0] == pytest.approx(expected, rel=2e-5)


def test_square_edge_holds_a_ball_but_opposes_nothing() -> None:
    """At x from a cube's edge the ball is 2 x; its two faces are square, so it is no wall."""
    found = balls(solid(box(20, 20, 20)), [10.0, 7.0, 0.0], [1.0, 0.0, 0.0], 19.0)
    assert found.diameter_mm[0] == pytest.approx(6.0, rel=2e-5)
    assert np.isinf(found.opposed_mm[0])


def test_tube_and_shell_hold_their_wall() -> None:
    """Tube and shell of radii 10 and 8 hold a ball of 2 mm, less what 256 facets cut away."""
    tube = solid(without(rod(30, 10, 256), rod(40, 8, 256)))
    facet = tube.corners[np.abs(tube.triangle_normals[:, 2]) < 1e-9]
    outer = facet[np.linalg.norm(facet[:, :, :2], axis=2).min(axis=1) > 9.9][0]
    x, y = outer[:, :2].mean(axis=0)
    normal = np.array([x, y, 0.0]) / np.hypot(x, y)
    found = balls(tube, [x, y, 0.0], normal.tolist(), 3.0)
    assert found.diameter_mm[0] == pytest.approx(2.0, rel=2e-3)


def test_rod_holds_its_own_inner_circle() -> None:
    """A long rod of n facets holds a ball of 2 r cos(pi / n) at the middle of a facet."""
    body = solid(rod(60, 10, 90))
    row = int(np.argmax(body.triangle_normals[:, 0]))
    edge = body.corners[row]
    middle = (edge.max(axis=0) + edge.min(axis=0)) / 2 * [1, 1, 0]
    found = balls(body, middle.tolist(), body.triangle_normals[row].tolist(), 30.0)
    assert found.diameter_mm[0] == pytest.approx(20.0 * np.cos(np.pi / 90), rel=1e-5)
    assert found.wedge_deg[0] == pytest.approx(0.0, abs=3.0)


def test_start_is_the_cap() -> None:
    """Nothing larger than the start is looked for."""
    assert balls(solid(box(20, 20, 20)), [10.0, 0.0, 0.0], [1.0, 0.0, 0.0], 3.0).diameter_mm[0] == 3.0
