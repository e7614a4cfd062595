"""Light on a window."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box
from fixtures.lit_shells import curve, light_box, plastic
from prep.geometry.solid import Solid
from prep.physics.flat_field import flat_field, flat_ring
from prep.physics.lambert import evenness
from prep.places.light_field import LightField, Source, light_field
from prep.places.pane import Pane
from prep.places.window_light import window_glow, window_light

WALL = 1.0


def window_over(lamps: np.ndarray, height: float, half: float, order: float = 1.0) -> tuple[LightField, Pane]:
    """A plate with a square window over lamps (k, 2) in a plane, nothing else; nothing is sent back."""
    plate = Solid.of(*box((4.0 * half + 8.0, 4.0 * half + 8.0, WALL), (0.0, 0.0, height + WALL / 2.0)))
    sources = [Source((float(x), float(y), 0.0), (0.0, 0.0, 1.0), order, 1.0) for x, y in lamps]
    top = height + WALL
    pane = Pane((0.0, 0.0, top), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "slot", (half, half), 0.0, WALL, 0.1, 0.1, ())
    return light_field([plate], [plastic(0.0)], sources, [pane], most_cells=600), pane


def test_square_lattice_at_a_pitch_of_its_distance() -> None:
    """Least over most under an endless square lattice of matt lamps is 0.95164 where pitch is distance.

    Outside check: the published lattice sum (Poisson), pitch / distance 1.
    """
    count = np.arange(21) - 10.0
    lamps = 10.0 * np.stack([each.ravel() for each in np.meshgrid(count, count)], axis=1)
    field, pane = window_over(lamps, 10.0, 5.0 * 25.0 / 24.0)
    found = evenness(window_light(field, pane, across=25).falls.sum(axis=1))
    assert found.min_over_max == pytest.approx(0.95164, rel=0.01)


@pytest.mark.parametrize("order", [1.0, 5.0, 20.0])
def test_pairs_and_rings_at_the_flat_field(order: float) -> None:
    """At the flat-field pitch and radius light in the middle is flat: within 1 % over a tenth of the distance."""
    height = 20.0
    pitch, radius = flat_field(order, height), flat_ring(order, height)
    turn = 2.0 * np.pi * np.arange(4) / 4.0
    ring = radius * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    for lamps, way in ((np.array([[-pitch / 2.0, 0.0], [pitch / 2.0, 0.0]]), 0), (ring, 0)):
        field, pane = window_over(lamps, height, 2.0 * 25.0 / 24.0, order)
        shown = window_light(field, pane)
        lux = shown.falls.sum(axis=1)
        line = np.abs(shown.inner_mm[:, 1 - way]) < 1e-6
        assert line.sum() == 25
        assert lux[line].min() / lux[line].max() > 0.99


def test_single_lamp_falls_off_by_its_cosine() -> None:
    """Over a window above one lamp of order m light is cos^(m + 3) of the angle, within 1 % everywhere."""
    field, pane = window_over(np.zeros((1, 2)), 10.0, 8.0, 2.0)
    shown = window_light(field, pane)
    cosine = 10.0 / np.linalg.norm(shown.inner_mm, axis=1)
    assert shown.falls[:, 0] / shown.falls[:, 0].max() == pytest.approx(cosine**5 / (cosine**5).max(), rel=1e-6)
    assert shown.wall_mm == pytest.approx(WALL, abs=1e-6)


def test_glow_is_light_through_the_wall_over_pi() -> None:
    """The window looks as bright as a diffuser that the wall's share of the light falls on."""
    shell = light_box()
    field = shell.field()
    shown = window_light(field, shell.pane)
    assert shown.glows[0] == pytest.approx(np.median(shown.falls) * curve().share(0.8) / np.pi, rel=1e-4)
    assert window_glow(field)[0] == shown.glows[0]
    assert shown.straight.max() < shown.falls.max()


def test_clear_insert_shines_by_what_it_passes() -> None:
    """A window without plastic looks as bright as its share of the lamp's light spread over its area."""
    lamp = Source((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 1.0, 2.0)
    plate = Solid.of(*box((30.0, 30.0, 1.0), (0.0, 0.0, 5.5)))
    pane = Pane((0.0, 0.0, 6.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), "round", (2.0, 2.0), 0.0, 0.0, 0.4, 0.1, (0,))
    field = light_field([plate], [plastic()], [lamp], [pane], most_cells=600)
    assert window_glow(field)[0] == pytest.approx(0.4 * 2.0 * np.pi / (4.0 * np.pi * np.pi) * 1e6)
