"""A window as a region of the skin."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from prep.places.pane import Pane

ROUND = Pane((1.0, 2.0, 10.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "round", (4.0, 4.0), 0.0, 0.8, 0.3, 0.5, (0,))
SLOT = replace(ROUND, shape="slot", half_mm=(6.0, 3.0), corner_mm=1.0)


@pytest.mark.parametrize("pane", [ROUND, SLOT])
def test_grid_fills_the_outline_evenly(pane: Pane) -> None:
    """Grid points lie in the outline, about its middle, and each stands for its share of the area."""
    grid = pane.grid(101)
    flat = pane.flat(grid)
    assert pane.outlined(flat).all()
    assert flat.mean(axis=0) == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)
    step = 2.0 * max(pane.half_mm) / 101
    assert len(grid) * step**2 == pytest.approx(pane.area_mm2, rel=0.02)


def test_skin_belongs_to_it_with_a_halo_of_its_wall() -> None:
    """Skin within the outline, or no farther beside it than the wall is thick, belongs to the window; deeper not."""
    points = np.array([[1.0, 2.0, 10.3], [5.7, 2.0, 10.0], [5.9, 2.0, 10.0], [1.0, 2.0, 9.0]])
    assert ROUND.holds(points).tolist() == [True, True, False, False]
    assert ROUND.holds(points, inward_mm=0.8).tolist() == [True, True, False, True]


def test_corners_of_a_slot_are_cut_off() -> None:
    """A point in the very corner of the rectangle lies outside the rounded outline."""
    flat = np.array([[5.9, 2.9, 0.0], [5.9, 0.0, 0.0], [0.0, 2.9, 0.0]])
    assert SLOT.outlined(flat).tolist() == [False, True, True]


def test_rays_go_out_through_it() -> None:
    """A ray from below that crosses the outline goes out by the window; one that misses it or points back does not."""
    start = np.array([[1.0, 2.0, 0.0]] * 3)
    way = np.array([[0.0, 0.0, 1.0], [0.7, 0.0, 0.7], [0.0, 0.0, -1.0]])
    assert ROUND.lets_out(start, way).tolist() == [True, False, False]


def test_slanted_paths_into_its_pocket_are_its_edge() -> None:
    """A path from skin just beside the window that ends under it is its soft edge; one that ends elsewhere is not."""
    start = np.array([[6.5, 2.0, 10.0], [6.5, 2.0, 10.0], [12.0, 2.0, 10.0]])
    end = np.array([[4.9, 2.0, 8.0], [8.0, 2.0, 8.0], [4.9, 2.0, 8.0]])
    assert ROUND.edged(start, end).tolist() == [True, False, False]


def test_the_halo_follows_a_slanted_skin() -> None:
    """On skin at 30 degrees to the window's plane the halo lies deeper than the outline, and is the window's still."""
    slope = np.tan(np.radians(30.0))
    slanted = replace(ROUND, depth_mm=4.0 * slope)
    aside = np.array([3.9, 4.7, 5.3])
    points = np.column_stack([1.0 + aside, np.full(3, 2.0), 10.0 - slope * aside])
    assert slanted.holds(points).tolist() == [True, True, False]
