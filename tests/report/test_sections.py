"""True sections: what the plane cuts, how items lie in it, and what is written beside them."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest

from fixtures import drawn
from prep.contract import View
from prep.geometry.solid import Solid
from prep.report.section_items import cut_items, facing_pairs, filled, walls_of
from prep.report.section_plane import Plane
from prep.report.sections import draw_section


def plane_at(at, normal, span=20.0):
    """The plane of a view."""
    return Plane.of(View(title="", part="body", at_mm=at, normal=normal, span_mm=span))


def area(ring):
    """Area of a closed outline, shoelace formula."""
    x, y = ring.T
    return 0.5 * float(x @ np.roll(y, -1) - np.roll(x, -1) @ y)


def test_a_magnet_cut_beside_its_axis_is_a_chord_wide(model):
    """Half way out a disc of radius 3 and length 2 shows as 2 sqrt(9 - 1.5²) by 2."""
    magnet = next(item for item in model.items() if item.id == "M1")
    x, y, z = magnet.at_mm
    (cut,) = cut_items(plane_at((x, y + 1.5, z), (0.0, 1.0, 0.0)), [magnet])
    width, height = np.ptp(cut.outline, axis=0)
    assert height == pytest.approx(2.0, abs=1e-9)
    assert width == pytest.approx(2.0 * np.sqrt(9.0 - 2.25), abs=0.015)  # facets stand up to 0.004 mm outside
    assert cut.lies_in_plane
    assert cut.axis[1] < -0.99  # M1 sits above the seam and faces down


def test_a_plane_that_misses_an_item_shows_none(model):
    """Just past the rim there is nothing, and square to the axis there is a round."""
    magnet = next(item for item in model.items() if item.id == "M1")
    x, y, z = magnet.at_mm
    assert cut_items(plane_at((x, y + 3.1, z), (0.0, 1.0, 0.0)), [magnet]) == []
    (cut,) = cut_items(plane_at((x, y, z), (0.0, 0.0, 1.0)), [magnet])
    assert not cut.lies_in_plane
    assert area(cut.outline) == pytest.approx(9.0 * np.pi, rel=2e-3)


def test_the_walls_of_the_model_are_those_it_was_drawn_with(model):
    """Rim 18, seats of radius 3.1 about 13.5: 1.4 mm beside each magnet, above it the crown."""
    _, after = model.solids()
    plane = plane_at((13.5, 0.0, 0.0), (0.0, 1.0, 0.0))
    cut = next(c for c in cut_items(plane, model.items()) if c.item.id == "M1")
    spans = walls_of(cut, plane.cut(after[model.BODY]), 5.0)
    # 18 - 13.5 - 3.1 outside, and 13.5 - 3.1 - 9 inside, where the section is through the axis of both
    assert min(span.length_mm for span in spans) == pytest.approx(1.4, abs=0.01)


def test_a_filling_is_drawn_out_to_the_walls_of_its_pocket(model):
    """Shot in a slot wider than its recorded radius fills it; a magnet in the same slot stays a disc."""
    slot = np.array([[-20, -10], [20, -10], [20, 5], [9, 5], [9, 0], [-7, 0], [-7, 5], [-20, 5]], dtype=float)
    shot = next(item for item in model.items() if item.id == "B1").model_copy(
        update={"at_mm": (0.0, 0.0, 2.0), "axis": (0.0, 0.0, 1.0), "length_mm": 4.0}
    )
    plane = plane_at((0.0, 0.0, 0.0), (0.0, -1.0, 0.0))
    for kind, width in (("ballast", 16.0), ("magnet", 4.0)):
        (cut,) = cut_items(plane, [shot.model_copy(update={"kind": kind})])
        ring = filled(cut, [slot]).outline
        assert np.ptp(ring, axis=0) == pytest.approx([width, 4.0], abs=0.01)
        assert area(ring) == pytest.approx(4.0 * width, rel=0.003)


def test_paired_magnets_are_found_once(model):
    """Both pairs of the seam face one another in a section along the line of magnets."""
    cuts = cut_items(plane_at((0.0, 0.0, 0.0), (0.0, 1.0, 0.0)), model.items())
    pairs = [(first.item.id, second.item.id) for first, second in facing_pairs(cuts)]
    assert pairs == [("M1", "M2"), ("M3", "M4")]


def test_a_section_keeps_z_up_and_does_not_mirror():
    """Seen against the normal, x runs right where the eye stands at -y, and z runs up."""
    plane = plane_at((0.0, 0.0, 0.0), (0.0, -1.0, 0.0))
    assert plane.right == pytest.approx([1.0, 0.0, 0.0])
    assert plane.up == pytest.approx([0.0, 0.0, 1.0])
    left, right = plane.spot(np.array([-1.0, 0.0])), plane.spot(np.array([1.0, 2.0]))
    assert right[0] > left[0]
    assert right[1] < left[1]


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_the_cut_of_a_ball_has_the_area_of_its_circle(scale):
    """At half the radius pi (R² - d²), at every scale."""
    vertices, triangles = drawn.uv_sphere(10.0, 256, 128)
    ball = Solid.of(vertices * scale, triangles)
    (ring,) = plane_at((0.0, 0.0, 5.0 * scale), (0.0, 0.0, 1.0), 20.0 * scale).cut(ball)
    assert area(ring) == pytest.approx(np.pi * 75.0 * scale**2, rel=1e-3)  # facets of 256 lie up to 1e-4 inside


def test_picture_and_drawing_are_written_the_same_twice(built, tmp_path):
    """PNG and SVG have the same bytes twice, no date in them, and the SVG is well formed."""
    view = built.views[0]
    paths = []
    for turn in "ab":
        folder = tmp_path / turn
        paths.append(draw_section(view, built.after, built.ledger.items, folder / "s.png", folder / "s.svg"))
    for first, second in zip(*paths, strict=True):
        assert first.read_bytes() == second.read_bytes()
    text = paths[0][1].read_text()
    ET.fromstring(text)  # noqa: S314  a file this test has just written
    assert re.search(r"20\d\d-\d\d-\d\d", text) is None


def test_a_plane_in_the_air_is_drawn_with_its_word(built, tmp_path):
    """A view that meets no material gives a sheet that says so rather than a fault."""
    view = View(title="air", part="body", at_mm=(0.0, 500.0, 0.0), normal=(0.0, 1.0, 0.0), span_mm=10.0)
    picture, drawing = draw_section(view, built.after, built.ledger.items, tmp_path / "s.png", tmp_path / "s.svg")
    assert picture.stat().st_size > 1000
    assert "no material" in drawing.read_text()
