"""Walls measured in a section."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.report.section_measures import wall_beside


def rectangle(left, bottom, right, top):
    """A counter-clockwise outline."""
    return np.array([[left, bottom], [right, bottom], [right, top], [left, top]], dtype=float)


def slotted(slant=0.0, clearance=0.1, wall=1.5):
    """A block with a slot open at the top, 6 wide plus its air, and an outside on the right that leans by `slant`."""
    half = 3.0 + clearance
    lean = np.tan(np.radians(slant))
    return np.array(
        [
            [-20, -10],
            [half + wall + 10 * lean, -10],
            [half + wall - 4 * lean, 4],
            [half, 4],
            [half, 0],
            [-half, 0],
            [-half, 4],
            [-20, 4],
        ],
        dtype=float,
    )


@settings(max_examples=30, deadline=None)
@given(st.floats(0.0, 0.6), st.floats(0.2, 5.0), st.sampled_from([1e-3, 1.0, 1e3]), st.floats(0.0, 6.28))
def test_an_upright_wall_is_its_thickness(clearance, wall, scale, turn):
    """Air beside the item does not count, nor scale, nor how the section lies on the sheet."""
    matrix = scale * np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    side = np.array([[3.0, 0.5], [3.0, 2.5]]) @ matrix
    span = wall_beside([slotted(0.0, clearance + 1e-6, wall) @ matrix], (side[0], side[1]), reach_mm=scale)
    assert span is not None
    assert span.length_mm == pytest.approx(wall * scale, rel=1e-6)


def test_a_slanting_outside_is_measured_square_to_it():
    """Beside an outside that leans by 20 degrees the least wall is not the level one."""
    outline = slotted(20.0)
    span = wall_beside([outline], (np.array([3.0, 0.5]), np.array([3.0, 2.5])), reach_mm=1.0)
    assert span is not None
    # closed form: the topmost of 33 places, level distance times cos 20°
    top = 0.5 + 2.0 * (32.5 / 33.0)
    level = 1.5 - top * np.tan(np.radians(20.0))
    assert span.length_mm == pytest.approx(level * np.cos(np.radians(20.0)), rel=1e-9)


def test_a_brute_force_search_over_the_outline_agrees():
    """The nearest of 200 000 places on a curved outside is as far as the span says."""
    turn = np.linspace(0.0, np.pi, 181)
    outside = np.stack([9.0 * np.cos(turn), 7.0 * np.sin(turn)], axis=1)
    pocket = rectangle(2.0, 1.0, 5.0, 3.0)[::-1]
    span = wall_beside([outside, pocket], (np.array([5.0, 1.0]), np.array([5.0, 3.0])), reach_mm=1.0)
    assert span is not None
    # outside route: dense places on both, no rays
    dense = np.concatenate([np.linspace(a, b, 1200) for a, b in itertools.pairwise(outside)])
    starts = np.stack([np.full(33, 5.0), 1.0 + 2.0 * (np.arange(33) + 0.5) / 33], axis=1)
    least = min(float(np.linalg.norm(dense - start, axis=1).min()) for start in starts)
    assert span.length_mm == pytest.approx(least, abs=1e-5)


def test_an_item_in_the_material_itself_has_no_air_to_pass():
    """With no pocket drawn around the item the wall begins at its side."""
    span = wall_beside([rectangle(-10, -10, 5, 10)], (np.array([3.0, 0.0]), np.array([3.0, 2.0])), reach_mm=1.0)
    assert span is not None
    assert span.length_mm == pytest.approx(2.0)


def test_a_side_without_material_in_reach_has_no_wall():
    """The open mouth of a pocket, a far wall across a hollow and an empty section give none."""
    up = (np.array([3.0, 2.5]), np.array([-3.0, 2.5]))
    assert wall_beside([slotted()], up, reach_mm=1.0) is None
    far = (np.array([3.0, 0.0]), np.array([3.0, 2.0]))
    assert wall_beside([rectangle(8, -5, 10, 5)], far, reach_mm=1.0) is None
    assert wall_beside([], far, reach_mm=1.0) is None


def test_thick_material_is_no_wall():
    """A side whose material is thicker than asked for has none, however near the outside lies aslant."""
    side = (np.array([3.0, 0.5]), np.array([3.0, 2.5]))
    assert wall_beside([slotted()], side, reach_mm=1.0, most_mm=1.4) is None
    assert wall_beside([slotted()], side, reach_mm=1.0, most_mm=1.6) is not None


def test_the_face_a_pocket_opens_on_is_no_wall():
    """Right at its mouth a pocket is near the face it opens on, and that is not measured."""
    side = (np.array([3.0, 0.5]), np.array([3.0, 3.999]))
    span = wall_beside([slotted(wall=1.5)], side, reach_mm=1.0)
    assert span is not None
    assert span.length_mm == pytest.approx(1.5)
