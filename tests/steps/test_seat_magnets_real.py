"""`seat_magnets` on real exports: what does not fit is refused with numbers that hold, what does is cut as asked.

Rays and points here are trimesh's, on the triangles as exported.
"""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import trimesh

from fixtures.benches import bench_of
from fixtures.gauges import disc_spots, distances, first_hits, gauge_bore, nearest, new_faces, spots_on, within
from prep.build.verify import hold_to
from prep.errors import DoesNotFit
from prep.geometry.solid import Solid
from prep.steps.seat_magnets import SeatMagnets

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "meshes"
pytestmark = pytest.mark.skipif(not FOLDER.is_dir(), reason="no folder shared/meshes beside the repository")
PAIRS = [
    ("pair1-case-a", "pair1-case-b"),
    ("pair2-dongle-bottom", "pair2-dongle-top"),
    ("pair3-foot-bottom", "pair3-foot-top"),
    ("pair4-lightbox-bottom", "pair4-lightbox-frame"),
]


@cache
def mesh(name: str) -> trimesh.Trimesh:
    """One export, corners merged, nothing else touched."""
    loaded = trimesh.load(FOLDER / f"{name}.stl", process=False)
    loaded.merge_vertices()
    faces = loaded.faces[(np.sort(loaded.faces, axis=1)[:, 1:] != np.sort(loaded.faces, axis=1)[:, :-1]).all(axis=1)]
    return trimesh.Trimesh(loaded.vertices, faces, process=False)


def solid(name: str) -> Solid:
    """One export as a solid."""
    return Solid.of(np.array(mesh(name).vertices), np.array(mesh(name).faces))


def widest_skin(pair: tuple[str, str], count: int = 60) -> float:
    """Across the widest disc of skin that faces out of both parts, over places strewn on where they mate, mm."""
    lower, upper = (mesh(name) for name in pair)
    points, face = trimesh.sample.sample_surface(lower, 40 * count, seed=3)
    apart, other = nearest((upper.vertices, upper.faces), points)
    mates = (apart < 0.5) & (np.einsum("ij,ij->i", lower.face_normals[face], upper.face_normals[other]) < -0.95)
    assert mates.any()
    widest = 0.0
    for point, axis in zip(points[mates][:count], lower.face_normals[face][mates][:count], strict=True):
        while covered(lower, point, axis, widest / 2.0 + 0.1) and covered(upper, point, -axis, widest / 2.0 + 0.1):
            widest += 0.2
    return widest


def covered(part: trimesh.Trimesh, point, axis, radius: float) -> bool:
    """Whether skin facing along `axis` lies within 3 mm under or over every point of a disc."""
    starts = disc_spots(point + 2.99 * axis, axis, radius)
    rows = part.ray.intersects_first(starts, np.broadcast_to(-axis, starts.shape))
    normals, spots = part.face_normals[rows], part.triangles[rows, 0]
    if (rows < 0).any() or (normals @ axis <= 1e-3).any():
        return False
    return bool((np.einsum("ij,ij->i", normals, starts - spots) / (normals @ axis) <= 2.0 * 2.99).all())


@pytest.mark.parametrize("pair", PAIRS, ids=[first[:5] for first, _ in PAIRS])
def test_discs_too_large_for_a_real_seam_are_refused(pair) -> None:
    """6x2 discs are refused on the thin-walled pairs: the width told is the widest to be found by another way."""
    bench = bench_of(a=solid(pair[0]), b=solid(pair[1]))
    step = SeatMagnets.model_validate({"step": "seat_magnets", "between": ["a", "b"], "magnet": "disc 6x2 N42"})
    with pytest.raises(DoesNotFit, match="width of the skin") as fault:
        step.apply(bench)
    found, wanted = (float(x) for x in re.search(r"([\d.]+) mm of .*, ([\d.]+) mm wanted", fault.value.found).groups())
    assert wanted == 7.5
    assert fault.value.what.endswith(f"short by {wanted - found:.2f} mm")
    assert widest_skin(pair) <= found + 0.3
    at = np.array([float(x) for x in re.search(r"at \((.*?)\)", fault.value.where)[1].split(",")])
    _, row = nearest((mesh(pair[0]).vertices, mesh(pair[0]).faces), at[None])
    axis = mesh(pair[0]).face_normals[row[0]]
    assert covered(mesh(pair[0]), at, axis, found / 2.0 - 0.15)
    assert covered(mesh(pair[1]), at, -axis, found / 2.0 - 0.15)


PARTS = [
    ("palm-rest", {"facing": "-z"}, "disc 10x3 N42", "glue"),
    ("palm-rest", {"facing": "-z", "row": {"count": 3, "pitch": "30 mm"}}, "disc 6x2 N42", "ribs"),
    ("palm-rest", {"ray": {"from": "10, -172, 60 mm", "toward": "-z"}}, "disc 6x2 N42", "press"),
    ("knob-far-from-origin", {"facing": "-x"}, "disc 6x2 N42", "glue"),
    ("handle-branched", {"facing": "+x"}, "disc 6x2 N42", "glue"),
    ("handle-branched", {"facing": "-x"}, "disc 4x2 N42", "glue"),
]
SIZES = {"glue": 0.5, "press": -0.14, "ribs": 0.5}


@pytest.mark.parametrize(("name", "at", "magnet", "fixing"), PARTS)
def test_seats_in_real_parts(name, at, magnet, fixing) -> None:
    """Seats at places on real parts hold their predictions, diameter, depth under the skin, walls and way in."""
    bench = bench_of(part=solid(name))
    words = {"step": "seat_magnets", "part": "part", "at": at, "magnet": magnet, "fixing": fixing}
    outcome = SeatMagnets.model_validate(words).apply(bench)
    hold_to(bench, outcome)
    size, thick = (float(x) for x in re.search(r"(\d+)x(\d+)", magnet).groups())
    wide = size + SIZES[fixing]
    before, after = bench.parts["part"].solid, outcome.solids["part"]
    fresh = new_faces((before.vertices, before.triangles), (after.vertices, after.triangles))
    for item in outcome.ledger.items:
        axis, middle = np.array(item.axis), np.array(item.at_mm)
        near = np.linalg.norm(fresh.mean(axis=1) - middle, axis=1) < size + thick
        bore = gauge_bore(fresh[near], middle, axis)
        assert 2.0 * bore.radius == pytest.approx(wide, abs=0.02)
        assert 2.0 * bore.least >= wide - 1e-6
        spots = disc_spots(middle, axis, wide / 2.0 + 0.5)
        height, _ = first_hits(before.corners, spots, np.broadcast_to(axis, spots.shape))
        assert bore.floor + height.min() == pytest.approx(thick + 0.1 + (0.2 if fixing == "glue" else 0.0), abs=0.02)
        assert within(
            (before.vertices, before.triangles), disc_spots(middle + 0.5 * thick * axis, axis, size / 2)
        ).all()
        faces = before.triangles[before.triangle_normals @ axis < 0.7]
        assert distances((before.vertices, faces), spots_on(fresh[near], 0.3)).min() >= 0.8
        lead = disc_spots(middle + 0.5 * thick * axis, axis, min(size, wide) / 2.0 - 0.1)
        way, _ = first_hits(after.corners, lead, np.broadcast_to(axis, lead.shape))
        assert way.min() >= thick + 3.0


def test_a_thin_bowl_is_refused_with_its_wall() -> None:
    """A 2 mm shell cannot hold a seat 1.3 mm deep: what is left under it is told, as rays through the shell say."""
    bench = bench_of(bowl=solid("bowl-hemisphere"))
    words = {"step": "seat_magnets", "part": "bowl", "magnet": "disc 3x1 N42"}
    words["at"] = {"ray": {"from": "-100, 0.5, 0.5 mm", "toward": "+x"}}
    with pytest.raises(DoesNotFit, match="material beside the seat") as fault:
        SeatMagnets.model_validate(words).apply(bench)
    found = float(fault.value.found.split(" mm")[0])
    way = np.array([1.0, 0.0, 0.0])
    bowl = mesh("bowl-hemisphere")
    starts = disc_spots(np.array([-100.0, 0.5, 0.5]), way, 2.25)
    outer, _ = first_hits(bowl.triangles, starts, np.broadcast_to(way, starts.shape))
    inner, _ = first_hits(bowl.triangles, starts, np.broadcast_to(way, starts.shape), past=outer.max() + 0.5)
    assert 1.9 < float(np.median(inner - outer)) < 2.1
    assert found == pytest.approx(inner.min() - outer.max() - 1.3, abs=0.06)  # the seat's axis leans a degree
