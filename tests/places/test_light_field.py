"""Light on the skin of a model."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box, ico_sphere, moved, spherical_shell
from fixtures.lit_shells import PER_MM, SURFACE, light_box, plastic
from prep.geometry.solid import Solid, subtract
from prep.places.light_field import COAT_PASSES, Source, light_field, share_through, straight_light

LAMP = Source((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 1.0, 1.0)


@pytest.mark.parametrize("reflectance", [0.3, 0.7])
def test_light_sent_back_in_a_sphere_is_that_of_an_integrating_sphere(reflectance: float) -> None:
    """What does not come straight is even all over and r F / (A (1 - r)) for a lamp that sends out F.

    Outside check: the integrating sphere; D. G. Goebel, Generalized Integrating-Sphere Theory, Appl. Opt. 6 (1967) 125
    (from memory).
    """
    shell = Solid.of(*spherical_shell(20.0, 16.0, subdivisions=4))
    field = light_field([shell], [plastic(reflectance)], [LAMP], most_cells=8000)
    inner = np.einsum("ij,ij->i", field.coarse.point, field.coarse.normal) < 0.0
    flux = np.pi * 1e6  # 1 cd, order 1: pi lm; over mm2 for lux
    wanted = reflectance * flux / (4.0 * np.pi * 16.0**2 * (1.0 - reflectance))
    scattered = (field.aired - field.falls + field.scattered)[inner, 0]
    assert np.average(scattered, weights=field.coarse.area_mm2[inner]) == pytest.approx(wanted, rel=0.02)
    assert scattered.std() / scattered.mean() < 0.15


@pytest.mark.parametrize(
    ("angle", "share"), [(0.0, 1.0), (15.0, 0.870512702), (30.0, 0.5625), (45.0, 0.25), (60.0, 0.0625)]
)
@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_straight_light_on_a_plane_is_the_cosine_to_the_fourth(angle: float, share: float, scale: float) -> None:
    """A matt lamp lights a plane by cos^4 of the angle, at any size (published values of the Lambertian plane)."""
    plate = Solid.of(*box((40.0 * scale, 40.0 * scale, 1.0 * scale), (0.0, 0.0, 5.5 * scale)))
    field = light_field([plate], [plastic(0.0)], [LAMP], most_cells=1500)
    point = np.array([[5.0 * scale * np.tan(np.radians(angle)), 0.0, 5.0 * scale]])
    below = field.scene.cast(point - [[0.0, 0.0, scale]], np.array([[0.0, 0.0, 1.0]])).triangle
    lux = field.falls_at(point, below)[0, 0] * 25.0 * scale**2 / 1e6
    assert lux == pytest.approx(share, rel=1e-6, abs=1e-9)


def test_straight_light_on_cells_adds_up_to_the_flux() -> None:
    """Over a sphere around the lamp the light on all cells is what the lamp sends out."""
    shell = Solid.of(*spherical_shell(20.0, 16.0, subdivisions=4))
    field = light_field([shell], [plastic(0.0)], [LAMP], most_cells=8000)
    assert (field.falls[:, 0] * field.coarse.area_mm2).sum() / 1e6 == pytest.approx(np.pi, rel=0.01)


def test_shadow_is_dark() -> None:
    """Behind a ball before the lamp no straight light falls."""
    plate = Solid.of(*box((20.0, 20.0, 1.0), (0.0, 0.0, 10.5)))
    ball = Solid.of(*moved(ico_sphere(1.0, 3), (0.0, 0.0, 5.0)))
    field = light_field([plate, ball], [plastic(0.0)] * 2, [LAMP], most_cells=4000)
    below = np.flatnonzero((field.cells.normal[:, 2] < -0.9) & (field.cells.solid == 0))
    lux = straight_light(field.scene, field.sources, field.cells.point[below], field.cells.normal[below])[:, 0]
    aside = np.hypot(*field.cells.point[below, :2].T)
    edge = 10.0 * np.tan(np.arcsin(1.0 / 5.0))  # of the shadow: rays that touch the ball
    assert lux[aside < 0.95 * edge].max() == 0.0
    assert lux[aside > 1.02 * edge].min() > 0.0


def test_light_goes_on_through_a_thin_divider() -> None:
    """Behind a divider of 0.5 mm the second chamber gets the share that passes; behind 6 mm next to nothing."""

    def second(thick: float) -> float:
        outer = box((40.0, 20.0, 20.0), (0.0, 0.0, 0.0))
        rooms = [Solid.of(*box((17.0, 14.0, 14.0), (side * (8.5 + thick / 2.0), 0.0, 0.0))) for side in (-1.0, 1.0)]
        lamp = Source((-8.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.0, 1.0)
        field = light_field([subtract(Solid.of(*outer), rooms)], [plastic()], [lamp], most_cells=12_000)
        there = (field.coarse.point[:, 0] > thick / 2.0 + 1.0) & (np.abs(field.coarse.point[:, 1]) < 7.5)
        inner = there & (np.abs(field.coarse.point[:, 2]) < 7.5) & (field.coarse.point[:, 0] < 18.0 + thick / 2.0)
        return float(field.falls[inner, 0].mean())

    ratio = second(0.5) / second(1.0)
    assert ratio == pytest.approx(np.exp(PER_MM * 0.5), rel=0.1)
    assert second(6.0) < 1e-4 * second(0.5)


def test_dark_coat_inside_takes_the_light_and_leaves_the_window() -> None:
    """A coated chamber sends little back and lets a thousandth through; the window's inner side stays bare."""
    shell = light_box(2.0)
    bare = shell.field()
    coated = light_field(shell.halves, [plastic(0.7, 0.05)] * 2, [shell.lamp], [shell.pane])
    inner = np.flatnonzero(bare.aired[:, 0] > 0.0)
    assert coated.scattered[inner].mean() < 0.25 * bare.scattered[inner].mean()
    window = shell.pane.holds(coated.coarse.point[inner], inward_mm=1.6, wider_mm=0.0)
    assert not coated.coated[inner[window]].any()
    assert coated.coated[inner[~window]].all()
    length = np.full((1, 2), [1.0, 0.0])
    side = coated.coarse.triangle[inner[~window]][:1]
    assert coated.passes(length, side)[0] == pytest.approx(bare.passes(length, side)[0] * COAT_PASSES)


def test_shares_of_walls_behind_one_another_multiply() -> None:
    """Each part's curve holds for the length in it, its faces' loss counted once (Beer-Lambert with a surface term)."""
    found = share_through([plastic(), plastic()], np.array([[1.0, 0.0], [1.0, 2.0], [np.inf, 0.0]]))
    one, two = SURFACE * np.exp(-PER_MM), SURFACE * np.exp(-2.0 * PER_MM)
    assert found == pytest.approx([one, one * two, 0.0], rel=1e-9)
