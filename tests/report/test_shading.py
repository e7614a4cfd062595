"""Pictures by casting rays: how much sky a place sees, where lines fall, and that nothing is left to chance."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures import drawn
from prep.geometry.solid import Solid
from prep.report.camera import Camera
from prep.report.palette import PAPER, STONE, encoded, linear
from prep.report.shading import SKY_RAYS, TILE, Subject, _open_sky, _see, _sky_pattern, shade

BALL = Solid.of(*drawn.uv_sphere(10.0, 96, 48))


def picture(solid: Solid, seen_from=(0.3, -1.0, 0.4), width=160, height=120):
    """A small picture and its camera."""
    camera = Camera.fitted([solid], np.array(seen_from), width=width, height=height)
    return shade(Subject.of([solid], [linear(STONE)]), camera), camera


def test_a_ball_covers_the_area_of_its_disc():
    """The share of the picture that is not paper is pi r² at the camera's scale."""
    pixels, camera = picture(BALL)
    paper = encoded(linear(PAPER)).astype(int)
    covered = (np.abs(pixels - paper).sum(axis=2) > 120).sum()
    # closed form; half of the line about the outline, about a pixel wide, lies beyond it
    disc = np.pi * (10.0 / camera.mm_per_pixel) ** 2
    rim = 2.0 * np.pi * 10.0 / camera.mm_per_pixel
    assert disc < covered < disc + rim


def test_the_sky_seen_from_the_floor_of_a_well():
    """At the middle of a well's floor the open share is R² / (R² + H²)."""
    # view factor from a small plate to a disc square above it, R. Siegel, J. R. Howell, "Thermal Radiation Heat
    # Transfer", appendix of configuration factors: R² / (R² + H²)
    for depth in (3.0, 6.0, 10.0):
        profile = [(0.0, -1.0), (12.0, -1.0), (12.0, depth), (6.0, depth), (6.0, 0.0), (0.0, 0.0)]
        well = Solid.of(*drawn.revolved(profile, 96))
        camera = Camera.fitted([well], np.array([0.0, 0.0, 1.0]), width=160, height=160)
        rows, columns = (grid.ravel() for grid in np.mgrid[80 - TILE : 80 + TILE, 80 - TILE : 80 + TILE])
        subject = Subject.of([well], [linear(STONE)])
        seen = _see(subject, camera, columns + 0.5, rows + 0.5)
        sky, tried = _open_sky(subject, seen, rows, columns)
        open_share = float(sky.sum() / tried.sum())
        assert open_share == pytest.approx(36.0 / (36.0 + depth**2), abs=1.5 / (SKY_RAYS * TILE**2 / 2) + 0.01)


def test_the_sky_directions_are_spread_as_the_light_falls():
    """Directions are unit, all above the surface, and their heights average 2/3 as for a cosine."""
    pattern = _sky_pattern(SKY_RAYS * TILE * TILE * 2)
    assert np.linalg.norm(pattern, axis=1) == pytest.approx(1.0, abs=1e-6)
    assert (pattern[:, 2] > 0.0).all()
    assert pattern[:, 2].mean() == pytest.approx(2.0 / 3.0, abs=0.003)  # integral of cos² over the half sphere
    assert pattern[:, :2].mean(axis=0) == pytest.approx(0.0, abs=0.02)


def test_hits_lie_on_the_solid_and_depth_is_exact():
    """Places seen on a box's top lie on it."""
    box = Solid.of(*drawn.box((20.0, 10.0, 4.0), (3.0, 2.0, 1.0)))
    camera = Camera.fitted([box], np.array([0.0, 0.0, 1.0]), width=60, height=40)
    rows, columns = (grid.ravel() for grid in np.mgrid[15:25, 15:45])
    seen = _see(Subject.of([box], [linear(STONE)]), camera, columns + 0.5, rows + 0.5)
    assert seen.hit.all()
    assert seen.point[:, 2] == pytest.approx(3.0, abs=1e-9)
    assert camera.pixels(seen.point) == pytest.approx(np.stack([columns, rows], axis=1) + 0.5, abs=1e-6)


def test_an_edge_of_a_box_is_drawn_as_a_line():
    """The near vertical edge of a box is darker than both faces beside it."""
    box = Solid.of(*drawn.box())
    camera = Camera.fitted([box], np.array([1.0, -1.0, 0.0]), width=120, height=120)
    pixels = shade(Subject.of([box], [linear(STONE)]), camera).astype(int).sum(axis=2)
    row = pixels[60, 30:90]
    assert abs(int(np.argmin(row)) - 30) <= 1
    assert row.min() < 0.95 * min(row[10], row[-10])


def test_the_same_solid_gives_the_same_bytes():
    """Two pictures are equal to the last bit."""
    assert np.array_equal(picture(BALL)[0], picture(BALL)[0])


def test_the_order_of_triangles_does_not_matter_to_the_eye():
    """A shuffled mesh gives the same picture but for a last bit here and there."""
    shuffled = Solid.of(*drawn.shuffled(drawn.uv_sphere(10.0, 96, 48)))
    difference = np.abs(picture(BALL)[0].astype(int) - picture(shuffled)[0].astype(int))
    assert np.percentile(difference, 99.5) <= 2


@settings(max_examples=8, deadline=None)
@given(st.sampled_from([1e-3, 1.0, 1e3]), st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: np.dot(v, v) > 0.1))
def test_a_picture_does_not_know_the_scale(scale, seen_from):
    """A part a thousand times larger or smaller looks the same, from everywhere."""
    vertices, triangles = drawn.torus(20.0, 5.0, 32, 16)
    usual, _ = picture(Solid.of(vertices, triangles), seen_from, 80, 60)
    scaled, _ = picture(Solid.of(vertices * scale, triangles), seen_from, 80, 60)
    difference = np.abs(usual.astype(int) - scaled.astype(int))
    assert np.percentile(difference, 98.0) <= 6


def test_nothing_in_view_is_paper():
    """A camera that looks past the solid gives an empty sheet."""
    camera = Camera.fitted([BALL], np.array([0.0, 0.0, 1.0]), width=40, height=30)
    aside = Camera(**(vars(camera) | {"middle": np.array([500.0, 0.0, 0.0])}))
    pixels = shade(Subject.of([BALL], [linear(STONE)]), aside)
    assert (pixels == encoded(linear(PAPER))).all()
