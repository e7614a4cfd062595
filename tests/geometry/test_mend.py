"""A solid out of any triangles, or a fault that says where the surface is open."""

from __future__ import annotations

import csv
import itertools

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.mutated import box, joined, obj_text, stl_binary
from prep.errors import FileTooLarge, NoArea, NotASolid, NoVolume, OneSided, OpenMesh, WrongUnit
from prep.geometry.mend import mend
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.read_mesh import read_mesh
from prep.geometry.read_obj import read_obj
from prep.geometry.read_stl import read_stl

SCALES = [1e-3, 1.0, 1e3]
REPAIRED = {
    "bodies-overlapping.stl": ["parted", "united"],
    "block-in-inches.stl": ["welded"],
    "pinholes-four-open-edges.stl": ["welded"],
}


def raw(surface):
    """A surface as if read from a file."""
    points, triangles = surface
    return RawMesh(np.asarray(points, dtype=np.float64), np.asarray(triangles, dtype=np.int32), "mm", "stl", "")


def soup(surface):
    """A surface as if read from STL: every triangle with corners of its own, equal ones made one."""
    parsed = read_stl(stl_binary(surface))
    return RawMesh(parsed.vertices, parsed.triangles, "mm", "stl", "")


def kinds(mended):
    """What was repaired, in order."""
    return [repair.kind for repair in mended.repairs]


def turned(surface):
    """The surface inside out."""
    return surface[0], surface[1][:, ::-1]


def sphere(radius=10.0, subdivisions=2):
    """A faceted sphere from trimesh."""
    ball = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius)
    return np.asarray(ball.vertices), np.asarray(ball.faces)


def test_a_clean_body_is_not_touched():
    """A closed body comes back with its volume and without a repair."""
    mended = mend(soup(box((0, 0, 0), (1, 2, 3))))
    assert mended.repairs == ()
    assert mended.open_edges == 0
    assert mended.solid.volume_mm3 == pytest.approx(6.0, rel=1e-15)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.integers(1, 4), st.sampled_from(SCALES), st.booleans(), st.integers(0, 1000))
def test_nested_shells_keep_their_meaning(depth, scale, inside_out, seed):
    """Body, cavity, loose body in the cavity and so on keep their signs; the whole of it inside out is turned back."""
    step = np.random.default_rng(seed).uniform(0.05, 0.1, depth + 1).cumsum()
    shells = [
        box(np.full(3, s * scale), np.full(3, (1 - s) * scale), inward=bool(level % 2)) for level, s in enumerate(step)
    ]
    surface = joined(*shells)
    mended = mend(raw(turned(surface) if inside_out else surface))
    volume = sum((-1) ** level * ((1 - 2 * s) * scale) ** 3 for level, s in enumerate(step))
    assert mended.solid.volume_mm3 == pytest.approx(volume, rel=1e-9)
    assert mended.solid.topology.sealed_voids == (depth + 1) // 2
    assert kinds(mended) == (["inside-out"] if inside_out else [])
    if inside_out:
        assert mended.repairs[0].volume_change_mm3 == pytest.approx(2 * volume, rel=1e-9)


def test_an_inside_out_body_beside_others():
    """One body of three inside out is turned over; the cavity of another stays."""
    hollow = joined(box((0, 0, 0), (4, 4, 4)), box((1, 1, 1), (3, 3, 3), inward=True))
    surface = joined(hollow, box((10, 0, 0), (12, 2, 2), inward=True), box((20, 0, 0), (21, 1, 1)))
    mended = mend(raw(surface))
    assert mended.solid.volume_mm3 == pytest.approx(64 - 8 + 8 + 1, rel=1e-12)
    assert kinds(mended) == ["inside-out"]
    assert mended.repairs[0].count == 1
    assert mended.repairs[0].volume_change_mm3 == pytest.approx(16.0)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(st.tuples(*[st.floats(-0.9, 0.9)] * 3), st.sampled_from(SCALES), st.booleans())
def test_overlapping_bodies_count_once(shift, scale, far):
    """Two unit boxes that overlap weigh two less what they share, at any scale, near or 100 sizes from the origin."""
    begin = np.full(3, 100.0 if far else 0.0)
    low = begin + np.array(shift)
    surface = joined(box(begin * scale, (begin + 1) * scale), box(low * scale, (low + 1) * scale))
    mended = mend(raw(surface))
    share = float(np.prod(1 - np.abs(shift)))
    assert mended.solid.volume_mm3 == pytest.approx((2 - share) * scale**3, rel=1e-8)


def tiled(low, high):
    """A box between whole numbers whose faces are squares of one, so that boxes share points and edges."""
    corners, rows = {}, []
    for axis in range(3):
        u, v = (a for a in range(3) if a != axis)
        for side in (low, high):
            for i, j in itertools.product(range(low[u], high[u]), range(low[v], high[v])):
                square = []
                for a, b in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)):
                    point = [side[axis]] * 3
                    point[u], point[v] = a, b
                    square.append(corners.setdefault(tuple(point), len(corners)))
                outward = square if (side is high) != (axis == 1) else square[::-1]
                rows += [outward[:3], [outward[0], *outward[2:]]]
    return np.array(list(corners), dtype=float), np.array(rows)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.integers(2, 4), st.booleans())
def test_boxes_that_share_everything(seed, count, finely):
    """Boxes welded into one soup, that overlap, touch and share faces, edges and triangles, weigh what they fill."""
    draw = np.random.default_rng(seed)
    filled, parts = np.zeros((6, 6, 6), dtype=bool), []
    for _ in range(count):
        low = draw.integers(0, 4, 3)
        high = low + draw.integers(1, 3, 3)
        filled[tuple(slice(*ends) for ends in zip(low, high, strict=True))] = True
        parts.append(tiled(low.tolist(), high.tolist()) if finely else box(low, high))
    assert mend(soup(joined(*parts))).solid.volume_mm3 == pytest.approx(filled.sum(), rel=1e-9)


def test_a_body_within_the_material_of_another():
    """A body buried in another adds nothing; one in its cavity does, and keeps its own cavity."""
    buried = joined(box((0, 0, 0), (9, 9, 9)), box((1, 1, 1), (2, 2, 2)))
    mended = mend(raw(buried))
    assert mended.solid.volume_mm3 == pytest.approx(729, rel=1e-12)
    assert mended.solid.topology.shells == 1
    assert kinds(mended) == ["united"]
    assert mended.repairs[0].volume_change_mm3 == pytest.approx(-1.0)


def test_overlapping_hollow_bodies():
    """A cavity fills only where another body's material reaches into it."""
    a = joined(box((0, 0, 0), (6, 6, 6)), box((2, 2, 2), (4, 4, 4), inward=True))
    mended = mend(raw(joined(a, box((3, 1, 1), (9, 5, 5)))))
    # by hand: 216 - 8, and a bar of 6 x 4 x 4 of which 3 x 4 x 4 lies in the block, 1 x 2 x 2 of that in its cavity
    assert mended.solid.volume_mm3 == pytest.approx(216 - 8 + 96 - (48 - 4), rel=1e-12)
    assert mended.solid.topology.sealed_voids == 1


@pytest.mark.parametrize("make", [soup, raw])
def test_a_body_exported_twice(make):
    """A hollow body that stands in the file twice weighs once, whether its copies share points or not."""
    hollow = joined(box((0, 0, 0), (4, 4, 4)), box((1, 1, 1), (3, 3, 3), inward=True))
    mended = mend(make(joined(hollow, hollow)))
    assert mended.solid.volume_mm3 == pytest.approx(56, rel=1e-12)
    assert mended.solid.topology.sealed_voids == 1
    assert kinds(mended) == (["duplicates"] if make is soup else ["doubled"])
    assert mended.repairs[0].volume_change_mm3 == pytest.approx(-56.0)


def test_bodies_that_touch_along_an_edge():
    """An edge shared by four triangles is given to each body, nothing moves, and they stay two."""
    mended = mend(soup(joined(box((0, 0, 0), (4, 4, 4)), box((4, 4, 0), (8, 8, 4)))))
    assert mended.solid.volume_mm3 == pytest.approx(128, rel=1e-15)
    assert mended.solid.topology.shells == 2
    assert mended.solid.topology.genus == 0
    assert kinds(mended)[0] == "parted"
    assert mended.repairs[0].moved_mm == 0.0


def test_four_bodies_around_one_edge():
    """Eight triangles around an edge are paired across the material of each body."""
    parts = [box((0, 0, 0), (1, 1, 3)), box((-1, -1, 0), (0, 0, 3))]
    mended = mend(soup(joined(*parts)))
    assert mended.solid.topology.shells == 2
    ring = trimesh.creation.annulus(1.0, 2.0, 1.0)
    assert mend(raw((ring.vertices, ring.faces))).solid.topology.genus == 1


def test_bodies_that_share_a_face():
    """Two boxes face to face become one."""
    mended = mend(soup(joined(box((0, 0, 0), (1, 1, 1)), box((1, 0, 0), (2, 1, 1)))))
    assert mended.solid.volume_mm3 == pytest.approx(2, rel=1e-12)
    assert mended.solid.topology.shells == 1


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.integers(0, 2**31), st.floats(0.02, 0.45), st.sampled_from(SCALES))
def test_mixed_winding(seed, share, scale):
    """Triangles turned over at random in two balls and a cavity are turned back."""
    draw = np.random.default_rng(seed)
    surface = joined(sphere(scale), turned(sphere(0.5 * scale)), (sphere(scale)[0] + 3 * scale, sphere()[1]))
    points, triangles = surface[0], surface[1].copy()
    over = draw.random(len(triangles)) < share
    over[0] = True
    triangles[over] = triangles[over][:, ::-1]
    mended = mend(raw((points, triangles)))
    assert mended.solid.volume_mm3 == pytest.approx(mend(raw(surface)).solid.volume_mm3, rel=1e-12)
    assert kinds(mended)[0] == "turned"


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.integers(0, 2**31), st.floats(1e-8, 2e-5), st.sampled_from(SCALES))
def test_cracks_are_welded(seed, share, scale):
    """Corners that fell apart by less than the limit are welded; nothing moves farther, the volume hardly changes."""
    points, triangles = sphere(scale)
    noise = np.random.default_rng(seed).uniform(-1, 1, (len(triangles), 3, 3)) * share * scale
    noise /= np.maximum(np.linalg.norm(noise, axis=2, keepdims=True) / (share * scale), 1.0)
    loose = points[triangles] + noise
    mended = mend(raw((loose.reshape(-1, 3), np.arange(len(triangles) * 3).reshape(-1, 3))))
    assert kinds(mended) == ["welded"]
    assert mended.open_edges == 3 * len(triangles)
    assert mended.solid.topology.shells == 1
    assert len(mended.solid.triangles) == len(triangles)
    assert mended.repairs[0].moved_mm <= 1e-4 * np.linalg.norm([2 * scale] * 3)
    area = 4 * np.pi * scale**2
    assert mended.solid.volume_mm3 == pytest.approx(
        mend(raw((points, triangles))).solid.volume_mm3, abs=area * share * scale
    )


def test_no_more_is_welded_than_needed():
    """Closing a crack of a nanometre leaves fine detail, far below the limit, as it was."""
    fine = box((0, 0, 10), (0.004, 0.004, 10.004))
    points, triangles = sphere(50.0, 3)
    loose = points[triangles].reshape(-1, 3).copy()
    loose[::7] += 1e-6
    count = np.arange(len(loose)).reshape(-1, 3)
    mended = mend(raw(joined((loose, count), (fine[0] + 60, fine[1]))))
    assert len(mended.solid.triangles) == len(triangles) + 12


@pytest.mark.parametrize("scale", SCALES)
def test_a_pinhole_is_closed(scale):
    """A hole a hundredth of a percent of the part across is drawn shut; one of a percent is refused."""
    points, triangles = box((0, 0, 0), (scale, scale, scale))
    for size, closes in ((5e-5, True), (1e-2, False)):
        corner = points[triangles[0]]
        middle = corner.mean(axis=0)
        hole = middle + (corner - middle) * size
        n = len(points)
        a, b, c = triangles[0]
        ring = [(a, b, n + 1), (a, n + 1, n), (b, c, n + 2), (b, n + 2, n + 1), (c, a, n), (c, n, n + 2)]
        surface = (np.concatenate([points, hole]), np.concatenate([triangles[1:], ring]))
        if closes:
            mended = mend(raw(surface))
            assert mended.open_edges == 3
            assert mended.solid.volume_mm3 == pytest.approx(scale**3, rel=1e-12)
        else:
            with pytest.raises(OpenMesh):
                mend(raw(surface))


def test_a_point_on_a_side():
    """A side that meets two shorter ones, as where a face was split on one side only, is cut at their point."""
    points, triangles = box((0, 0, 0), (1, 1, 1))
    a, b, c = triangles[0]
    middle = (points[a] + points[b]) / 2
    split = np.array([(a, len(points), c), (len(points), b, c)])
    mended = mend(raw((np.concatenate([points, [middle]]), np.concatenate([triangles[1:], split]))))
    assert mended.solid.volume_mm3 == pytest.approx(1.0, rel=1e-12)
    assert "1 sides cut" in mended.repairs[0].says


def test_open_mesh_says_where():
    """A missing face is refused with the count of open edges, the place and size of the largest gap, and what to do."""
    points, triangles = sphere(50.0, 3)
    missing = points[triangles[[5]]].reshape(-1, 3)
    surface = joined(
        (points, np.delete(triangles, 5, axis=0)), (box((100, 0, 0), (101, 1, 1))[0], box((0,) * 3, (1,) * 3)[1][2:])
    )
    with pytest.raises(OpenMesh) as fault:
        mend(raw(surface))
    assert "7 open edges" in fault.value.found
    assert "2 gaps" in fault.value.found
    x, y, z = (missing.min(axis=0) + missing.max(axis=0)) / 2
    assert f"about ({x:.4g}, {y:.4g}, {z:.4g}) mm" in fault.value.found
    assert "3 edges" in fault.value.found
    assert "close the surface there" in fault.value.fix


def test_an_inner_wall():
    """A wall across the inside, where three triangles share an edge, is refused and not guessed at."""
    points, triangles = box((0, 0, 0), (1, 1, 1))
    wall = np.array([(0, 3, 7), (0, 7, 4)])
    with pytest.raises(OpenMesh):
        mend(raw((points, np.concatenate([triangles, wall]))))


def test_a_one_sided_band():
    """A closed surface with one side only has no inside: Klein's bottle."""
    n = 12
    index = np.arange(n * n).reshape(n, n)
    u, v = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    next_u, next_v = np.roll(index, -1, axis=0), np.roll(index, -1, axis=1)
    both = np.roll(next_u, -1, axis=1)
    next_u[-1] = index[0, -np.arange(n) % n]
    both[-1] = index[0, -(np.arange(n) + 1) % n]
    triangles = np.concatenate([np.stack([index, next_u, both], -1), np.stack([index, both, next_v], -1)]).reshape(
        -1, 3
    )
    points = np.random.default_rng(2).normal(size=(n * n, 3)) + np.stack([u, v, u], -1).reshape(-1, 3)
    with pytest.raises(OneSided):
        mend(raw((points, triangles)))


def test_three_bodies_on_one_wall():
    """Three tetrahedra on one triangle that stands only once have even edges but no winding: refused."""
    points = np.array([(0, 0, 2), (1, 0, 0), (0, 1, 0), (-1, -1, 0), (0, 0, -1), (0, 0, 4)], dtype=float)
    sides = [(tip, a, b) for tip in (0, 4, 5) for a, b in ((1, 2), (2, 3), (3, 1))]
    with pytest.raises(NotASolid) as fault:
        mend(raw((points, np.array([*sides, (1, 2, 3)]))))
    assert "3 edges shared by more than two" in fault.value.found


def test_sheets_are_dropped():
    """A closed sheet without thickness beside a body is dropped; alone it encloses nothing."""
    sheet = (np.array([(5, 0, 0), (6, 0, 0), (5, 1, 0.0)]), np.array([(0, 1, 2), (0, 2, 1)]))
    with pytest.raises(NoVolume):
        mend(raw(sheet))
    mended = mend(raw(joined(box((0, 0, 0), (1, 1, 1)), sheet)))
    assert mended.solid.volume_mm3 == pytest.approx(1.0)
    assert mended.solid.topology.shells == 1


def test_collapsed_triangles_are_dropped():
    """Triangles that name a point twice are dropped, and alone they are no mesh."""
    points, triangles = box((0, 0, 0), (1, 1, 1))
    mended = mend(raw((points, np.concatenate([triangles, [(0, 0, 1), (2, 3, 3)]]))))
    assert kinds(mended) == ["collapsed"]
    assert mended.repairs[0].count == 2
    with pytest.raises(NoArea):
        mend(raw((points, np.array([(0, 0, 1), (2, 2, 2)]))))


def test_a_soup_in_obj():
    """An OBJ in which no two faces share a point is welded by equal points alone, which is no repair."""
    points, triangles = sphere(5.0)
    parsed = read_obj(obj_text((points[triangles].reshape(-1, 3), np.arange(3 * len(triangles)).reshape(-1, 3))))
    mended = mend(raw((parsed.vertices, parsed.triangles)))
    assert mended.repairs == ()
    assert len(mended.solid.vertices) == len(points)


def test_far_from_the_origin():
    """A part 2 m from the origin, rounded to single precision there, mends and stays where it is."""
    points, triangles = sphere(20.0, 3)
    mended = mend(soup((points + 2000.0, triangles)))
    assert mended.solid.bounds_mm[0] == pytest.approx(points.min(axis=0) + 2000.0, abs=2e-4)
    overlapping = joined((points + 2000.0, triangles), (points + 2010.0, triangles))
    united = mend(raw(overlapping))
    near = mend(raw((overlapping[0] - 2000.0, overlapping[1])))
    assert united.solid.volume_mm3 == pytest.approx(near.solid.volume_mm3, rel=1e-9)
    assert united.solid.bounds_mm == pytest.approx(near.solid.bounds_mm + 2000.0, abs=1e-9)


def test_longest_is_held_first():
    """A stated length that is not met is the fault, whatever else is wrong with the mesh."""
    points, triangles = box((0, 0, 0), (1, 2, 4))
    with pytest.raises(WrongUnit) as fault:
        mend(raw((points, triangles[1:])), longest=(101.6, 0.5))
    assert "inch" in fault.value.fix
    assert mend(raw((points, triangles)), longest=(4.0, 0.1)).solid.volume_mm3 == pytest.approx(8)


def test_a_cloud_of_shells(monkeypatch):
    """More shells than any part has are refused."""
    monkeypatch.setattr("prep.geometry.mend.MOST_SHELLS", 3)
    boxes = [box((3 * k, 0, 0), (3 * k + 1, 1, 1)) for k in range(4)]
    assert mend(raw(joined(*boxes[:3]))).solid.topology.shells == 3
    with pytest.raises(FileTooLarge):
        mend(raw(joined(*boxes)))


def test_shared_meshes(shared_meshes):
    """Every real mesh mends to the volume its list of sources gives, those that overlap to that of their union."""
    with (shared_meshes / "SOURCES.csv").open() as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        mended = mend(read_mesh(shared_meshes / row["file"]))
        expected = float(row["union_volume"] or row["volume"])
        assert mended.solid.volume_mm3 == pytest.approx(expected, rel=1e-4), row["file"]
        assert kinds(mended) == REPAIRED.get(row["file"], []), row["file"]


def test_six_instances_are_six_bodies(shared_meshes):
    """Six places of one object are six bodies; nothing is united."""
    assert mend(read_mesh(shared_meshes / "3mf-six-instances.3mf")).solid.topology.shells == 6
