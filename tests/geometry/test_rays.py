"""`RayScene`: first hits, in double precision."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, moved, scaled
from fixtures.gauges import first_hits
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid


@pytest.mark.parametrize("away", [0.0, 1000.0])
def test_distance_to_a_face_is_exact(away) -> None:
    """The way to a slanted or square face is right to 1e-9 mm, a metre from the origin as well."""
    scene = RayScene([Solid.of(*moved(box((200.0, 100.0, 40.0)), (away, away, away)))])
    middle = np.full(3, away)
    ways = np.array([[1.0, 0, 0], [0, -1.0, 0], [0, 0, 1.0], [0.6, 0.0, 0.8]])
    hits = scene.cast(np.broadcast_to(middle, (4, 3)).copy(), ways)
    assert hits.distance_mm == pytest.approx([100.0, 50.0, 20.0, 25.0], abs=1e-9)


def test_what_is_missed_is_infinite() -> None:
    """A ray that meets nothing has no triangle and no end; a wall behind it is not met."""
    scene = RayScene([Solid.of(*box())])
    hits = scene.cast(np.array([[0.0, 0, 20.0], [0.0, 0, 20.0]]), np.array([[0.0, 0, 1.0], [0.0, 0, -1.0]]))
    assert hits.distance_mm[0] == np.inf
    assert hits.triangle[0] == -1
    assert hits.distance_mm[1] == pytest.approx(15.0)
    assert scene.blocked(
        np.array([[0.0, 0, 20.0], [0.0, 0, 20.0]]), np.array([[0.0, 0, 1], [0.0, 0, -1]])
    ).tolist() == [
        False,
        True,
    ]


def test_the_solid_that_is_met_is_named() -> None:
    """Of several solids, the nearest is met, and which it was is told."""
    scene = RayScene([Solid.of(*box()), Solid.of(*moved(box(), (20.0, 0, 0)))])
    hits = scene.cast(np.array([[-30.0, 1, 2], [50.0, 1, 2]]), np.array([[1.0, 0, 0], [-1.0, 0, 0]]))
    assert scene.solid_of_triangle[hits.triangle].tolist() == [0, 1]
    assert hits.distance_mm == pytest.approx([25.0, 25.0])


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 999), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_hits_agree_with_every_triangle_tried(seed, scale) -> None:
    """Random rays at a random lump meet what trying every triangle in double precision meets, at every scale."""
    random = np.random.default_rng(seed)
    one = Solid.of(*scaled(blob(seed, subdivisions=2), scale))
    origins = random.normal(size=(40, 3)) * 12.0 * scale
    ways = random.normal(size=(40, 3)) * 3.0 * scale - origins
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    hits = RayScene([one]).cast(origins, ways)
    distance, _ = first_hits(one.corners, origins, ways)
    met = np.isfinite(distance)
    assert (np.isfinite(hits.distance_mm) == met).all()
    assert hits.distance_mm[met] == pytest.approx(distance[met], rel=1e-6, abs=2e-6 * scale)


def test_no_ray_slips_through_the_edges_of_a_ball() -> None:
    """Rays from the middle at every vertex and every edge of a ball are all stopped."""
    ball = Solid.of(*ico_sphere(10.0, 3))
    a, b, _ = ball.vertices[ball.triangles].transpose(1, 0, 2)
    ways = np.concatenate([ball.vertices, (a + b) / 2.0])
    ways = ways / np.linalg.norm(ways, axis=1)[:, None]
    assert RayScene([ball]).blocked(np.zeros_like(ways), ways).all()
