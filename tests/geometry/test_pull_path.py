"""Ways along which a mask comes off."""

from __future__ import annotations

import numpy as np
import pytest

from prep.geometry.pull_path import leaving_way, path_length, sample_pull, spiral, swept
from tests.places import masked
from tests.places.masked import GAP, as_solid, between, block


def everything(samples) -> np.ndarray:
    """All samples."""
    return np.ones(len(samples.points), dtype=bool)


@pytest.mark.parametrize("scale", [1.0, 10.0])
def test_ways_off_a_pocket(scale) -> None:
    """A plug in a straight pocket leaves along the pocket's axis and no other way, at another scale too."""
    host = block((-20, -20, 0), (20, 20, 20)) - block((-6, -6, 8), (6, 6, 30))
    plug = block((-5.9, -5.9, 8.1), (5.9, 5.9, 22))
    part, mask = (as_solid(body.scale((scale,) * 3)) for body in (host, plug))
    samples = sample_pull(part, mask, between(part, (0, 15.0 * scale, 1.0)), GAP)
    free = samples.free(everything(samples))
    assert samples.ways[free] == pytest.approx(np.array([[0.0, 0.0, 1.0]]), abs=1e-9)


def test_ways_off_a_ball_are_a_hemisphere_of_none() -> None:
    """Half a shell leaves along its axis alone; less than half along a cone as wide as what is missing of the half."""
    # closed form: a shell that ends at height h of a ball of radius r leaves up to asin(h / r) off its axis
    part, mask, patch = masked.ball(masked.above(10.0), (2, 10.0, -1.0), (2, 8.0, 1.0))
    samples = sample_pull(part, mask, patch, GAP)
    free = samples.free(everything(samples))
    lean = np.degrees(np.arccos(np.clip(samples.ways @ [0.0, 0.0, 1.0], -1.0, 1.0)))
    cone = np.degrees(np.arcsin(10.0 / 20.0))
    assert not free[lean > cone + 4.0].any()
    steep = lean < cone - 4.0
    assert steep.sum() > 5
    assert free[steep].all()


def test_a_slide_over_wet_paint_is_no_way() -> None:
    """A flat cover beside a window may slide away from it, and not over it."""
    part = as_solid(block((-30, -10, 0), (30, 10, 10)))
    mask = as_solid(block((-28, -9, 10 + GAP), (0, 9, 12)))
    samples = sample_pull(part, mask, between(part, (0, 0.0, 1.0), (0, 20.0, -1.0), (2, 9.0, 1.0)), GAP)
    free = samples.free(everything(samples))
    assert free[np.argmax(samples.ways @ [-1.0, 0.0, 0.0])]
    assert not free[np.argmax(samples.ways @ [1.0, 0.0, 0.0])]
    assert free[np.argmax(samples.ways @ [0.0, 0.0, 1.0])]


def test_thin_pin_is_met_though_no_sample_of_the_mask_is_over_it() -> None:
    """A pin as thin as a hair over the mask blocks the way up: the part's own points are cast back."""
    post, beam = block((-19, -0.05, 10), (-18.9, 0.05, 30)), block((-19, -0.05, 29), (5, 0.05, 30))
    part = as_solid(block((-20, -20, 0), (20, 20, 10)) + post + beam)
    mask = as_solid(block((-15, -15, 10 + GAP), (15, 15, 12)))
    samples = sample_pull(part, mask, between(part, (0, 16.0, 1.0)), GAP)
    assert not samples.free(everything(samples))[np.argmax(samples.ways @ [0.0, 0.0, 1.0])]


def test_swept_sees_a_hook() -> None:
    """A piece pulled against a hook shares the hook's volume with it; pulled aside it shares nothing."""
    wall, hook = block((-10, -10, 5), (-8, 10, 12)), block((-10, -10, 10), (0, 10, 12))
    part = as_solid(block((-10, -10, 0), (10, 10, 5)) + wall + hook)
    piece = as_solid(block((-7, -9, 5.1), (9, 9, 9)))
    assert swept([part], piece, np.array([0.0, 0.0, 1.0])) > 1.0
    assert swept([part], piece, np.array([1.0, 0.0, 0.0])) == pytest.approx(0.0, abs=1e-9)
    assert path_length([part], piece, np.array([1.0, 0.0, 0.0]), 0.0) == pytest.approx(17.0)


def test_leaving_way_is_the_most_square_to_all() -> None:
    """Between two walls it is their middle; against opposite walls it leaves neither."""
    way = leaving_way(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]))
    assert way[0] == pytest.approx(way[2])
    assert way[0] > 0.5
    both = leaving_way(np.array([[1.0, 0.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]))
    assert both[0] == pytest.approx(0.0, abs=1e-9)


def test_spiral_is_even() -> None:
    """The directions balance, and none is farther from its nearest than a few mean spacings."""
    ways = spiral(200)
    assert np.abs(ways.mean(axis=0)).max() < 0.01
    near = np.sort(ways @ ways.T, axis=1)[:, -2]
    spacing = np.sqrt(4.0 * np.pi / 200.0)
    assert np.arccos(near).max() < 1.3 * spacing
    assert np.arccos(near).min() > 0.5 * spacing
