"""Equal points made one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import prep.geometry.weld
from prep.geometry.weld import exact_weld


def brute(points):
    """First appearance of each distinct point, by a dictionary."""
    seen: dict[tuple[float, ...], int] = {}
    return [seen.setdefault(tuple(point), len(seen)) for point in (points + 0.0).tolist()], list(seen)


@settings(max_examples=80, deadline=None, derandomize=True)
@given(
    st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 1.0, -1.0, 0.5, 1e-30, 3.25])] * 3), max_size=60),
    st.sampled_from([np.float32, np.float64]),
    st.sampled_from([1e-3, 1.0, 1e3]),
)
def test_agrees_with_a_dictionary(rows, kind, scale):
    """The distinct points in order of appearance, as a plain loop finds them."""
    points = (np.array(rows, dtype=np.float64).reshape(-1, 3) * scale).astype(kind)
    first, inverse = exact_weld(points)
    number, distinct = brute(points)
    assert inverse.tolist() == number
    assert (points[first] + 0.0).tolist() == [list(point) for point in distinct]


def test_one_bit_apart_stays_apart():
    """Neighbouring floating numbers are two points."""
    points = np.array([[1.0, 2.0, 3.0], [1.0, np.nextafter(2.0, 3.0), 3.0]])
    assert len(exact_weld(points)[0]) == 2


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_when_hashes_collide(monkeypatch, kind):
    """With a hash that takes all points for one, the answer is the same."""
    points = np.random.default_rng(1).integers(0, 4, (500, 3)).astype(kind)
    first, inverse = exact_weld(points)
    monkeypatch.setattr(prep.geometry.weld, "_hash", lambda bits: np.zeros(len(bits), dtype=np.uint64))
    again = exact_weld(points)
    np.testing.assert_array_equal(first, again[0])
    np.testing.assert_array_equal(inverse, again[1])
    assert len(first) == len(np.unique(points, axis=0))


def test_not_a_number_is_itself():
    """Points that are no numbers weld by their bits, so that reading can refuse them by name."""
    points = np.array([[np.nan, 0, 0], [np.nan, 0, 0], [0, 0, 0]], dtype=np.float32)
    assert exact_weld(points)[1].tolist() == [0, 0, 1]
