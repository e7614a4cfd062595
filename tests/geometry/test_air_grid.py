"""`AirGrid`: air one sees and hidden air, on forms where both are known."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box
from prep.geometry.air_grid import PEEP_MM, air_grid, outer_skin
from prep.geometry.solid import Solid, subtract

DOWN = np.array([0.0, 0.0, -1.0])


def cup(gap: float = 0.0) -> tuple[Solid, Solid]:
    """A cup open below, 2 mm walls, and a lid so far under its rim."""
    shell = subtract(
        Solid.of(*box((30.0, 30.0, 20.0), (0.0, 0.0, 10.0))), [Solid.of(*box((26.0, 26.0, 20.0), (0.0, 0.0, 8.0)))]
    )
    return shell, Solid.of(*box((30.0, 30.0, 2.0), (0.0, 0.0, -1.0 - gap)))


def volume(grid, mask) -> float:
    """Of the cells of a mask."""
    return float(mask.sum()) * grid.side**3


def test_material_is_counted_right() -> None:
    """Cells of the part and of the lid fill their volumes to a layer of half a cell."""
    shell, lid = cup()
    grid = air_grid(shell, [lid], 0.7)
    assert volume(grid, grid.host) == pytest.approx(shell.volume_mm3, rel=0.05)
    assert volume(grid, grid.other) == pytest.approx(lid.volume_mm3, rel=0.2)
    assert not (grid.host & grid.other).any()
    assert not (grid.outer & (grid.host | grid.other)).any()


@pytest.mark.parametrize("gap", [0.0, 0.2, 1.0])
def test_under_a_lid_air_is_hidden(gap) -> None:
    """With the lid on, play and all, the cup's inside is hidden and its outside is not."""
    shell, lid = cup(gap)
    grid = air_grid(shell, [lid], 0.7)
    assert not grid.is_outer(np.array([[0.0, 0.0, 9.0], [11.0, 11.0, 3.0]])).any()
    assert grid.is_outer(np.array([[0.0, 0.0, 21.5], [16.5, 0.0, 9.0], [0.0, 0.0, -4.5]])).all()


def test_a_lid_ajar_lays_the_inside_open() -> None:
    """Behind a gap twice as wide as what hides, the inside is air one sees."""
    shell, lid = cup(2.0 * PEEP_MM)
    grid = air_grid(shell, [lid], 0.7)
    assert grid.is_outer(np.array([[0.0, 0.0, 9.0]])).all()


def test_a_part_alone() -> None:
    """Alone an open cup's inside is seen; with its open side said to be hidden it is not, and the rest still is."""
    shell, _ = cup()
    inside = np.array([[0.0, 0.0, 9.0]])
    assert air_grid(shell, [], 0.7).is_outer(inside).all()
    grid = air_grid(shell, [], 0.7, DOWN)
    assert not grid.is_outer(inside).any()
    assert grid.is_outer(np.array([[16.5, 0.0, 9.0]])).all()


def test_the_skin_one_sees() -> None:
    """Distances to it: from the outside wall, past the hidden ceiling, and none to the rim under the lid."""
    shell, lid = cup()
    grid = air_grid(shell, [lid], 0.7)
    skin = outer_skin(shell, grid)
    assert skin is not None
    found = skin.query(np.array([[14.0, 0.0, 9.0], [0.0, 0.0, 18.5], [0.0, 0.0, 9.0]])).distance_mm
    np.testing.assert_allclose(found, [1.0, 1.5, 11.0], atol=1e-9)
    rim = skin.query(np.array([[13.3, 0.0, 0.0]])).distance_mm[0]
    assert 1.7 - 0.7 - 1e-9 <= rim <= 1.7 + 1e-9


def test_within_a_box_nothing_is_seen() -> None:
    """A part wholly inside a closed case has no skin that one sees."""
    case = subtract(Solid.of(*box((40.0, 40.0, 40.0), (0, 0, 0))), [Solid.of(*box((36.0, 36.0, 36.0), (0, 0, 0)))])
    part = Solid.of(*box((10.0, 10.0, 10.0), (0, 0, 0)))
    assert outer_skin(part, air_grid(part, [case], 1.0)) is None
