"""Sharp wedges."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.creases import creases
from prep.geometry.wedges import Wedges, sharp_wedges
from tests.geometry.walled import box, solid, wedge


def found(body, deeper: float = 0.05) -> Wedges:
    """Wedges up to 60 degrees."""
    return sharp_wedges(body, creases(body, 25.0), 60.0, 30.0, deeper)


@pytest.mark.parametrize("angle", [5.0, 20.0, 44.0])
def test_wedge_gives_one_chain_with_its_angle_and_length(angle: float) -> None:
    """A wedge of 10 mm width is one chain, 10 mm long, with its own angle; other edges wider than 60 are none."""
    chains = found(solid(wedge(angle).refine(3))).chains
    sharp = [chain for chain in chains if np.hypot(*chain.at_mm[:2]) < 1e-9]
    assert len(sharp) == 1
    assert sharp[0].angle_deg == pytest.approx(angle, abs=1e-6)
    assert sharp[0].length_mm == pytest.approx(10.0)


def test_box_has_none() -> None:
    """A box has no sharp wedge."""
    assert found(solid(box(3, 2, 1))).chains == ()


def test_reading_near_the_edge_is_explained_by_it() -> None:
    """A thin reading between the two faces of a wedge is explained by the edge; the same reading of a slab is not."""
    wedges = found(solid(wedge(20)))
    low = np.array([[0.0, -1.0, 0.0]])
    high = np.array([[-np.sin(np.radians(20)), np.cos(np.radians(20)), 0.0]])
    at = np.array([[2.0, 0.0, 5.0]])
    width = np.array([2 * 2 * np.tan(np.radians(10))])
    assert wedges.explains(at, low, high, width, 0.4).tolist() == [True]
    assert wedges.explains(at, low, -low, width, 0.4).tolist() == [False]
    assert wedges.explains(at + np.array([6.0, 0, 0]), low, high, width, 0.4).tolist() == [False]
