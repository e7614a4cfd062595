"""`channel`, `channel_takes`, `groove`: cutters in closed form, and the cuts they leave."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from fixtures.drawn import box
from fixtures.gauges import first_hits, within
from prep.geometry.solid import Solid, Topology, subtract
from prep.geometry.wire_channel import channel, channel_takes, groove
from prep.geometry.wire_path import rounded
from prep.geometry.wire_route import WireRoute
from prep.geometry.wire_section import WireSection, ring_points

X, Y, Z = np.eye(3)
AREA = 2.0 * math.tan(math.pi / 8.0) * 2.2**2
"""Of a regular octagon 2.2 across flats."""


def way(points, past: float = 0.5) -> WireRoute:
    """A route along points, cut from end to end."""
    points = np.asarray(points, dtype=float)
    length = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    return WireRoute(points, length, 1.0, ((0, len(points) - 1),), length, 1, 2.2, 5.0, past, past)


def test_the_section() -> None:
    """Across flats as asked, its area the closed form; two round wires of half the width lie side by side in it."""
    corners = WireSection(2.2).corners
    sides = np.roll(corners, -1, axis=0) - corners
    normals = np.stack([sides[:, 1], -sides[:, 0]], axis=1) / np.linalg.norm(sides, axis=1)[:, None]
    np.testing.assert_allclose(np.einsum("ij,ij->i", normals, corners), 1.1, atol=1e-12)
    x, y = corners.T
    assert (x * np.roll(y, -1) - np.roll(x, -1) * y).sum() / 2.0 == pytest.approx(AREA)
    for middle in ([0.55, 0.0], [-0.55, 0.0]):
        assert (1.1 - normals @ np.array(middle)).min() >= 0.55 - 1e-12
    assert WireSection(2.2).area_mm2 == pytest.approx(AREA)


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_a_bent_tube(scale) -> None:
    """Its volume is area times length exactly, bends and mitres included; it is one body without handles."""
    line = rounded(np.array([[0, 0, 0], [20, 0, 0], [20, 30, 0], [20, 30, 25], [-9, 12, 30]], float), 4.0) * scale
    route = replace(way(line, 0.5 * scale), width_mm=2.2 * scale)
    (tube,) = channel(route, up=Z)
    long = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) + scale
    assert tube.volume_mm3 == pytest.approx(AREA * scale**2 * long, rel=2e-3)
    assert tube.topology == Topology(1, 0, 0)


def test_a_planar_tube_is_exact() -> None:
    """Bent in one level plane no ring turns against the next, and the volume is right to rounding."""
    line = rounded(np.array([[0, 0, 0], [20, 0, 0], [20, 30, 0], [50, 40, 0]], float), 4.0)
    (tube,) = channel(way(line), up=Z)
    long = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) + 1.0
    assert tube.volume_mm3 == pytest.approx(AREA * long, rel=1e-9)


def test_the_roof_lies_flat() -> None:
    """Where the channel lies level its top is a flat that faces up and no other face overhangs beyond 45 degrees."""
    line = rounded(np.array([[0, 0, 0], [20, 3, 0], [32, 30, 0]], float), 4.0)
    (tube,) = channel(way(line), up=Z)
    normals, areas = tube.triangle_normals, tube.triangle_areas
    flat = areas[normals[:, 2] > 0.999].sum()
    steep = (normals[:, 2] > math.cos(math.pi / 4.0) + 1e-6) & (normals[:, 2] < 0.999)
    assert areas[steep].sum() == pytest.approx(0.0, abs=1e-9)
    length = float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum()) + 1.0
    assert flat == pytest.approx(2.2 * math.tan(math.pi / 8.0) * length, rel=1e-6)


def test_rings_never_twist_far() -> None:
    """Down a way that climbs, levels and climbs again, no ring is turned by more than a flat against the one before."""
    line = rounded(np.array([[0, 0, 0], [0, 0, 20], [25, 5, 20], [30, 30, 22], [30, 30, 50]], float), 4.0)
    rings = ring_points(line, WireSection(2.2).corners, Z)
    spokes = rings[:, 0] - line
    spokes /= np.linalg.norm(spokes, axis=1)[:, None]
    assert np.einsum("ij,ij->i", spokes[:-1], spokes[1:]).min() > math.cos(math.radians(30.0))
    assert np.linalg.norm(rings - line[:, None], axis=2).min() >= WireSection(2.2).reach_mm - 1e-9


def test_what_it_takes() -> None:
    """Predicted within its own error of what the cut takes: a known length inside a block, the rest in the open."""
    host = Solid.of(*box((30.0, 30.0, 20.0), (0.0, 0.0, 0.0)))
    route = way([[-30, 0, 0], [-5, 0, 0], [30, 0, 0]])
    shared = channel_takes(host, route)
    assert shared.volume_mm3 == pytest.approx(AREA * 30.0, abs=shared.error_mm3)
    np.testing.assert_allclose(shared.centre_mm, 0.0, atol=0.1)
    assert shared.error_mm3 < 0.03 * shared.volume_mm3
    cut = subtract(host, channel(route, up=Z))
    assert host.volume_mm3 - cut.volume_mm3 == pytest.approx(AREA * 30.0, rel=1e-9)
    assert channel_takes(host, way([[-30, 40, 0], [30, 40, 0]])).volume_mm3 == 0.0


def test_a_groove_lets_the_wire_pass() -> None:
    """Across a mating face: open above and at both ends, the wire's width free from wall to wall down to its depth."""
    host = Solid.of(*box((30.0, 12.0, 10.0), (0.0, 0.0, -5.0)))
    cutter = groove(np.array([4.0, -6.0, 0.0]), np.array([4.0, 6.0, 0.0]), Z, width_mm=2.2)
    cut = subtract(host, [cutter])
    assert cut.topology == Topology(1, 0, 0)
    assert cut.bounds_mm[1, 2] == 0.0
    y = np.linspace(-5.9, 5.9, 9)
    wire = np.concatenate([[[4.0 + 1.05 * np.cos(a), v, -1.1 + 1.05 * np.sin(a)] for v in y]
                           for a in np.linspace(0, 6.2, 24)])  # fmt: skip
    assert not within((cut.vertices, cut.triangles), wire).any()
    ways = np.stack([Y, -Y, Z])
    assert np.isinf(first_hits(cut.corners, np.tile([4.0, 0.0, -1.1], (3, 1)), ways)[0]).all()
    floor, _ = first_hits(cut.corners, np.array([[4.0, 0.0, -1.0]]), -Z[None])
    assert floor[0] == pytest.approx(1.2)
    bevel = 2.2 * (1.0 - math.tan(math.pi / 8.0)) / 2.0
    assert host.volume_mm3 - cut.volume_mm3 == pytest.approx(12.0 * (2.2**2 - bevel**2), rel=1e-9)
