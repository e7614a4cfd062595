"""From thin readings to thin spots."""

from __future__ import annotations

import numpy as np

from prep.geometry.double_normal import ShortestWays
from prep.geometry.rays import RayScene
from prep.geometry.thin_spots import Readings, find_spots, lowest_places
from tests.geometry.walled import box, solid


def plate_readings(values: np.ndarray, at: np.ndarray) -> Readings:
    """Readings on both faces of a plate of unit height."""
    up = np.tile([0.0, 0.0, 1.0], (len(at), 1))
    top, low = at + 0.5 * up, at - 0.5 * up
    return Readings(
        np.concatenate([top, low]),
        np.concatenate([up, -up]),
        np.concatenate([low, top]),
        np.tile(values, 2),
        np.zeros(2 * len(at)),
    )


GRID = np.stack([*np.meshgrid(np.arange(0, 20, 0.5), np.arange(0, 20, 0.5))], axis=-1).reshape(-1, 2)
AT = np.hstack([GRID, np.zeros((len(GRID), 1))])


def test_level_plate_is_one_place_near_its_middle() -> None:
    """Equal readings on both faces are one place, and it is taken near the middle, not at a corner."""
    readings = plate_readings(np.full(len(AT), 0.7), AT)
    places = lowest_places(readings, 0.5)
    assert len(places) == 1
    assert np.abs(readings.point[places[0]][:2] - 9.75).max() < 1.5


def test_two_dips_are_two_places_lowest_first() -> None:
    """Two separate dips give two places, whichever face they are read from."""
    first, second = np.linalg.norm(GRID - [4, 4], axis=1), np.linalg.norm(GRID - [15, 12], axis=1)
    readings = plate_readings(np.minimum(0.6 + 0.1 * first, 0.4 + 0.1 * second), AT)
    places = lowest_places(readings, 0.5)
    assert [readings.point[row][:2].tolist() for row in places] == [[15, 12], [4, 4]]


def test_no_readings_no_places() -> None:
    """Nothing thin, nothing found."""
    none = np.empty((0, 3))
    assert len(lowest_places(Readings(none, none, none, np.empty(0), np.empty(0)), 0.5)) == 0


def test_same_spot_from_both_faces_is_given_once() -> None:
    """Seeds on both faces of one wall lead to one spot."""
    body = solid(box(20, 20, 1))
    readings = plate_readings(np.ones(2), np.array([[1.0, 1.0, 0.0], [1.2, 1.0, 0.0]]))
    spots = find_spots(ShortestWays(body), RayScene([body]), readings, np.arange(4), 0.5, 2.0)
    assert [(spot.thickness_mm, spot.kind) for spot in spots] == [(1.0, "wall")]
