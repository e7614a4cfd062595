"""`mask_form`: measures from the process, and the lips it refuses."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest

from fixtures.benches import shipped_tables
from prep.errors import LipTooThin
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.mask_fit import EdgeSpots
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from prep.places.mask_form import mask_form, refuse_thin_strips

FROM_PROCESS = {"gap_mm": None, "lip_mm": None, "wall_mm": None, "relief_mm": None, "reach_mm": None}


def process(name):
    """A row of the shipped processes."""
    return shipped_tables().processes.get(name)


# gap 0 to 0.1 mm, land 1 to 1.5, relief 0.5 to 1, lip about 0.76: common practice and one trade page
@pytest.mark.parametrize(
    ("name", "gap", "relief", "lip", "wall"),
    [("extrusion-0.4", 0.1, 0.8, 0.8, 1.8), ("jetting-0.027", 0.05, 0.5, 0.8, 1.6)],
)
def test_defaults(name, gap, relief, lip, wall):
    """What the recipe leaves out comes from the process."""
    form = mask_form(process(name), land_mm=1.2, **FROM_PROCESS)
    assert (form.gap_mm, form.relief_mm, form.lip_mm, form.wall_mm) == pytest.approx((gap, relief, lip, wall))


def test_every_process_makes_a_form():
    """Every shipped process gets a lip it prints, a wall no thinner, and relief above the gap."""
    for row in shipped_tables().processes.rows:
        form = mask_form(row, land_mm=1.2, **FROM_PROCESS)
        assert row.wall_limit_mm <= form.lip_mm <= form.wall_mm
        assert form.gap_mm < form.relief_mm


def test_recipe_wins():
    """What the recipe says is taken, the film under the land on top of the gap."""
    form = mask_form(
        process("jetting-0.027"),
        land_mm=1.0,
        gap_mm=0.02,
        lip_mm=1.0,
        wall_mm=2.0,
        relief_mm=0.7,
        reach_mm=9.0,
        film_mm=0.0375,
    )
    assert (form.gap_mm, form.relief_mm) == pytest.approx((0.0575, 0.7375))
    assert (form.land_mm, form.lip_mm, form.wall_mm, form.reach_mm) == (1.0, 1.0, 2.0, 9.0)


def test_profile():
    """The lip has its thickness over the land, parallel sides up the ramp, and the wall behind the step."""
    form = mask_form(process("extrusion-0.4"), land_mm=1.2, **FROM_PROCESS)
    s = np.array([0.3, 1.0, 1.2, 2.5, 3.2, 4.3, 9.0])
    assert form.underside(s)[2:] == pytest.approx([0.1, 0.8, 0.8, 0.8, 0.8])
    thick = form.outside(s) - np.maximum(form.underside(s), form.gap_mm)
    assert thick[0] == pytest.approx(0.8)
    assert thick[3:5] == pytest.approx([0.8, 0.8])
    assert thick[5:] == pytest.approx([1.8, 1.8])
    # on the ramp the thickness square to it is that along the skin's normal times cos 45
    assert (form.outside(np.array([1.4])) - form.underside(np.array([1.4])))[0] * np.sqrt(0.5) == pytest.approx(0.8)


def test_thin_lip():
    """A lip thinner than the process prints is a fault."""
    with pytest.raises(LipTooThin, match=r"0\.50 mm, limit 0\.80 mm") as raised:
        mask_form(process("extrusion-0.4"), land_mm=1.2, **{**FROM_PROCESS, "lip_mm": 0.5})
    assert "0.8 mm" in raised.value.fix


def _two_windows(strip):
    """A plate with two windows side by side in its top, a clean strip between them."""
    mesh = manifold3d.Manifold.cube([30, 20, 6]).to_mesh64()
    solid = Solid.of(np.array(mesh.vert_properties)[:, :3], np.array(mesh.tri_verts))
    skin = Skin.of(solid)
    inside = np.zeros(len(skin.triangles), dtype=bool)
    for low, high in ((5.0, 15.0 - strip / 2.0), (15.0 + strip / 2.0, 25.0)):
        limits = [(0, low, 1.0), (0, high, -1.0), (1, 5.0, 1.0), (1, 15.0, -1.0), (2, 3.0, 1.0)]
        cut = cut_half_spaces(skin, limits)
        skin, inside = cut.skin, inside[cut.parent] | cut.inside
    return Patch.of(skin, inside)


@pytest.mark.parametrize("strip", [0.3, 0.6])
def test_thin_strip(strip):
    """A clean strip between two windows that is narrower than the least wall is a fault, and says where."""
    patch = _two_windows(strip)
    with pytest.raises(LipTooThin, match=r"less than 0\.80 mm wide") as raised:
        refuse_thin_strips(patch, EdgeSpots.of(patch), process("extrusion-0.4"), 1.2)
    assert "(1" in raised.value.where


def test_wide_strip():
    """A strip wide enough passes."""
    patch = _two_windows(1.5)
    refuse_thin_strips(patch, EdgeSpots.of(patch), process("extrusion-0.4"), 1.2)
