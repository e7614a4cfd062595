"""Creases: how far and which way a surface turns at its edges."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.creases import creases, turn_inward_deg
from tests.geometry.walled import ball, box, rod, solid, wedge, without


def test_box_has_twelve_outward_creases() -> None:
    """A box's edges turn outward by a right angle, all twelve."""
    found = creases(solid(box(3, 2, 1)), 1.0)
    assert len(found.ends) == 12
    assert found.turn_deg == pytest.approx(90.0)
    assert not found.reflex.any()


def test_square_hole_has_four_inward_creases() -> None:
    """The four corners of a through hole turn inward; its mouths turn outward."""
    body = solid(without(box(9, 9, 4), box(3, 3, 9)))
    found = creases(body, 1.0)
    inward = body.vertices[found.ends[found.reflex]]
    length = np.linalg.norm(inward[:, 1] - inward[:, 0], axis=1)
    assert length.sum() == pytest.approx(4 * 4.0)
    assert np.abs(inward[:, :, :2]) == pytest.approx(1.5)


def test_turn_of_a_round_is_the_turn_of_its_facets() -> None:
    """A rod of n facets turns by 360 / n degrees along its side."""
    found = creases(solid(rod(5, 2, 24)), 1.0)
    assert np.unique(found.turn_deg.round(6)).tolist() == [15.0, 90.0]


def test_wedge_turns_by_the_rest_of_half_a_turn() -> None:
    """A wedge of 20 degrees turns by 160 degrees at its edge."""
    assert creases(solid(wedge(20)), 100.0).turn_deg.max() == pytest.approx(160.0)


def test_inward_turn_is_told_by_edge_and_corner() -> None:
    """A void's skin turns inward everywhere, the outer skin nowhere."""
    body = solid(without(box(9, 9, 9), ball(2, 12)))
    along_edge, at_corner = turn_inward_deg(body)
    inner = np.linalg.norm(body.vertices, axis=1) < 3
    assert at_corner[inner].all()
    assert not at_corner[~inner].any()
    assert (along_edge[inner[body.triangles].all(axis=1)] > 2.0).any()
    assert along_edge[~inner[body.triangles].any(axis=1)].max() == 0.0
