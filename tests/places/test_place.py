"""`Place`: a point, a direction in, a roll, and the frame of the three."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from prep.places.place import Place, triple, unit_of


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 9999), scale=st.sampled_from([1e-3, 1.0, 1e3]))
def test_a_frame_is_right_handed_and_looks_out(seed, scale) -> None:
    """Whatever directions are given, the frame is a rotation whose z runs out of the material."""
    random = np.random.default_rng(seed)
    at, inward, roll = random.normal(size=(3, 3)) * scale
    place = Place.of(at, inward, roll)
    turn = place.frame[:3, :3]
    assert turn.T @ turn == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(turn) == pytest.approx(1.0)
    assert turn[:, 2] == pytest.approx(-inward / np.linalg.norm(inward))
    assert place.frame[:3, 3] == pytest.approx(at)
    assert turn[:, 0] @ roll > 0.0


@pytest.mark.parametrize("inward", [(1, 0, 0), (0, -1, 0), (0, 0, 1), (1, 1, 1), (0.1, 0.2, -3)])
def test_a_roll_is_chosen_where_none_is_given(inward) -> None:
    """Without a roll one square to the direction is chosen, the same each time."""
    place = Place.of(np.zeros(3), np.array(inward, dtype=float))
    assert np.dot(place.roll, place.inward) == pytest.approx(0.0, abs=1e-12)
    assert np.linalg.norm(place.roll) == pytest.approx(1.0)
    assert Place.of(np.zeros(3), np.array(inward, dtype=float)) == place


def test_a_place_is_frozen() -> None:
    """A place cannot be changed."""
    with pytest.raises(ValidationError):
        Place.of(np.zeros(3), np.array([0.0, 0, 1])).at_mm = (1.0, 0.0, 0.0)


def test_triples_and_units() -> None:
    """Triples are plain floats without a negative zero; a direction is made one long."""
    assert str(triple(np.array([-0.0, 1, 2]))) == "(0.0, 1.0, 2.0)"
    assert unit_of((0.0, 3.0, 4.0)) == pytest.approx([0.0, 0.6, 0.8])
