"""`trace_pipe`: the share of a lamp's light against quadrature, and materials that make no pipe."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import quad

from fixtures.benches import shipped_tables
from prep.errors import MirrorLeaks, NotClear
from prep.geometry.lathe import prism
from prep.geometry.light_pipe import PipeShape, Section
from prep.places.pipe_trace import PointLamp, clear_of, trace_pipe
from tests.geometry.test_trace_light import rod_passes

GAP = 0.5


@pytest.mark.parametrize(("half_deg", "order"), [(60.0, 1.0), (30.0, 4.818842), (15.0, 19.993727)])
def test_straight_share_by_quadrature(half_deg, order) -> None:
    """A point lamp before a straight rod: its cone onto the entry, each ring by the rod's closed form."""
    row = shipped_tables().materials.get("pmma rod")
    path, out = np.array([[0.0, 0.0, GAP], [0.0, 0.0, 15.0]]), np.array([0.0, 0.0, 1.0])
    shape = PipeShape(Section(3.0), path, np.array([1.0, 0.0, 0.0]), 0.0, 0.0, -14.5)
    lamp = PointLamp("", np.zeros(3), out, half_deg)
    rod = prism(shape.section.outline(), -14.5, 0.0, shape.frame)
    found = trace_pipe(rod, shape, clear_of(row, bends=0), lamp, GAP, lambda *_: None)
    mu = -math.log1p(-row.absorption_per_mm)
    want, _ = quad(
        lambda a: rod_passes(row.index, mu, 14.5, a) * (order + 1.0) * math.cos(a) ** order * math.sin(a),
        0.0,
        math.atan(1.5 / GAP),
    )
    assert found.out == pytest.approx(want, rel=0.01)
    assert found.straight == pytest.approx(want, rel=0.01)
    assert found.enters == pytest.approx(1.0 - math.cos(math.atan(1.5 / GAP)) ** (order + 1.0), abs=2e-3)
    assert sum(found.goes.values()) == pytest.approx(1.0, abs=1e-9)
    assert found.passed == pytest.approx(found.out / found.enters)


def test_half_of_the_light_within() -> None:
    """What leaves a straight rod is as wide as what went in: half of it within the angle of half the lamp's flux."""
    row = replace(shipped_tables().materials.get("pmma rod"), absorption_per_mm=0.0)
    path, out = np.array([[0.0, 0.0, GAP], [0.0, 0.0, 9.0]]), np.array([0.0, 0.0, 1.0])
    shape = PipeShape(Section(30.0), path, np.array([1.0, 0.0, 0.0]), 0.0, 0.0, -8.5)
    rod = prism(shape.section.outline(), -8.5, 0.0, shape.frame)
    found = trace_pipe(rod, shape, clear_of(row, bends=0), PointLamp("", np.zeros(3), out, 15.0), GAP, lambda *_: None)
    half = math.degrees(math.acos(0.5 ** (1.0 / (19.993727 + 1.0))))
    assert found.half_out_deg == pytest.approx(half, abs=0.1)


def test_not_clear() -> None:
    """A material without an index makes no light pipe."""
    with pytest.raises(NotClear, match="not known to be clear"):
        clear_of(shipped_tables().materials.get("pla"), bends=0)


def test_mirror_leaks() -> None:
    """Below root two a 45 degree mirror lets light out; a straight pipe of the same stuff is allowed."""
    soft = replace(shipped_tables().materials.get("resin clear"), name="clear silicone", index=1.41)
    with pytest.raises(MirrorLeaks, match="would let the light out") as caught:
        clear_of(soft, bends=1)
    assert "45.17 deg" in caught.value.found
    assert clear_of(soft, bends=0).index == 1.41
    assert clear_of(replace(soft, index=1.4143), bends=2).index == 1.4143
