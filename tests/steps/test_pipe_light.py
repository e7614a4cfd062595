"""`pipe_light`: bores and pipes as made, measured on their triangles by trimesh and the bare kernel."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.benches import bench_of, shipped_tables
from prep.build.verify import hold_to
from prep.contract import Lamp, Ledger
from prep.errors import UnknownWord
from prep.geometry.solid import Solid
from prep.steps.pipe_light import PipeLight
from tests.steps.piped_box import CASES, PLAY, above, apply, made, shared, shell

MESHES = Path(__file__).resolve().parents[2] / "../shared/meshes"
every = pytest.mark.parametrize("name", CASES)


@every
def test_predictions_hold(name) -> None:
    """Shells, handles, volume and bounds are what the step predicted, as a build verifies them."""
    one = made(name)
    hold_to(one.bench, one.outcome)
    assert one.outcome.facts["bends"] == one.case.bends
    assert trimesh.Trimesh(*[getattr(one.outcome.extra["pipe"], w) for w in ("vertices", "triangles")]).is_watertight


@every
def test_slides_in_and_stops(name) -> None:
    """Drawn back step by step the pipe meets nothing; pushed on it meets its seat, so it cannot be pushed out."""
    one = made(name)
    back = one.outcome.facts["drawn_back_mm"]
    for way in (0.03, 0.5, 1.0, 2.0, 0.6 * back, back):
        assert shared(one.pipe.translate(-way * one.out), one.cut) < 1e-3, way
    ring = math.pi * 3.0  # of a shoulder a millimetre wide about the smallest section, at least
    assert shared(one.pipe.translate(0.2 * one.out), one.cut) > 0.2 * 0.5 * ring


@every
def test_play(name) -> None:
    """Beside the shaft, near its end, the bore leaves the slide fit all round."""
    one = made(name)
    window, bare = one.outcome.ledger.windows[0], one.outcome.ledger.bare[0]
    across, end = np.array(window.across), np.array(window.at_mm) - 0.8 * one.out
    up = np.cross(one.out, across)
    mesh = trimesh.Trimesh(one.outcome.solids["box"].vertices, one.outcome.solids["box"].triangles)
    for turn in np.linspace(0.1, 2.0 * np.pi, 9):
        way = np.cos(turn) * across + np.sin(turn) * up
        hits = mesh.ray.intersects_location([end], [way])[0]
        reach = np.linalg.norm(hits - end, axis=1).min()
        sides = np.array(window.half_mm) + bare.clearance_mm
        if window.shape == "round":
            assert reach == pytest.approx(sides[0], abs=0.01)
        else:
            flat = min(sides / np.maximum(np.abs([np.cos(turn), np.sin(turn)]), 1e-9))
            assert reach == pytest.approx(flat, abs=1e-6)
    fits = {"extrusion-0.4": PLAY, "jetting-0.027": 0.3}
    assert bare.clearance_mm == fits[one.case.process]


@every
def test_end_lies_on_the_outside(name) -> None:
    """Every corner of the end stands out of the part's own skin as far as asked for, along the pipe."""
    one = made(name)
    pipe, out = one.outcome.extra["pipe"], one.out
    proud = float(str(one.case.words.get("proud", "0 mm")).split(" ", maxsplit=1)[0])
    height = (pipe.corners.mean(axis=1) - np.array(one.outcome.ledger.windows[0].at_mm)) @ out
    rows = np.flatnonzero((pipe.triangle_normals @ out > 0.5) & (height > -1.5))
    ends = pipe.corners[rows].reshape(-1, 3) - proud * out
    skin = trimesh.Trimesh(one.case.part.vertices, one.case.part.triangles)
    assert trimesh.proximity.closest_point(skin, ends)[1].max() < 1e-6


def test_ledger() -> None:
    """The pipe is an item of its own mass, its end a window, its mouth stays bare; it is printed, then seated."""
    one = made("one mirror")
    ledger, facts = one.outcome.ledger, one.outcome.facts
    density = shipped_tables().materials.get("resin clear").density_g_cm3
    body = trimesh.Trimesh(one.outcome.extra["pipe"].vertices, one.outcome.extra["pipe"].triangles)
    volume = body.volume
    masses = np.array([item.mass_g for item in ledger.items])
    assert [item.id for item in ledger.items] == ["LP1", "LP1 inside"]
    assert masses.sum() == pytest.approx(volume * density / 1000.0)
    centre = masses @ np.array([item.at_mm for item in ledger.items]) / masses.sum()
    assert centre == pytest.approx(body.center_mass, abs=1e-6)
    (window,), (bare,), (void,) = ledger.windows, ledger.bare, ledger.voids
    assert window.at_mm == pytest.approx((6.0, 0.0, 24.0))
    assert (window.wall_mm, window.half_mm, window.shape) == (0.0, (1.5, 1.5), "round")
    assert window.transmits == pytest.approx(facts["light_passed"])
    assert (bare.why, bare.depth_mm) == ("light pipe", pytest.approx(3.0))
    assert bare.half_mm == pytest.approx((1.5 + PLAY, 1.5 + PLAY))
    assert void.state == "plugged"
    assert void.volume_mm3 == pytest.approx(math.pi * (1.8**2 - 1.5**2) * 3.0, rel=0.05)
    printed, seated = ledger.work
    assert printed.id in seated.after
    assert "entry, mirror 1, exit" in printed.says
    assert set(facts["polish"]) == {"entry", "mirror 1", "exit"}
    assert (one.outcome.views[0].part, one.outcome.places[0].feature) == ("box", "light pipe")
    again = apply(
        one.outcome.solids["box"],
        {**CASES["flat"].words, "to": above(-18, 8)} | {"from": {"point": "-18, 8, 6 mm"}},
        ledger=ledger,
    )
    assert again.outcome.ledger.items[0].id == "LP2"


def test_light_is_below_the_ideal() -> None:
    """A shoulder costs light and a mirror more; all shares make one; a brighter wish than that fails its finding."""
    flat, bent = made("flat").outcome, made("one mirror").outcome
    for done in (flat, bent):
        assert 0.05 < done.facts["light_out"] < done.facts["light_out_straight"] < done.facts["light_meets_entry"]
        assert sum(done.facts["light_goes"].values()) == pytest.approx(1.0, abs=1e-9)
    assert bent.facts["share_of_straight"] < flat.facts["share_of_straight"]
    asked = apply(shell(), CASES["flat"].words | {"least": "80 %"}).outcome
    finding = asked.findings[0]
    assert (finding.check, finding.verdict, finding.limit) == ("light pipe", "fail", 80.0)
    assert finding.value == pytest.approx(100.0 * flat.facts["light_out"])
    assert apply(shell(), CASES["flat"].words | {"least": "20 %"}).outcome.findings[0].verdict == "pass"


def test_opaque_wall() -> None:
    """Walls about the bore thinner than the material's opaque thickness are named with black as the remedy."""
    finding = made("flat").outcome.findings[1]
    opaque = math.log(0.75 / 0.02) / 0.45  # the shipped curve of pla, 0.75 exp(-0.45 d), solved for 2 %
    assert finding.limit == pytest.approx(opaque, rel=1e-3)
    assert (finding.verdict, finding.value) == ("warn", pytest.approx(3.0))
    assert "black" in finding.fix
    bench = bench_of(box=shell())
    black = replace(bench.parts["box"], material=shipped_tables().materials.get("pla black"))
    step = PipeLight.model_validate({"step": "pipe_light", "part": "box", **CASES["flat"].words})
    assert step.apply(replace(bench, parts={"box": black})).findings[1].verdict == "pass"
    rubber = replace(black, material=replace(black.material, name="nobody has read it"))
    assert len(step.apply(replace(bench, parts={"box": rubber})).findings) == 1


def lamp(name="L1", at=(0.0, 0.0, 5.0), axis=(0.0, 0.0, 1.0), half=15.0):
    """An LED of a step before."""
    return Lamp(id=name, step="led", part="box", led="x", at_mm=at, axis=axis, half_angle_deg=half, intensity_cd=1.0)


def test_led() -> None:
    """The nearest LED lights the pipe, or the one named; a far one does not, and an unknown name is a fault."""
    words = CASES["flat"].words
    both = Ledger(lamps=(lamp("L1", (0.0, 0.0, 4.5)), lamp("L2", (0.0, 0.0, 5.0), half=60.0)))
    near = apply(shell(), words, ledger=both).outcome
    named = apply(shell(), words | {"led": "L1"}, ledger=both).outcome
    assert (near.facts["led"], named.facts["led"]) == ("L2", "L1")
    assert named.facts["light_out"] > near.facts["light_out"]
    assert near.facts["light_out"] == pytest.approx(made("flat").outcome.facts["light_out"])
    far = apply(shell(), words, ledger=Ledger(lamps=(lamp(at=(18.0, 0.0, 5.0)),))).outcome
    assert far.facts["led"].startswith("none near")
    assert any("No LED is known" in caution for caution in far.cautions)
    with pytest.raises(UnknownWord, match="no LED is called L9") as caught:
        apply(shell(), words | {"led": "L9"}, ledger=both)
    assert "L1" in caught.value.found


@settings(max_examples=6, deadline=None)
@given(st.floats(-12, 12), st.floats(-8, 8), st.floats(-4, 4), st.floats(1.8, 4.5))
def test_anywhere_under_a_lid(x, y, lean, wide) -> None:
    """Wherever it goes through a lid, leaning or not, what it does is what it predicted, and its light adds up."""
    words = {"from": {"point": f"{x:.3f}, {y:.3f}, 5 mm"}, "to": above(round(x + lean, 3), round(y, 3))}
    one = apply(shell(), words | {"section": f"{wide:.3f} mm"})
    hold_to(one.bench, one.outcome)
    assert sum(one.outcome.facts["light_goes"].values()) == pytest.approx(1.0, abs=1e-9)
    assert shared(one.pipe.translate(-0.03 * one.out), one.cut) < 1e-3


REAL = {
    "bowl-hemisphere.stl": {
        "from": {"point": "-40, 10, 0 mm"},
        "to": {"ray": {"from": "-100, 14, 0 mm", "toward": "+x"}},
    },
    "palm-rest.stl": {"from": {"point": "10, -180, 6 mm"}, "to": above(10, -180), "open": "-z"},
    "lens-dome.stl": {"from": {"point": "2, 0, 4 mm"}, "to": above(4, 0), "open": "-z"},
}


@pytest.mark.parametrize("file", REAL)
@pytest.mark.skipif(not MESHES.is_dir(), reason="no shared meshes here")
def test_real_meshes(file) -> None:
    """On meshes as people export them the bore is what was predicted, and the pipe slides in and stops."""
    mesh = trimesh.load(MESHES / file)
    mesh.merge_vertices()
    one = apply(Solid.of(np.asarray(mesh.vertices), np.asarray(mesh.faces)), REAL[file] | {"section": "3 mm"})
    hold_to(one.bench, one.outcome)
    assert shared(one.pipe.translate(-0.05 * one.out), one.cut) < 1e-3
    assert shared(one.pipe.translate(0.2 * one.out), one.cut) > 1.0
