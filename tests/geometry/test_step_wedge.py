"""The step wedge: floors as thick as asked, measured by rays through its bare triangles; codes that can be read."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.step_wedge import SEGMENTS, code_of, step_wedge

STEPS = (0.4, 0.6, 0.8, 1.2, 1.6, 2.4, 3.2)


def through(solid, origin, direction):
    """Lengths of plastic along a ray, by intersecting every triangle in numpy."""
    a, b, c = (solid.vertices[solid.triangles[:, k]] for k in range(3))
    direction = np.asarray(direction, dtype=float)
    h = np.cross(direction, c - a)
    det = np.einsum("ij,ij->i", b - a, h)
    with np.errstate(divide="ignore", invalid="ignore"):  # triangles along the ray have no crossing
        s = np.asarray(origin) - a
        u = np.einsum("ij,ij->i", s, h) / det
        q = np.cross(s, b - a)
        v = q @ direction / det
        t = np.einsum("ij,ij->i", c - a, q) / det
        hit = (np.abs(det) > 1e-12) & (u > 0) & (v > 0) & (u + v < 1)
    return np.diff(np.sort(t[hit]))[::2]


@pytest.mark.parametrize("standing", [False, True])
def test_floors_are_as_thick_as_asked(standing):
    """A ray through the middle of each well meets plastic of that step's thickness, and none in the open window."""
    solid, wells = step_wedge(STEPS, standing=standing)
    way = (0.0, -1.0, 0.0) if standing else (0.0, 0.0, 1.0)
    assert [well.thickness_mm for well in wells] == [0.0, *STEPS]
    for well in wells:
        start = np.array(well.middle_mm) - 20.0 * np.array(way) + np.array([0.013, 0.017, 0.011])
        lengths = through(solid, start, way)
        if well.thickness_mm:
            assert lengths.tolist() == pytest.approx([well.thickness_mm], abs=1e-9)
        else:
            assert len(lengths) == 0


def test_one_body_with_one_opening_and_the_volume_of_its_sums():
    """One shell, one handle; its volume is the bar less the wells less the numerals."""
    solid, wells = step_wedge(STEPS, stroke_mm=0.8, mark_mm=0.6)
    assert (solid.topology.shells, solid.topology.genus, solid.topology.sealed_voids) == (1, 1, 0)
    length, width, height = solid.extents_mm
    assert (length, width, height) == pytest.approx((15.0 * 8 + 3.0, 8 * 0.8 + 15.0, 6.2))
    wanted = length * width * height - sum(144.0 * (height - well.thickness_mm) for well in wells)
    wanted -= 0.6 * sum(ink(well.code, 0.8) for well in wells)
    assert solid.volume_mm3 == pytest.approx(wanted, rel=1e-9)


def ink(code, stroke):
    """Area of a code, counted on a raster of tenths of a stroke."""
    wide, tall, s = 32, 56, 10
    total = 0
    for sign in code:
        if sign == ".":
            total += s * s
            continue
        grid = np.zeros((tall, wide), dtype=bool)
        half = (tall - s) // 2
        strokes = {
            "a": (slice(tall - s, tall), slice(0, wide)), "g": (slice(half, half + s), slice(0, wide)),
            "d": (slice(0, s), slice(0, wide)), "f": (slice(half, tall), slice(0, s)),
            "b": (slice(half, tall), slice(wide - s, wide)), "e": (slice(0, half + s), slice(0, s)),
            "c": (slice(0, half + s), slice(wide - s, wide)),
        }  # fmt: skip
        for each in SEGMENTS[sign]:
            grid[strokes[each]] = True
        total += int(grid.sum())
    return total * (stroke / s) ** 2


def test_numerals_differ():
    """No two numerals share their strokes, so every code can be told apart; 8 has all."""
    assert len({frozenset(strokes) for strokes in SEGMENTS.values()}) == 10
    assert set(SEGMENTS["8"]) == set("abcdefg")


@pytest.mark.parametrize(("mm", "code"), [(0.4, "0.4"), (1.35, "1.35"), (2.0, "2"), (0.0, "0"), (0.405, "0.41")])
def test_codes(mm, code):
    """A step is engraved with at most two decimals."""
    assert code_of(mm) == code


def test_printed_upright_it_is_the_same_bar_turned():
    """Standing and lying wedges are one shape: same volume, and both in the positive octant on the bed."""
    flat, stood = step_wedge(STEPS)[0], step_wedge(STEPS, standing=True)[0]
    assert stood.volume_mm3 == pytest.approx(flat.volume_mm3, rel=1e-12)
    assert stood.extents_mm == pytest.approx(flat.extents_mm[[0, 2, 1]])
    for solid in (flat, stood):
        assert solid.bounds_mm[0] == pytest.approx([0.0, 0.0, 0.0], abs=1e-12)


@settings(max_examples=8, deadline=None)
@given(st.lists(st.integers(1, 40), min_size=2, max_size=9, unique=True), st.sampled_from([0.027, 0.05, 0.2]))
def test_any_steps_make_one_solid(counts, layer):
    """Whatever steps of whole layers are asked for, one body with one opening comes out, the same each time."""
    steps = [count * layer for count in counts]
    solid, wells = step_wedge(steps)
    assert (solid.topology.shells, solid.topology.genus) == (1, 1)
    assert [well.thickness_mm for well in wells[1:]] == steps
    assert step_wedge(steps)[0].sha256 == solid.sha256
