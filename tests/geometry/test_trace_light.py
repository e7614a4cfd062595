"""`trace_light`: shares of light against closed forms, a tracer of the bare cylinder, and the sum of all shares."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from prep.geometry.lathe import lathe
from prep.geometry.light_pipe import PipeShape, Section
from prep.geometry.light_rays import LightRays, lamp_rays
from prep.geometry.solid import Solid
from prep.geometry.trace_light import Clear, refracted, trace_light
from prep.physics.fresnel import reflectance

PMMA, PC = 1.4914, 1.585


def by_snell(n1, n2, angle):
    """Unpolarised reflectance by the sine and tangent forms of Fresnel's equations, one angle off the normal."""
    sine = n1 / n2 * math.sin(angle)
    if sine >= 1.0:
        return 1.0
    if angle < 1e-9:
        return ((n1 - n2) / (n1 + n2)) ** 2
    beyond = math.asin(sine)
    across = (math.sin(angle - beyond) / math.sin(angle + beyond)) ** 2
    along = (math.tan(angle - beyond) / math.tan(angle + beyond)) ** 2
    return (across + along) / 2.0


def rod_passes(n, mu, length, angle):
    """Share of light at an angle that a rod with square ends passes: its sides trap all, its ends send to and fro."""
    turned = by_snell(1.0, n, angle)
    left = math.exp(-mu * length / math.sqrt(1.0 - (math.sin(angle) / n) ** 2))
    return (1.0 - turned) ** 2 * left / (1.0 - (turned * left) ** 2)


def box(size=(4.0, 4.0, 10.0), shift=(0.0, 0.0, 0.0)):
    """A box about a point."""
    mesh = trimesh.creation.box(size)
    return Solid.of(np.asarray(mesh.vertices) + shift, np.asarray(mesh.faces))


def ends(solid):
    """The faces square to z."""
    z = solid.triangle_normals[:, 2]
    return {"entry": np.flatnonzero(z < -0.9), "exit": np.flatnonzero(z > 0.9)}


def onto_disc(radius, ways, z=-1e-3, seed=1):
    """Rays of power 1 in all that start evenly over a disc just before z = 0."""
    draw = np.random.default_rng(seed)
    r, turn = radius * np.sqrt(draw.random(len(ways))), 2.0 * np.pi * draw.random(len(ways))
    spots = np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(len(ways), z)])
    return LightRays(spots, np.asarray(ways), np.full(len(ways), 1.0 / len(ways)))


def tilted(angle, count):
    """The same direction, an angle off z, again and again."""
    return np.tile([math.sin(angle), 0.0, math.cos(angle)], (count, 1))


def test_rod_in_a_million_lambertian_rays() -> None:
    """A straight round rod passes what quadrature over its closed form says, to a tenth of the 1 % asked for."""
    mu, length, radius, count = 0.05, 4.0, 2.0, 1_000_000
    rod = lathe(np.array([[radius, 0.0], [radius, length]]), np.eye(4))
    lamp = lamp_rays(np.zeros(3), np.array([0.0, 0.0, 1.0]), 1.0, count, seed=3)
    light = onto_disc(0.999 * radius, lamp.directions)
    found = trace_light(rod, Clear(PMMA, mu, reflectance), light, ends(rod), least_share=1e-4)
    want, _ = quad(lambda a: rod_passes(PMMA, mu, length, a) * 2.0 * math.sin(a) * math.cos(a), 0.0, math.pi / 2.0)
    assert found.leaves["exit"] / (1.0 - found.missed) == pytest.approx(want, rel=1e-3)
    assert found.leaves["sides"] < 1e-9
    assert abs(found.accounted - found.incident) < 1e-9


@pytest.mark.parametrize("angle_deg", [0.0, 17.0, 45.0, 80.0])
def test_rod_collimated(angle_deg) -> None:
    """Light at one angle comes through a square rod as the closed form says, whichever way its sides turn it."""
    rod = box((4.0, 4.0, 20.0), (0.0, 0.0, 10.0))
    light = onto_disc(1.5, tilted(math.radians(angle_deg), 500))
    found = trace_light(rod, Clear(PC, 0.03, reflectance), light, ends(rod), least_share=1e-13)
    assert found.leaves["exit"] == pytest.approx(rod_passes(PC, 0.03, 20.0, math.radians(angle_deg)), rel=1e-9)


# values.md section 6: 2n / (n^2 + 1)
@pytest.mark.parametrize(("n", "slab"), [(1.491, 0.925202), (PMMA, 0.925107), (1.51, 0.920704), (PC, 0.902562)])
def test_slab(n, slab) -> None:
    """Square on, a clear slab passes the published share, all light going to and fro counted."""
    plate = box((9.0, 9.0, 3.0))
    light = onto_disc(2.0, tilted(0.0, 50), z=-5.0)
    found = trace_light(plate, Clear(n, 0.0, reflectance), light, ends(plate), least_share=1e-14)
    assert found.leaves["exit"] == pytest.approx(slab, abs=1e-6)


# values.md section 6: the escape cone over the whole sphere
@pytest.mark.parametrize(("n", "share"), [(PMMA, 0.12905), (PC, 0.11207)])
def test_escape_cone(n, share) -> None:
    """Of light sent out evenly inside a cube each face lets out its escape cone, and the rest stays for good."""
    count = 100_000
    ways = np.random.default_rng(5).normal(size=(count, 3))
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    cube = box((3.0, 3.0, 3.0))
    names = {f"{axis}{side}": (axis, side) for axis in range(3) for side in (-1, 1)}
    faces = {name: np.flatnonzero(cube.triangle_normals[:, axis] * side > 0.9) for name, (axis, side) in names.items()}
    light = LightRays(np.zeros((count, 3)), ways, np.full(count, 1.0 / count))
    found = trace_light(cube, Clear(n, 0.0, reflectance), light, faces, most_bounces=60)
    for name in names:
        assert found.leaves[name] == pytest.approx(share, abs=4.0 * math.sqrt(share / count))
    assert found.left_over == pytest.approx(1.0 - 6.0 * share, abs=0.004)
    assert found.missed == found.turned_back == 0.0


# values.md section 6: critical angles
@pytest.mark.parametrize(("n", "critical_deg"), [(PMMA, 42.1065), (PC, 39.1176)])
def test_critical_angle(n, critical_deg) -> None:
    """A thousandth of a degree beyond the critical angle nothing leaves a face; as much before it something does."""
    plate = box((4000.0, 4000.0, 1.0))
    for off, leaves in ((-0.001, True), (0.001, False)):
        angle = math.radians(critical_deg + off)
        light = LightRays(np.zeros((1, 3)), tilted(angle, 1), np.ones(1))
        found = trace_light(plate, Clear(n, 0.0, reflectance), light, ends(plate), most_bounces=1)
        assert (found.leaves["exit"] > 0.0) == leaves


def test_absorption() -> None:
    """Without reflection a path of mu d = 0.5 leaves exp(-0.5) (values.md section 6: 0.606530660)."""
    rod = box((4.0, 4.0, 10.0))
    found = trace_light(rod, Clear(1.0, 0.05, reflectance), onto_disc(1.0, tilted(0.0, 7), z=-9.0), ends(rod))
    assert found.leaves["exit"] == pytest.approx(0.606530660, abs=1e-9)
    assert found.absorbed == pytest.approx(1.0 - 0.606530660, abs=1e-9)


def by_cylinder(light, n, mu, radius, length, bounces=400):
    """Shares out of exit and side of a round rod from z = 0, by the equations of its cylinder and its end planes."""
    way = light.directions
    power = light.power * (1.0 - np.array([by_snell(1.0, n, math.acos(c)) for c in way[:, 2]]))
    way = np.column_stack([way[:, :2] / n, np.sqrt(1.0 - (way[:, 0] ** 2 + way[:, 1] ** 2) / n**2)])
    spot = light.origins.copy()
    spot[:, 2] = 0.0
    out = {"exit": 0.0, "sides": 0.0, "entry": 0.0}
    for _ in range(bounces):
        a = way[:, 0] ** 2 + way[:, 1] ** 2
        b = spot[:, 0] * way[:, 0] + spot[:, 1] * way[:, 1]
        c = spot[:, 0] ** 2 + spot[:, 1] ** 2 - radius**2
        side = np.where(a > 1e-15, (-b + np.sqrt(np.maximum(b * b - a * c, 0.0))) / np.maximum(a, 1e-15), np.inf)
        end = np.where(way[:, 2] > 0.0, length - spot[:, 2], -spot[:, 2]) / way[:, 2]
        by_end = end < side
        reach = np.minimum(side, end)
        spot = spot + reach[:, None] * way
        power = power * np.exp(-mu * reach)
        round_out = np.column_stack([spot[:, :2] / radius, np.zeros(len(spot))])
        flat_out = np.column_stack([np.zeros((len(spot), 2)), np.sign(way[:, 2])])
        normal = np.where(by_end[:, None], flat_out, round_out)
        slope = np.einsum("ij,ij->i", normal, way)
        sine = n * np.sqrt(np.maximum(1.0 - slope**2, 0.0))
        beyond = np.sqrt(np.maximum(1.0 - sine**2, 0.0))
        s = ((n * slope - beyond) / (n * slope + beyond)) ** 2
        p = ((slope - n * beyond) / (slope + n * beyond)) ** 2
        turned = np.where(sine >= 1.0, 1.0, (s + p) / 2.0)
        lost = power * (1.0 - turned)
        out["exit"] += lost[by_end & (way[:, 2] > 0.0)].sum()
        out["entry"] += lost[by_end & (way[:, 2] < 0.0)].sum()
        out["sides"] += lost[~by_end].sum()
        power = power * turned
        way = way - 2.0 * slope[:, None] * normal
    return out


@pytest.mark.parametrize("n", [1.2, 1.31])
def test_leaky_rod_by_its_cylinder(n) -> None:
    """Below the square root of two a rod leaks at its side: as much as a tracer says that knows no triangle."""
    radius, length = 1.5, 9.0
    rod = lathe(np.array([[radius, 0.0], [radius, length]]), np.eye(4), 256)
    lamp = lamp_rays(np.zeros(3), np.array([0.0, 0.0, 1.0]), 1.0, 30_000, seed=8)
    light = onto_disc(0.995 * radius, lamp.directions, z=-1e-9)
    found = trace_light(rod, Clear(n, 0.01, reflectance), light, ends(rod), least_share=1e-7)
    want = by_cylinder(light, n, 0.01, radius, length)
    assert found.leaves["sides"] == pytest.approx(want["sides"], rel=0.01)
    assert found.leaves["sides"] > 0.05
    assert found.leaves["exit"] == pytest.approx(want["exit"], rel=0.01)


@pytest.mark.parametrize("section", [Section(3.0), Section(4.0, 2.0)])
def test_bend_conserves_energy(section) -> None:
    """Through two mirrors and a shoulder every share is booked: the sum is the light handed in, to 1e-9."""
    path = np.array([[-10.0, 3.0, 0.0], [-10.0, 3.0, 6.0], [0.0, 3.0, 6.0], [0.0, 3.0, 20.0]])
    shape = PipeShape(section, path, np.array([1.0, 0.0, 0.0]), 1.0, 1.0, -3.0)
    pipe = shape.pipe(box((30.0, 30.0, 3.0), (0.0, 3.0, 18.5)), 1.0, 0.0)
    light = lamp_rays(path[0] - [0.0, 0.0, 0.5], np.array([0.0, 0.0, 1.0]), 5.0, 100_000, seed=2)
    found = trace_light(pipe, Clear(1.52, 0.02, reflectance), light, shape.faces(pipe), watch="exit")
    assert abs(found.accounted - found.incident) < 1e-9
    assert found.left_over < 1e-6
    assert found.exits.total == pytest.approx(found.leaves["exit"], rel=1e-12)
    assert np.abs(found.exits.origins[:, 2] - 20.0).max() < 1e-9
    assert found.leaves["exit"] > 0.05 < found.leaves["mirror 1"]


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000), st.floats(1.05, 2.2), st.sampled_from([1e-3, 1.0, 1e3]))
def test_energy_at_every_scale(seed, n, scale) -> None:
    """In drawn hulls nothing is lost or made, and size does not matter where absorption follows it."""
    draw = np.random.default_rng(seed)
    hull = trimesh.convex.convex_hull(draw.normal(size=(24, 3)))
    start, way = draw.normal(size=(300, 3)) * 2.0, draw.normal(size=(300, 3))
    way = -start + 0.5 * way
    way /= np.linalg.norm(way, axis=1)[:, None]
    power = draw.random(300)
    shares = []
    for size in (1.0, scale):
        solid = Solid.of(np.asarray(hull.vertices) * size + 7.0 * size, np.asarray(hull.faces))
        light = LightRays((start + 7.0) * size, way, power)
        found = trace_light(solid, Clear(n, 0.3 / size, reflectance), light, {}, least_share=1e-12)
        assert abs(found.accounted - found.incident) < 1e-9 * found.incident
        shares.append([found.missed, found.turned_back, found.leaves["sides"], found.absorbed])
    assert shares[0] == pytest.approx(shares[1], rel=1e-3, abs=1e-3)


def test_edges_and_corners() -> None:
    """Rays that run into the very edges and corners of a box are found a next face, not lost."""
    cube = box((2.0, 2.0, 2.0))
    spots = np.array([[x, y, z] for x in (-1, 0, 1) for y in (-1, 0, 1) for z in (-1, 0, 1)], dtype=np.float64)
    ways = spots[np.abs(spots).sum(axis=1) > 0.0]
    ways /= np.linalg.norm(ways, axis=1)[:, None]
    light = LightRays(np.zeros_like(ways), ways, np.full(len(ways), 1.0 / len(ways)))
    found = trace_light(cube, Clear(1.3, 0.4, reflectance), light, {}, least_share=1e-9)
    assert found.left_over < 1e-8
    assert abs(found.accounted - 1.0) < 1e-12


def test_given_up_is_booked() -> None:
    """A ray given up after its bounces, and one beside the solid, stand in the sum."""
    cube = box((2.0, 2.0, 2.0))
    trapped = np.array([[1.0, 1.0, 1.0], [0.0, 0.0, 1.0]]) / np.array([[math.sqrt(3.0)], [1.0]])
    light = LightRays(np.array([[0.1, 0.0, 0.0], [5.0, 0.0, 0.0]]), trapped, np.array([2.0, 3.0]))
    found = trace_light(cube, Clear(1.6, 0.0, reflectance), light, {}, most_bounces=9)
    assert (found.left_over, found.missed, found.bounces) == (2.0, 3.0, 9)


def test_same_twice() -> None:
    """The same rays give the same figures to the last bit."""
    rod = box()
    light = lamp_rays(np.array([0.0, 0.0, -6.0]), np.array([0.0, 0.0, 1.0]), 3.0, 5000, seed=4)
    first, second = (trace_light(rod, Clear(1.5, 0.01, reflectance), light, ends(rod), watch="exit") for _ in "ab")
    assert first.leaves == second.leaves
    assert np.array_equal(first.exits.directions, second.exits.directions)


def test_refracted() -> None:
    """Sines stand as the indices do, to either side of a face."""
    for sign in (-1.0, 1.0):
        normal = np.array([[0.0, 0.0, sign]])
        bent = refracted(np.array([[0.6, 0.0, 0.8]]), normal, 1.0 / 1.5)
        assert bent[0] == pytest.approx([0.4, 0.0, math.sqrt(1.0 - 0.16)])
