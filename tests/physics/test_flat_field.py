"""Spacings for a flat field, evenness of a lattice, and remedies, against published closed forms and the lamp law."""

from __future__ import annotations

import math

import numpy as np
import pytest

from prep.errors import BadValue
from prep.physics.flat_field import depth_for, flat_field, flat_ring, lattice_evenness, remedy, window_evenness
from prep.physics.lambert import illuminance

PUBLISHED = [
    # Moreno, Avendano-Alejo, Tzonchev, Appl. Opt. 45 (2006) 2265: order, two, ring, two by two (in units of the height)
    (1, 1.000000, 0.816497, 1.154701),
    (2, 0.894427, 0.707107, 1.000000),
    (5, 0.707107, 0.534522, 0.755929),
    (10, 0.554700, 0.408248, 0.577350),
    (20, 0.417029, 0.301511, 0.426401),
    (30, 0.348155, 0.250000, 0.353553),
    (80.5, 0.218870, 0.155700, 0.220193),
]


def light_at(x, lamps, order, facing=False):
    """Illuminance at points along x on a plane at height 1 mm over lamps (k, 2), by the lamp law."""
    places = np.column_stack([lamps, np.zeros(len(lamps))])
    points = np.column_stack([x, np.zeros_like(x), np.ones_like(x)])
    axes = np.tile([0.0, 0.0, 1.0], (len(places), 1))
    if not facing:
        return illuminance(points, -np.tile([0.0, 0.0, 1.0], (len(x), 1)), places, axes, order, 1.0)
    total = np.zeros(len(x))
    for place in places:
        way = place - points
        normals = way / np.linalg.norm(way, axis=1)[:, None]
        total += illuminance(points, normals, place[None], axes[:1], order, 1.0)
    return total


def bend(lamps, order, facing=False):
    """Second derivative in the middle over the light there, by differences of fourth order."""
    h = 1e-2
    e = light_at(np.array([-2.0, -1.0, 0.0, 1.0, 2.0]) * h, lamps, order, facing)
    return float((-e[0] + 16.0 * e[1] - 30.0 * e[2] + 16.0 * e[3] - e[4]) / (12.0 * h * h) / e[2])


def lattice(rows, columns, pitch):
    """Places of a grid about the origin, columns along x."""
    x, y = np.meshgrid((np.arange(columns) - (columns - 1) / 2) * pitch, (np.arange(rows) - (rows - 1) / 2) * pitch)
    return np.column_stack([x.ravel(), y.ravel()])


@pytest.mark.parametrize(("order", "two", "ring", "square"), PUBLISHED)
def test_published_spacings(order, two, ring, square):
    """Two lamps, a ring and two by two stand as published, to six digits, at any height."""
    for height in (1.0, 9.0):
        assert flat_field(order, height, facing=True) == pytest.approx(two * height, abs=6e-7 * height)
        assert flat_ring(order, height, facing=True) == pytest.approx(ring * height, abs=6e-7 * height)
        assert flat_field(order, height, 2, 2, facing=True) == pytest.approx(square * height, abs=6e-7 * height)


@pytest.mark.parametrize(
    ("order", "rows", "columns", "pitch"),
    # roots of the second derivative, found independently to five digits
    [(1, 1, 4, 0.80576), (10, 1, 4, 0.43544), (30, 1, 4, 0.27114), (10, 4, 4, 0.45353), (30, 4, 4, 0.27537)],
)
def test_roots_for_lines_and_grids(order, rows, columns, pitch):
    """Four in a line and four by four stand where the second derivative has its first root."""
    assert flat_field(order, 1.0, rows, columns, facing=True) == pytest.approx(pitch, abs=6e-6)


@pytest.mark.parametrize("facing", [True, False])
@pytest.mark.parametrize("order", [1.0, 4.818842, 19.993727])
@pytest.mark.parametrize(("rows", "columns"), [(1, 2), (2, 2), (1, 4), (4, 4), (3, 4)])
def test_the_light_itself_is_flat_there(rows, columns, order, facing):
    """Light summed lamp by lamp has no second derivative in the middle at the spacing, and has one a little off it."""
    pitch = flat_field(order, 1.0, rows, columns, facing=facing)
    assert abs(bend(lattice(rows, columns, pitch), order, facing)) < 2e-5 * (order + 1.0) ** 3
    wide, near = (bend(lattice(rows, columns, pitch * k), order, facing) for k in (1.05, 0.95))
    assert near < -0.05 < 0.05 < wide


@pytest.mark.parametrize("count", [3, 5, 8])
def test_a_ring_is_flat_whatever_its_number(count):
    """A ring of three or more on a plane has no second derivative in the middle at its radius."""
    turns = np.arange(count) * 2.0 * math.pi / count
    ring = flat_ring(4.8, 1.0) * np.column_stack([np.cos(turns), np.sin(turns)])
    assert abs(bend(ring, 4.8)) < 1e-4


def test_the_slant_of_the_plane_counts():
    """On a plane lamps stand nearer than the published spacing, which is for a target that faces the lamp."""
    assert flat_field(1.0, 10.0) == pytest.approx(10.0 * math.sqrt(0.8))
    assert flat_field(1.0, 10.0) < flat_field(1.0, 10.0, facing=True)


@pytest.mark.parametrize(("rows", "columns"), [(1, 1), (1, 3), (3, 3), (2, 5)])
def test_an_odd_number_is_refused(rows, columns):
    """No pitch takes away the peak of a lamp in the middle, so an odd number is refused."""
    with pytest.raises(BadValue, match="odd number"):
        flat_field(1.0, 10.0, rows, columns)


@pytest.mark.parametrize(
    ("pitch", "min_max", "min_mean", "max_mean"),
    [
        # endless square array of Lambertian lamps, Poisson summation, checked by a 41 x 41 direct sum
        (0.5, 0.99987, 0.99994, 1.00006), (0.8, 0.98866, 0.99456, 1.00597), (1.0, 0.95164, 0.97738, 1.02705),
        (1.2, 0.87813, 0.94370, 1.07468), (1.25, 0.85450, 0.93280, 1.09163), (1.5, 0.71654, 0.86683, 1.20974),
        (2.0, 0.43945, 0.71000, 1.61566), (3.0, 0.14702, 0.44786, 3.04623),
    ],
)  # fmt: skip
def test_lattice(pitch, min_max, min_mean, max_mean):
    """An endless square array is as even as the exact sum says, at any height."""
    even = lattice_evenness(pitch * 12.0, 12.0)
    assert (even.min_over_max, even.min_over_mean) == pytest.approx((min_max, min_mean), abs=6e-6)
    assert even.max_over_mean == pytest.approx(max_mean, abs=6e-6)


@pytest.mark.parametrize("order", [1.0, 4.818842])
def test_lattice_of_any_beam_against_a_direct_sum(order):
    """A large array summed lamp by lamp agrees with the endless one, for narrow beams too."""
    places = lattice(121, 121, 1.5)
    most, least = (
        light_at(np.array([x]), places + np.array([0.0, y]), order)[0] for x, y in ((0.0, 0.0), (0.75, 0.75))
    )
    assert lattice_evenness(1.5, 1.0, order).min_over_max == pytest.approx(least / most, abs=1e-3)


def test_one_lamp_over_a_window():
    """Least over most of a rectangular window is the cosine law at its corner, and the depth inverts it."""
    window = (20.0, 10.0)
    even = window_evenness(window, 9.0, 2.0, np.zeros((1, 2)))
    corner = math.atan2(math.hypot(10.0, 5.0), 9.0)
    assert even.min_over_max == pytest.approx(math.cos(corner) ** 5.0, rel=1e-12)
    depth = depth_for(window, 2.0, 0.7)
    assert window_evenness(window, depth, 2.0, np.zeros((1, 2))).min_over_max == pytest.approx(0.7, rel=1e-12)


def test_remedy_of_a_dotted_window():
    """A narrow beam close behind a window is told to go back; doing so is enough."""
    told = remedy((12.0, 6.0), 9.0, 19.993727)
    assert told.now.min_over_max < 0.1
    assert f"{told.depth_mm:.1f} mm back" in told.says
    assert window_evenness((12.0, 6.0), told.depth_mm, 19.993727, np.zeros((1, 2))).min_over_max == pytest.approx(0.7)


def test_remedy_by_other_lamps():
    """A second lamp, a ring or a wide beam is offered only where it reaches what was asked."""
    told = remedy((10.0, 2.0), 9.0, 4.818842, wanted=0.65)
    assert told.pair.min_over_max > 0.65 > told.now.min_over_max
    assert "two lamps" in told.says
    half = told.pair_mm / 2.0
    pair = np.array([[-half, 0.0], [half, 0.0]])
    assert window_evenness((10.0, 2.0), 9.0, 4.818842, pair).min_over_max == told.pair.min_over_max
    assert "two lamps" not in remedy((40.0, 20.0), 9.0, 1.0).says
    assert remedy((10.0, 2.0), 9.0, 1.0, wanted=0.3).says == ""


def test_remedy_for_several_lamps():
    """With lamps that are not behind the middle the depth found is just enough, and one already enough is kept."""
    lamps = np.array([[-3.0, 0.0], [3.0, 0.0]])
    told = remedy((20.0, 10.0), 9.0, 1.0, lamps, 0.6)
    assert window_evenness((20.0, 10.0), told.depth_mm, 1.0, lamps).min_over_max == pytest.approx(0.6, abs=1e-6)
    assert remedy((6.0, 3.0), 30.0, 1.0, lamps, 0.6).depth_mm == 30.0
