"""`find_contact`: the mating interface of two parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box, curved_pair, flush_pair, moved, nested_pair, scaled, stepped_pair, subdivided, turned
from fixtures.gauges import distances
from prep.errors import PartsApart
from prep.geometry.contact import fill_triangles, find_contact
from prep.geometry.solid import Solid


def solids(pair):
    """A drawn pair as two solids."""
    return Solid.of(*pair[0]), Solid.of(*pair[1])


@pytest.mark.parametrize("gap", [0.0, 0.3])
def test_a_flush_seam(gap) -> None:
    """The whole common face mates, with its area, its normals and the gap measured."""
    found = find_contact(*solids(flush_pair(gap=gap)), reach_mm=0.5, spacing_mm=0.8)
    assert found.area_mm2 == pytest.approx(40.0 * 30.0, rel=0.01)
    assert found.gaps_mm == pytest.approx(gap, abs=1e-9)
    assert (found.normals == [0.0, 0.0, 1.0]).all()
    assert np.abs(found.points[:, 2]).max() < 1e-12
    assert len(found.points) == pytest.approx(1200.0 / 0.64, rel=0.02)


def test_a_stepped_seam_has_both_levels_and_the_riser() -> None:
    """Both levels mate, and the riser between them where its gap allows."""
    lower, upper = stepped_pair(side_gap=0.2)
    found = find_contact(*solids((lower, upper)), reach_mm=0.5, spacing_mm=0.5)
    levels = found.points[np.abs(found.normals[:, 2]) > 0.9]
    assert set(np.round(levels[:, 2], 9)) == {0.0, 3.0}
    riser = found.points[np.abs(found.normals[:, 0]) > 0.9]
    assert len(riser) * 0.25 == pytest.approx(3.0 * 30.0, rel=0.15)
    apart = find_contact(*solids(stepped_pair(side_gap=0.8)), reach_mm=0.5, spacing_mm=0.5)
    assert np.abs(apart.normals[:, 0]).max() < 0.5


def test_a_nested_seam_has_floor_and_walls() -> None:
    """A block in a tray mates with the floor and, within reach, with all four walls."""
    found = find_contact(*solids(nested_pair(side_gap=0.2)), reach_mm=0.5, spacing_mm=0.6)
    assert {tuple(n) for n in np.round(found.normals).astype(int).tolist()} == {
        (0, 0, 1),
        (1, 0, 0),
        (-1, 0, 0),
        (0, 1, 0),
        (0, -1, 0),
    }


def test_a_curved_seam_follows_its_form() -> None:
    """On a dome the samples lie on the dome, their normals are those of its form, the gap is square to it."""
    found = find_contact(*solids(curved_pair(gap=0.2, cells=(60, 45))), reach_mm=0.5, spacing_mm=0.8)
    x, y = found.points[:, 0], found.points[:, 1]
    height = 2.0 * (1.0 - ((x / 20.0) ** 2 + (y / 15.0) ** 2) / 2.0)
    assert found.points[:, 2] == pytest.approx(height, abs=0.01)
    slope = np.stack([2.0 * x / 400.0, 2.0 * y / 225.0, np.ones_like(x)], axis=1)
    slope /= np.linalg.norm(slope, axis=1)[:, None]
    assert np.einsum("ij,ij->i", slope, found.normals).min() > math.cos(math.radians(1.5))
    assert found.gaps_mm == pytest.approx(0.2 * slope[:, 2], abs=0.01)
    assert found.area_mm2 == pytest.approx(1200.0 * np.mean(1.0 / slope[:, 2]), rel=0.02)


@pytest.mark.parametrize("scale", [1e-2, 1.0, 1e2])
def test_the_same_seam_at_any_scale_and_place(scale) -> None:
    """Turned, a metre away, finer meshed or scaled, the seam has the same area."""
    pair = [
        moved(turned(scaled(subdivided(part), scale), (1.0, 2.0, 0.5), 37.0), (1000.0, 400.0, -90.0))
        for part in flush_pair(gap=0.1)
    ]
    found = find_contact(*solids(pair), reach_mm=0.5 * scale, spacing_mm=0.8 * scale)
    assert found.area_mm2 == pytest.approx(1200.0 * scale**2, rel=0.02)
    assert found.gaps_mm == pytest.approx(0.1 * scale, rel=1e-6, abs=1e-7)


def test_samples_fill_triangles_evenly_and_alike() -> None:
    """Samples of a triangle lie in it, as many as its area asks, leave no large hole, and are the same each time."""
    corners = np.array([[[0.0, 0, 0], [30.0, 0, 0], [0.0, 20.0, 0]], [[0, 0, 5.0], [0.1, 0, 5.0], [0, 0.1, 5.0]]])
    points, owner = fill_triangles(corners, 1.0)
    assert np.bincount(owner).tolist() == [300, 1]
    assert points[-1] == pytest.approx([0.1 / 3.0, 0.1 / 3.0, 5.0])
    first = points[owner == 0]
    assert (first[:, :2] >= 0.0).all()
    assert (first[:, 0] / 30.0 + first[:, 1] / 20.0 <= 1.0 + 1e-12).all()
    grid = np.stack(np.meshgrid(np.arange(1.0, 29.0), np.arange(1.0, 19.0)), axis=-1).reshape(-1, 2)
    grid = grid[grid[:, 0] / 30.0 + grid[:, 1] / 20.0 < 0.95]
    away = np.linalg.norm(grid[:, None] - first[None, :, :2], axis=2).min(axis=1)
    assert away.max() < 1.7
    assert (fill_triangles(corners, 1.0)[0] == points).all()


@pytest.mark.parametrize(("shift", "apart"), [((0.0, 0.0, 3.0), 3.0), ((43.0, 0.0, 4.0), 5.0), ((0.0, 34.0, 0.0), 4.0)])
def test_parts_apart_are_refused_with_how_far(shift, apart) -> None:
    """Parts that do not meet are refused with the least distance between them, found by an independent measure."""
    lower, upper = flush_pair()
    upper = moved(upper, shift)
    fine = subdivided(lower, 4)[0]
    assert distances(upper, fine).min() == pytest.approx(apart, abs=1e-9)
    with pytest.raises(PartsApart) as fault:
        find_contact(*solids((lower, upper)), reach_mm=0.5, spacing_mm=0.8)
    assert f"{apart:.2f} mm apart" in fault.value.found
    assert "place" in fault.value.fix


def test_parts_side_by_side_do_not_mate() -> None:
    """Faces that touch but look the same way, or square to one another, are no seam."""
    with pytest.raises(PartsApart):
        find_contact(Solid.of(*box()), Solid.of(*box(centre=(0.0, 0.0, 0.3))), reach_mm=0.5, spacing_mm=0.5)
