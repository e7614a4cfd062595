"""`Outline`: rounds, slots and rectangles about an axis."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.led_cavity_outline import Outline


def test_reach_of_a_slot_is_that_of_its_flat_and_its_end() -> None:
    """A 20 x 8 mm slot reaches 10 mm along, 4 mm across, and 4 mm from the middle of its end between."""
    slot = Outline.slot(20.0, 8.0)
    along, across, slant = slot.reach(np.array([0.0, math.pi / 2.0, 0.3]))
    assert (along, across) == pytest.approx((10.0, 4.0))
    tip = slant * np.array([math.cos(0.3), math.sin(0.3)])
    assert math.hypot(tip[0] - 6.0, tip[1]) == pytest.approx(4.0)


def test_area_and_length_of_a_slot() -> None:
    """A slot is a rectangle and two half circles."""
    slot = Outline.slot(20.0, 8.0)
    assert slot.area_mm2 == pytest.approx(12.0 * 8.0 + math.pi * 16.0)
    assert slot.length_mm == pytest.approx(24.0 + 8.0 * math.pi)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.5, 30.0), st.floats(0.5, 30.0), st.floats(0.2, 1.0), st.sampled_from([1e-3, 1.0, 1e3]))
def test_a_ring_never_lies_inside_its_outline(half_u: float, half_v: float, share: float, scale: float) -> None:
    """Where chords are a quarter of the corners, the polygon through a ring holds the outline and hugs it."""
    outline = Outline(scale * half_u, scale * half_v, scale * share * min(half_u, half_v))
    ring = outline.ring(outline.angles(min(outline.length_mm / 120.0, outline.corner_mm / 4.0)))
    edge = np.roll(ring, -1, axis=0) - ring
    normal = np.column_stack([edge[:, 1], -edge[:, 0]]) / np.linalg.norm(edge, axis=1)[:, None]
    angle = np.linspace(0.0, 2.0 * math.pi, 721)
    spots = outline.reach(angle)[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    beyond = ((spots[:, None] - ring[None]) * normal[None]).sum(axis=2).max(axis=1)
    assert beyond.max() <= 1e-9 * scale
    assert beyond.min() >= -0.04 * outline.corner_mm


def test_one_outline_holds_another() -> None:
    """A round of 8 mm holds a square of 5 mm and not one of 6 mm."""
    assert Outline.round(8.0).holds(Outline.rectangle(5.0, 5.0))
    assert not Outline.round(8.0).holds(Outline.rectangle(6.0, 6.0))


def test_the_outline_around_two_holds_both() -> None:
    """A recess and the slot across it are both within what is kept clear."""
    recess, slot = Outline.rectangle(4.0, 3.5), Outline.rectangle(7.0, 1.6)
    both = recess.around(slot)
    assert both.holds(recess)
    assert both.holds(slot)
    assert Outline.round(3.0).around(Outline.round(5.0)) == Outline.round(5.0)
