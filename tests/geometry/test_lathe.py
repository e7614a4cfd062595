"""Turned and extruded cutters: facets outside the curve, by no more than is said."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.gauges import first_hits
from prep.geometry.lathe import FACET_ERROR_MM, lathe, outline_area, prism, sides_for, slot_outline

HERE = np.eye(4)


def tangent_share(sides: int) -> float:
    """Area of a polygon about a circle over the circle's: n tan(pi / n) / pi."""
    return sides * math.tan(math.pi / sides) / math.pi


@settings(max_examples=25, deadline=None)
@given(radius=st.floats(0.05, 100.0))
def test_corners_stand_out_by_less_than_is_said(radius) -> None:
    """The number of sides keeps every corner within the facet error, at any radius."""
    sides = sides_for(radius)
    assert radius / math.cos(math.pi / sides) - radius <= FACET_ERROR_MM
    assert sides >= 48
    assert sides % 8 == 0


def test_a_point_has_sides_too() -> None:
    """A profile without radius is not a division by nothing."""
    assert sides_for(0.0) == 48


@pytest.mark.parametrize("radius", [1.5, 3.25, 10.25, 40.0])
def test_a_cylinder_is_never_undersized(radius) -> None:
    """From the axis every way to the wall is at least the radius and at most the facet error more."""
    cylinder = lathe(np.array([[radius, 0.0], [radius, 7.0]]), HERE)
    angle = np.linspace(0.0, 2.0 * math.pi, 721)
    ways = np.stack([np.cos(angle), np.sin(angle), np.zeros_like(angle)], axis=1)
    reach, _ = first_hits(cylinder.corners, np.full((721, 3), [0.0, 0.0, 3.3]), ways)
    assert reach.min() >= radius - 1e-9
    assert reach.max() <= radius + FACET_ERROR_MM
    assert cylinder.volume_mm3 == pytest.approx(math.pi * radius**2 * 7.0 * tangent_share(sides_for(radius)), rel=1e-9)


def test_a_turned_profile_in_closed_form() -> None:
    """A stepped and tapered profile has the sum of its frustums' volumes, times the share of its facets."""
    profile = np.array([[2.0, -4.0], [3.0, -1.0], [3.0, 2.0], [1.0, 2.0], [1.0, 5.0]])
    frustums = sum(
        math.pi * (z1 - z0) * (r0 * r0 + r0 * r1 + r1 * r1) / 3.0 for (r0, z0), (r1, z1) in itertools.pairwise(profile)
    )
    one = lathe(profile, HERE, sides=64)
    assert one.volume_mm3 == pytest.approx(frustums * tangent_share(64), rel=1e-9)
    assert one.topology.genus == 0
    assert one.topology.shells == 1


def test_the_frame_turns_and_moves() -> None:
    """A lathe in another frame stands where its frame says, with the same volume."""
    frame = np.array([[0.0, 0, 1, 1000], [1, 0, 0, -20], [0, 1, 0, 7], [0, 0, 0, 1]])
    one = lathe(np.array([[2.0, 0.0], [2.0, 9.0]]), frame)
    assert one.bounds_mm[:, 0] == pytest.approx([1000.0, 1009.0])
    assert one.centre_mm == pytest.approx([1004.5, -20.0, 7.0])


def test_a_prism_in_closed_form() -> None:
    """A convex outline pulled up has area times height; the outline of a slot is never undersized."""
    outline = slot_outline(4.0, 10.0)
    n = len(outline)
    area = n * math.tan(math.pi / n) * 16.0 + 80.0 / math.cos(math.pi / n) * math.cos(math.pi / n)
    assert outline_area(outline) == pytest.approx(area, rel=1e-4)
    assert outline_area(outline) >= math.pi * 16.0 + 80.0
    one = prism(outline, -2.0, 5.0, HERE)
    assert one.volume_mm3 == pytest.approx(7.0 * outline_area(outline), rel=1e-12)
    assert one.bounds_mm[:, 2] == pytest.approx([-2.0, 5.0])


@settings(max_examples=20, deadline=None)
@given(radius=st.floats(0.5, 20.0), length=st.floats(0.0, 60.0))
def test_a_slot_clears_its_circles(radius, length) -> None:
    """No side of a slot's outline comes nearer to the line between its middles than the radius."""
    outline = slot_outline(radius, length)
    start, end = outline, np.roll(outline, -1, axis=0)
    side = end - start
    normal = np.stack([side[:, 1], -side[:, 0]], axis=1)
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    for middle in (-length / 2.0, length / 2.0):
        assert (np.einsum("ij,ij->i", start - np.array([middle, 0.0]), normal)).min() >= radius - 1e-9
    assert np.linalg.norm(np.abs(outline) - [length / 2.0, 0.0], axis=1).max() <= radius + FACET_ERROR_MM + 1e-9


def test_outline_area_is_signed() -> None:
    """Counter-clockwise counts positive, clockwise negative."""
    square = np.array([[0.0, 0], [2, 0], [2, 2], [0, 2]])
    assert outline_area(square) == 4.0
    assert outline_area(square[::-1]) == -4.0
