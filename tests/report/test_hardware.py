"""Items as shapes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.contract import Item
from prep.report.hardware import item_solid, item_tint, leading, other_pole
from prep.report.palette import METAL, NORTH, SOUTH


def an_item(**changes) -> Item:
    """A disc of 6 x 2 about the origin."""
    usual = {"id": "M1", "item": "disc", "kind": "magnet", "step": "s", "part": "p", "at_mm": (0, 0, 0),
             "axis": (0, 0, 1), "mass_g": 0.4, "pole_out": "N", "radius_mm": 3.0, "length_mm": 2.0}  # fmt: skip
    return Item(**(usual | changes))


@settings(max_examples=25, deadline=None)
@given(
    st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: float(np.dot(v, v)) > 0.05),
    st.sampled_from([1e-3, 1.0, 1e3]),
)
def test_an_item_is_a_disc_about_its_own_middle(axis, scale):
    """Whatever its axis, the shape has the volume of the disc, its middle, and its length along the axis."""
    item = an_item(axis=axis, at_mm=(5 * scale, -2 * scale, scale), radius_mm=3 * scale, length_mm=2 * scale)
    solid = item_solid(item)
    assert solid is not None
    # 64 sides around the circle: 64 tan(pi / 64) r² h
    assert solid.volume_mm3 == pytest.approx(64 * np.tan(np.pi / 64) * 9.0 * 2.0 * scale**3, rel=1e-6)
    assert solid.centre_mm == pytest.approx(np.array(item.at_mm), abs=1e-6 * scale)
    along = solid.vertices @ np.array(axis) / np.linalg.norm(axis)
    assert np.ptp(along) == pytest.approx(2.0 * scale, rel=1e-6)


def test_an_item_without_a_size_has_no_shape():
    """A ledger entry that only weighs something is not drawn as a disc."""
    assert item_solid(an_item(radius_mm=0.0)) is None


def test_magnets_are_tinted_by_the_pole_that_faces_out():
    """North, south and unknown differ; the far end carries the other letter."""
    assert item_tint(an_item()) == NORTH
    assert item_tint(an_item(pole_out="S")) == SOUTH
    assert item_tint(an_item(kind="ballast", pole_out=None)) == METAL
    assert [other_pole(pole) for pole in ("N", "S", None)] == ["S", "N", ""]


def test_what_closes_a_pocket_is_named_with_the_pocket():
    """Of a filling and its cap the filling leads; a cap of nothing stands alone."""
    items = [an_item(id=name) for name in ("P2", "P2 cap", "M1", "P9 cap")]
    assert [item.id for item in leading(items)] == ["P2", "M1", "P9 cap"]
