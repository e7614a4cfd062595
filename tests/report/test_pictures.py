"""Shaded pictures of parts: what they turn to the eye, and that they are written the same twice."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.image import imread

from fixtures import drawn
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid, subtract
from prep.report.changed import changed_triangles
from prep.report.palette import CHANGED, PAPER, linear
from prep.report.pictures import CORNER, apart, draw_map, draw_part, draw_walls, most_telling


def pocketed(below: bool):
    """A box with a pocket in its top or bottom."""
    box = Solid.of(*drawn.box((20.0, 20.0, 10.0)))
    cutter = Solid.of(*drawn.box((6.0, 6.0, 10.0), (0.0, 0.0, -8.0 if below else 8.0)))
    return box, subtract(box, [cutter])


@pytest.mark.parametrize(("below", "sign"), [(False, 1.0), (True, -1.0)])
def test_the_part_is_turned_to_show_what_was_done(below, sign):
    """A pocket in the bottom is seen from below, one in the top from the usual corner."""
    box, cut = pocketed(below)
    changed = changed_triangles(box, cut)
    direction = most_telling(cut, RayScene([cut]), changed)
    assert np.sign(direction[2]) == sign
    if not below:
        assert direction == pytest.approx(CORNER)


def test_what_a_step_made_is_tinted(tmp_path):
    """The tint of change is in the picture of the finished part where a pocket was cut, and not without one."""
    box, cut = pocketed(below=False)
    shares = []
    for solid, changed in ((cut, changed_triangles(box, cut)), (cut, np.zeros(len(cut.triangles), dtype=bool))):
        pixels = imread(draw_part(solid, tmp_path / "p.png", changed=changed))[..., :3]
        red = pixels[..., 0] - pixels[..., 2]
        shares.append(float((red > 0.25).mean()))
    assert shares[0] > 0.01
    assert shares[1] == 0.0
    assert linear(CHANGED)[0] > 3.0 * linear(CHANGED)[2]


def test_a_picture_is_written_the_same_twice(tmp_path, model, built):
    """The map of a part has the same bytes twice, the size promised, paper in its corner and no maker's mark."""
    items = [item for item in built.ledger.items if item.part == model.BODY]
    paths = [
        draw_map(built.after[model.BODY], items, np.array([0, 0, -1.0]), tmp_path / f"{k}.png", title="a$b$ 中 <i>")
        for k in "ab"
    ]
    first, second = (path.read_bytes() for path in paths)
    assert first == second
    assert b"tEXt" not in first
    assert b"tIME" not in first
    pixels = imread(paths[0])
    assert pixels.shape[:2] == (700, 900)
    assert tuple(np.round(pixels[2, 2, :3] * 255).astype(int)) == tuple(int(PAPER[k : k + 2], 16) for k in (1, 3, 5))


def test_walls_are_drawn_with_places_that_have_none(tmp_path, model, built):
    """A map of walls takes thickness with gaps in it."""
    solid = built.after[model.BODY]
    thickness = np.where(solid.vertices[:, 2] > 8.0, np.nan, 2.0)
    assert draw_walls(solid, thickness, 1.2, tmp_path / "w.png", title="walls").stat().st_size > 10_000


boxes = st.lists(
    st.tuples(*[st.floats(-50.0, 50.0)] * 3, *[st.floats(0.5, 40.0)] * 3).map(
        lambda v: np.array([v[:3], np.add(v[:3], v[3:])])
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=60, deadline=None)
@given(boxes, st.sampled_from([1e-3, 1.0, 1e3]))
def test_parts_taken_apart_do_not_overlap_and_move_along_one_axis(bounds, scale):
    """However parts lie, apart they keep a gap along the axis, their order, and the rest of their place."""
    named = {f"p{k}": box * scale for k, box in enumerate(bounds)}
    shifts = apart(named)
    moved = np.array([named[name] + shifts[name] for name in named])
    axes = {int(np.argmax(np.abs(shift))) for shift in shifts.values() if np.any(shift)}
    assert len(axes) <= 1
    assert all(np.count_nonzero(shift) <= 1 for shift in shifts.values())
    if axes:
        axis = axes.pop()
        order = np.argsort([box[:, axis].mean() for box in named.values()], kind="stable")
        spans = moved[order][:, :, axis]
        assert (spans[1:, 0] > spans[:-1, 1]).all()
