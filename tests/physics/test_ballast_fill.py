"""`Filling`: shot under its plug, and pieces with glue in all the room they leave."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.benches import shipped_tables
from prep.geometry.pocket import Pocket
from prep.physics.ballast_fill import fillings

TABLES = shipped_tables()
EPOXY = TABLES.adhesives.get("two-part epoxy")


def ways(name: str, radius: float, deepest: float = 12.0, plug: float = 1.5):
    """Ways to fill a round pocket, with the pocket."""
    pocket = Pocket(np.eye(3), np.zeros(2), radius, deepest_mm=deepest)
    row = TABLES.ballast.get(name)
    return pocket, list(fillings(pocket, row, smallest_mm=1.5, fit_mm=0.3, plug_mm=plug, glue=EPOXY))


def test_glue_around_washers_by_hand() -> None:
    """Three M10 washers, 20 x 10.5 x 2 mm, in a round of 20.6 mm: all the room up to the rim is glue or steel.

    Area 333.2916 mm2. Over: 333.2916 x 1.5 x 1.15e-3 = 0.574928 g. Steel: 3 x 455.1382 = 1365.4147 mm3; beside and in
    the holes 333.2916 x 6 - 1365.4147 = 634.3349 mm3, 0.729485 g.
    """
    pocket, found = ways("M10 washer", 10.3)
    assert pocket.area_mm2 == pytest.approx(333.2916, rel=4e-4)  # facets stand outside the round
    facets = pocket.area_mm2 - 333.2916
    three = next(filling for filling in found if filling.count == 3)
    assert three.least_mm == pytest.approx(7.5)
    assert three.deepest_mm(pocket) == three.least_mm
    content = three.content(pocket, 7.5)
    assert content.mass_g == pytest.approx(1365.4147 * 7.85e-3, rel=1e-6)
    assert content.plug_g - facets * 1.5 * 1.15e-3 == pytest.approx(0.574928, abs=1e-6)
    assert content.beside_g - facets * 6.0 * 1.15e-3 == pytest.approx(0.729485, abs=1e-6)
    assert content.glue_g == content.plug_g + content.beside_g


def test_a_deeper_pocket_takes_more_glue() -> None:
    """Level with the rim means to the rim: a millimetre more is one of glue over the whole area."""
    pocket, (one, *_) = ways("M10 washer", 10.3)
    more = one.content(pocket, one.least_mm + 1.0).glue_g - one.content(pocket, one.least_mm).glue_g
    assert more == pytest.approx(333.2916 * 1.15e-3, rel=4e-4)


def test_pieces_without_a_cap_lie_loose() -> None:
    """No plug, no glue: neither over nor beside them."""
    pocket, (one, *_) = ways("M10 washer", 10.3, plug=0.0)
    content = one.content(pocket, one.least_mm)
    assert one.least_mm == pytest.approx(2.0)
    assert content.glue_g == 0.0


def test_shot_keeps_its_freedom_and_its_plug() -> None:
    """Shot fills from the floor to the plug, at any depth the walls allow; 64 % of bulk is no glue."""
    pocket, (shot,) = ways("steel shot 2 mm", 6.0)
    assert shot.deepest_mm(pocket) == 12.0
    content = shot.content(pocket, 10.0)
    area = pocket.area_mm2
    assert area == pytest.approx(np.pi * 36.0, rel=5e-4)
    assert content.mass_g == pytest.approx(area * 8.5 * 7.85e-3 * 0.601)
    assert content.glue_g == pytest.approx(area * 1.5 * 1.15e-3)
