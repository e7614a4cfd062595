"""Chambers that open only through a neck."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from prep.geometry.open_voids import open_voids
from tests.geometry.walled import ball, box, rod, solid, without


def bottle(bore: float, inner: float = 8.0) -> object:
    """A ball of radius 10 with a round chamber, opened by a bore."""
    return solid(without(ball(10), ball(inner), rod(20, bore / 2.0, 96).translate([0, 0, 10])))


@pytest.mark.parametrize("bore", [1.5, 2.0, 2.5, 3.0])
def test_neck_of_a_bottle_is_its_bore(bore: float) -> None:
    """The largest ball that comes out of a bottle is as wide as its bore; the chamber holds the ball's volume."""
    (void,) = open_voids(bottle(bore), 3.5)
    assert void.neck_mm <= bore + 1e-6
    assert void.neck_mm + void.neck_error_mm >= bore
    assert void.neck_mm == pytest.approx(bore, abs=0.25)
    assert void.ball_mm == pytest.approx(16.0, abs=2.0)
    assert void.volume_mm3 == pytest.approx(4.0 / 3.0 * np.pi * 8.0**3, rel=0.03)
    assert np.linalg.norm(void.neck_at_mm[:2]) < bore / 2.0
    assert 7.0 < void.neck_at_mm[2] < 10.5


@pytest.mark.parametrize("bore", [3.5, 4.0])
def test_wide_enough_is_never_named(bore: float) -> None:
    """A bore as wide as the probe, or wider, is no fault."""
    assert open_voids(bottle(bore), 3.5) == ()


@pytest.mark.parametrize(
    "body",
    [
        lambda: box(20, 15, 10),
        lambda: without(box(20, 15, 10), rod(20, 0.75)),
        lambda: without(box(20, 15, 10), box(1, 10, 10).translate([0, 0, 3])),
        lambda: without(box(30, 30, 20), box(26, 26, 20).translate([0, 0, 3])),
        lambda: without(ball(10), ball(8)),
    ],
    ids=["block", "small hole", "slot", "tray", "sealed void"],
)
def test_what_is_no_chamber(body: Callable[[], object]) -> None:
    """Holes, slots and trays are as wide as their openings; a sealed void is another check's business."""
    assert open_voids(solid(body()), 3.5) == ()


def test_two_necks_the_wider_counts() -> None:
    """A chamber with a narrow and a wide way out is emptied by the wide one."""
    body = without(ball(10), ball(8), rod(20, 0.6, 48).translate([0, 0, 10]), rod(20, 2.2, 48).rotate([90, 0, 0]))
    assert open_voids(solid(body), 3.5) == ()


@pytest.mark.parametrize("scale", [1e-3, 1e3])
def test_scale_does_not_matter(scale: float) -> None:
    """A bottle a thousand times smaller or larger has a neck in proportion."""
    (void,) = open_voids(bottle(2.0).moved(np.diag([scale, scale, scale, 1.0])), 3.5 * scale)
    assert void.neck_mm == pytest.approx(2.0 * scale, abs=0.25 * scale)


def test_two_chambers_in_a_row() -> None:
    """Two chambers joined by a narrow channel, one open: the far one is named, the near one is not."""
    body = box(40, 14, 14) - box(14, 10, 10).translate([-10, 0, 0]) - box(14, 10, 10).translate([10, 0, 0])
    body = body - rod(10, 1.0, 48).rotate([0, 90, 0]) - rod(20, 3.0, 48).translate([10, 0, 10])
    (void,) = open_voids(solid(body), 3.5)
    assert void.at_mm[0] < -5.0
    assert void.neck_mm == pytest.approx(2.0, abs=0.3)
    assert abs(void.neck_at_mm[0]) < 3.5
