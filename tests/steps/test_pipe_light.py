"""`pipe_light`: bores and pipes as made, measured on their triangles by trimesh and the bare kernel."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from fixtures.benches import bench_of, shipped_tables
from prep.build.verify import hold_to
from prep.contract import Bench, Item, Lamp, Ledger, Outcome
from prep.errors import CannotInsert, DoesNotFit, MirrorLeaks, NotClear, UnknownWord
from prep.geometry.solid import Solid
from prep.steps.pipe_light import PipeLight

MESHES = Path(__file__).resolve().parents[2] / "../shared/meshes"
Kernel = manifold3d.Manifold
PLAY = 0.3  # slide fit of extrusion-0.4, per side


def solid(kernel):
    """A kernel's body, a solid of the house."""
    mesh = kernel.to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def cube(size, middle):
    """A kernel box about a point."""
    return Kernel.cube(size, True).translate(middle)


@cache
def shell(wall=3.0):
    """A box 50 x 36 x 24 mm, open below."""
    return solid(cube((50, 36, 24), (0, 0, 12)) - cube((50 - 2 * wall, 36 - 2 * wall, 24), (0, 0, 12 - wall)))


@cache
def dome():
    """Half a ball of 30 mm, 3 mm thick, open below."""
    ball = Kernel.sphere(30.0, 160) - Kernel.sphere(27.0, 160)
    return solid(ball.trim_by_plane((0.0, 0.0, 1.0), 0.0))


@cache
def block():
    """A solid block 40 x 30 x 20 mm."""
    return solid(cube((40, 30, 20), (0, 0, 10)))


def above(x, y):
    """The first skin under a point high up."""
    return {"ray": {"from": f"{x}, {y}, 90 mm", "toward": "-z"}}


@dataclass(frozen=True)
class Case:
    """A part, and what is asked of its pipe."""

    part: Solid
    words: dict
    process: str = "extrusion-0.4"
    bends: int = 0


CASES = {
    "flat": Case(shell(), {"from": {"point": "0, 0, 5 mm"}, "to": {"facing": "+z"}, "section": "3 mm"}),
    "leaning": Case(shell(), {"from": {"point": "3, 1, 6 mm"}, "to": above(8, 4), "section": "3 mm"}),
    "flat section": Case(shell(), {"from": {"point": "2, 2, 5 mm"}, "to": above(2, 2), "section": "5 x 2 mm"}),
    "one mirror": Case(
        shell(), {"from": {"point": "-12, 0, 8 mm"}, "to": above(6, 0), "section": "3 mm", "bends": "prism"}, bends=1
    ),
    "dome, proud": Case(
        dome(), {"from": {"point": "6, 0, 8 mm"}, "to": above(9, 3), "section": "3 mm", "proud": "0.5 mm"}
    ),
    "dome, sunk, jetted": Case(
        dome(),
        {"from": {"point": "0, 0, 10 mm"}, "to": above(2, 3), "section": "4 mm", "proud": "-0.4 mm"},
        "jetting-0.027",
    ),
    "cut in": Case(block(), {"from": {"point": "0, 0, 6 mm"}, "to": {"facing": "+z"}, "section": "3 mm", "open": "-z"}),
    "cut in, one mirror": Case(
        block(),
        {"from": {"point": "-9, 0, 6 mm"}, "to": above(5, 0), "section": "3 mm", "open": "-z", "bends": "prism"},
        bends=1,
    ),
}
every = pytest.mark.parametrize("name", CASES)


@dataclass(frozen=True)
class Made:
    """A case, cut."""

    case: Case
    bench: Bench
    outcome: Outcome

    @property
    def pipe(self):
        """The pipe, in the bare kernel."""
        return kernel_of(self.outcome.extra["pipe"])

    @property
    def cut(self):
        """The part with its bore, in the bare kernel."""
        return kernel_of(self.outcome.solids["box"])

    @property
    def out(self):
        """Unit direction in which the light leaves."""
        return np.array(self.outcome.ledger.windows[0].out)


def kernel_of(body):
    """A solid of the house in the bare kernel."""
    corners, rows = np.array(body.vertices), np.array(body.triangles, dtype=np.uint64)
    return Kernel(manifold3d.Mesh64(corners, rows))


def apply(part, words, process="extrusion-0.4", ledger=None, tables=None):
    """What the step makes of one part."""
    bench = bench_of(process, ledger=ledger, box=part)
    bench = bench if tables is None else replace(bench, tables=tables)
    return Made(
        Case(part, words, process),
        bench,
        PipeLight.model_validate({"step": "pipe_light", "part": "box", **words}).apply(bench),
    )


@cache
def made(name):
    """A case, cut once."""
    case = CASES[name]
    return replace(apply(case.part, case.words, case.process), case=case)


def shared(a, b):
    """Volume two kernel bodies share."""
    return max((a ^ b).volume(), 0.0)


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
    volume = trimesh.Trimesh(one.outcome.extra["pipe"].vertices, one.outcome.extra["pipe"].triangles).volume
    assert [item.id for item in ledger.items] == ["LP1", "LP1 leg 2"]
    assert sum(item.mass_g for item in ledger.items) == pytest.approx(volume * density / 1000.0)
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


def test_falls_back_on_mirrors() -> None:
    """Where a post stands in the straight way, two mirrors go round it; asked for straight, it is refused."""
    post = solid(kernel_of(shell()) + cube((3.0, 36.0, 14.0), (-6.0, 0.0, 14.0)))
    words = {"from": {"point": "-12, 0, 6 mm"}, "to": above(0, 0), "section": "2 mm"}
    words["from"] = {"point": "-9, 0, 5 mm"}
    found = apply(post, words).outcome
    assert found.facts["bends"] > 0
    with pytest.raises(CannotInsert, match="no straight way into box"):
        apply(post, words | {"bends": "straight"})


FLAT = CASES["flat"].words
REFUSED = {
    "beside an edge": (shell(), FLAT | {"from": {"point": "22, 0, 5 mm"}, "to": above(22, 0)}, DoesNotFit, "shoulder"),
    "off the edge": (shell(), FLAT | {"from": {"point": "24, 0, 5 mm"}, "to": above(24, 0)}, DoesNotFit, "runs off"),
    "thin side wall": (
        block(),
        FLAT | {"from": {"point": "0, 12.4, 6 mm"}, "to": above(0, 12.4), "open": "-z", "flange": "0.2 mm"},
        DoesNotFit,
        "wall beside",
    ),
    "thin shoulder": (shell(0.7), FLAT, DoesNotFit, "over the shoulder"),
    "closed bore": (shell(), FLAT | {"section": "1.2 mm"}, DoesNotFit, "would close up"),
    "short leg": (shell(), FLAT | {"from": {"point": "0, 0, 20 mm"}}, CannotInsert, "solid behind"),
    "bend too near": (
        shell(),
        FLAT | {"from": {"point": "-12, 0, 19.5 mm"}, "to": above(6, 0), "bends": "prism"},
        DoesNotFit,
        "too short",
    ),
    "inside": (shell(), FLAT | {"to": {"ray": {"from": "0, 0, 9 mm", "toward": "+z"}}}, DoesNotFit, "no light pipe"),
    "solid behind": (block(), FLAT, CannotInsert, "no straight way in: box is solid"),
    "open on the wrong side": (block(), FLAT | {"open": "+x"}, CannotInsert, "side given by `open:`"),
    "not clear": (shell(), FLAT | {"material": "pla"}, NotClear, "not known to be clear"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name) -> None:
    """What does not fit, cannot go in, or would not carry light is refused with numbers and a remedy."""
    part, words, fault, says = REFUSED[name]
    with pytest.raises(fault, match=says) as caught:
        apply(part, words)
    assert any(letter.isdigit() for letter in caught.value.found) or name in {"not clear", "open on the wrong side"}
    assert caught.value.fix


def test_pushed_in_against_a_floor() -> None:
    """A floor close behind the wall leaves no room to push the pipe in: refused, and cut through where allowed."""
    floored = solid(kernel_of(shell()) + cube((46.0, 32.0, 2.0), (0.0, 0.0, 14.0)))
    words = FLAT | {"from": {"point": "0, 0, 15.2 mm"}, "section": "2 mm"}
    with pytest.raises(CannotInsert, match="no straight way into box") as caught:
        apply(floored, words)
    assert "mm³ of the part" in caught.value.found
    opened = apply(floored, words | {"open": "-z"})
    hold_to(opened.bench, opened.outcome)
    assert any("stays open behind it" in caution for caution in opened.outcome.cautions)


def test_beside_a_magnet() -> None:
    """A pipe is not led through what the part already holds."""
    magnet = Item(
        id="M1",
        item="disc",
        kind="magnet",
        step="m",
        part="box",
        at_mm=(1.0, 0.0, 20.0),
        axis=(0, 0, 1),
        mass_g=1.0,
        radius_mm=3.0,
        length_mm=2.0,
    )
    with pytest.raises(DoesNotFit, match="would run through M1"):
        apply(shell(), FLAT, ledger=Ledger(items=(magnet,)))


def test_mirrors_need_a_high_index() -> None:
    """A clear stuff of index 1.41 makes a straight pipe and no bent one."""
    tables = shipped_tables()
    soft = replace(tables.materials.get("resin clear"), name="clear silicone", index=1.41)
    tables = replace(tables, materials=replace(tables.materials, rows=(*tables.materials.rows, soft)))
    case = CASES["one mirror"]
    with pytest.raises(MirrorLeaks, match="clear silicone"):
        apply(shell(), case.words | {"material": "clear silicone"}, tables=tables)
    assert apply(shell(), FLAT | {"material": "clear silicone"}, tables=tables).outcome.facts["index"] == 1.41


def test_one_place_each_end() -> None:
    """A pattern or a seam is no end of a pipe."""
    for wrong in ({"point": "0, 0, 1 mm", "ring": {"count": 3, "radius": "2 mm"}}, {"seam": ["a", "b"], "spread": 2}):
        with pytest.raises(ValidationError, match="one end here"):
            PipeLight.model_validate({"step": "pipe_light", "part": "box", **FLAT, "to": wrong})


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
