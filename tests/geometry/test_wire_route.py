"""`route_wire`: ways found on known forms, measured by hand; the ways there are not, and what would pass."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box
from fixtures.gauges import distances, first_hits, new_faces, spots_on
from prep.errors import NoWireRoute
from prep.geometry.lathe import lathe
from prep.geometry.solid import Solid, subtract, unite
from prep.geometry.wire_channel import channel
from prep.geometry.wire_route import WireEnd, WireRoute, route_wire
from tests.by_hand import nearest_by_hand

MESHES = Path(__file__).resolve().parents[2] / "../shared/meshes"
X, Y, Z = np.eye(3)
WIDTH, WALL, BEND = 2.2, 1.2, 5.0
REACH = WIDTH / 2.0 / math.cos(math.pi / 8.0)
"""From the middle of the octagon to its corner."""


def block(size, middle=(0.0, 0.0, 0.0)) -> Solid:
    """A box about a middle."""
    return Solid.of(*box(size, middle))


def bore(at, depth: float, radius: float = 3.0) -> Solid:
    """A round cavity going down from a point of a face that looks up."""
    frame = np.eye(4)
    frame[:3, 3] = at
    return lathe(np.array([[radius, -depth], [radius, 1.0]]), frame)


def stop(at, into) -> WireEnd:
    """An end from plain numbers."""
    return WireEnd(np.asarray(at, dtype=float), np.asarray(into, dtype=float))


def route(host, start, end, others=(), blocked=(), **more) -> WireRoute:
    """A route with this file's usual width, wall and bend."""
    wanted = {"width_mm": WIDTH, "wall_mm": WALL, "bend_mm": BEND} | more
    return route_wire(host, others, blocked, start, end, **wanted)


def tightest(points) -> float:
    """Least radius of the circle through three points in a row."""
    a, b, c = points[:-2], points[1:-1], points[2:]
    ab, bc, ca = (np.linalg.norm(p, axis=1) for p in (b - a, c - b, a - c))
    twice = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    bent = twice > 1e-6 * ab * bc
    return float((ab * bc * ca / np.where(bent, 2.0 * twice, 1e-30))[bent].min(initial=np.inf))


def cut_of(host: Solid, way: WireRoute) -> Solid:
    """The part with the channel."""
    return subtract(host, channel(way, up=Z))


def prove(host: Solid, way: WireRoute, skin: Solid | None = None) -> Solid:
    """Measure a channel cut into a part whose skin one sees is `skin`, by default its own; hand back the part.

    The way is free for a ball of the wire's width; what was cut lies the wall under the old skin, but for its mouths;
    no bend is tighter than asked; every tunnel adds one handle (counted by trimesh).
    """
    cut = cut_of(host, way)
    line = np.concatenate([np.linspace(a, b, 12) for a, b in zip(way.points[:-1], way.points[1:], strict=True)])
    assert distances((cut.vertices, cut.triangles), line).min() >= WIDTH / 2.0 - 2e-3
    faces = new_faces((host.vertices, host.triangles), (cut.vertices, cut.triangles))
    spots = spots_on(faces, 0.8)
    lead = (REACH + WALL) / 0.7 + REACH
    inner = (np.linalg.norm(spots[:, None] - way.points[[0, -1]], axis=2) > lead).all(axis=1)
    assert inner.any()
    assert nearest_by_hand(spots[inner], (skin or host).corners, reach=WALL + 2.0).min() >= WALL - 2e-3
    assert tightest(way.points) >= BEND - 1e-6
    before, after = (trimesh.Trimesh(s.vertices, s.triangles, process=False) for s in (host, cut))
    assert after.is_watertight
    assert before.euler_number - after.euler_number == 2 * way.handles
    return cut


def test_straight_across() -> None:
    """Between facing places the way is the straight line, its wall known, cut from end to end."""
    host = block((40.0, 20.0, 20.0))
    way = route(host, stop((-20, 0, 3), X), stop((20, 0, 3), -X))
    assert way.length_mm == pytest.approx(40.0)
    assert way.cut == ((0, 1),)
    assert way.handles == 1
    lead = (REACH + WALL) / 0.7
    assert way.least_wall_mm == pytest.approx(
        lead - REACH, abs=0.11
    )  # its mouth is as far as that from where it counts
    cut = prove(host, way)
    assert np.isinf(first_hits(cut.corners, np.array([[0.0, 0.0, 3.0]] * 2), np.stack([X, -X]))[0]).all()


def test_round_a_corner() -> None:
    """From the top of a block out of its side: the shortest is two runs and one arc, and ours is hardly longer."""
    host = block((60.0, 40.0, 30.0))
    way = route(host, stop((0, 0, 15), -Z), stop((30, 0, 0), -X))
    prove(host, way)
    shortest = 30.0 + 15.0 - BEND * (2.0 - math.pi / 2.0)
    assert way.length_mm < shortest
    assert way.length_mm > math.hypot(30.0, 15.0)


def test_round_what_is_blocked() -> None:
    """A seat in the straight way is passed at the wall asked for, measured from the channel's own faces."""
    host, seat = block((100.0, 60.0, 30.0)), bore((0, 0, 15), 28.0, 6.0)
    way = route(host, stop((-50, 0, 0), X), stop((50, 0, 0), -X), blocked=[seat])
    cut = prove(host, way)
    faces = spots_on(new_faces((host.vertices, host.triangles), (cut.vertices, cut.triangles)), 0.5)
    assert distances((seat.vertices, seat.triangles), faces).min() >= WALL - 2e-3
    assert 100.0 < way.length_mm < 104.0
    assert WALL <= way.least_wall_mm < WALL + 1.0


@pytest.mark.parametrize("ready", [True, False])
def test_from_a_cavity(ready) -> None:
    """From a cavity, cut already or not, the channel opens into it and nowhere else comes near it."""
    host, cavity = block((80.0, 40.0, 30.0)), bore((-20, 0, 15), 20.0)
    given_host = subtract(host, [cavity]) if ready else host
    way = route(given_host, stop((-17, 0, 0), X), stop((-20, -20, -6), Y), blocked=[cavity])
    both = subtract(host, [cavity, *channel(way, up=Z)])
    start = way.points[0] + 0.5 * X
    reach, _ = first_hits(both.corners, start[None], -X[None])
    assert reach[0] == pytest.approx(6.5, abs=0.01)
    faces = new_faces((given_host.vertices, given_host.triangles), (both.vertices, both.triangles))
    spots = spots_on(faces, 0.5)
    on_channel = np.abs(np.hypot(spots[:, 0] + 20.0, spots[:, 1]) - 3.0) > 0.01
    far = np.linalg.norm(spots - way.points[0], axis=1) > (REACH + WALL) / 0.7 + REACH
    kept = on_channel & far
    if ready:
        assert distances((cavity.vertices, cavity.triangles), spots[kept]).min() >= WALL - 2e-3
    assert tightest(way.points) >= BEND - 1e-6
    assert both.topology.genus == way.handles == 1


def shell() -> tuple[Solid, Solid]:
    """A shell open below with 3 mm walls, a block of 12 mm in each of two corners, and its lid."""
    outer, inner = block((80.0, 50.0, 30.0), (0, 0, 15)), block((74.0, 44.0, 30.0), (0, 0, 12))
    blocks = [block((14.0, 14.0, 29.0), (s * 32.0, s * 17.0, 14.5)) for s in (1, -1)]
    return unite([subtract(outer, [inner]), *blocks]), block((80.0, 50.0, 3.0), (0, 0, -1.5))


def test_hidden_air_is_free() -> None:
    """With the lid on the wire leaves one block, crosses the hidden inside uncut and enters the other: two tunnels."""
    host, lid = shell()
    start, end = stop((33, 17, 0), Z), stop((-33, -17, 0), Z)
    way = route(host, start, end, others=[lid])
    assert way.handles == 2
    assert len(way.cut) == 2
    assert way.cut_mm < 40.0 < way.length_mm
    cut = prove(host, way, block((80.0, 50.0, 60.0)))
    assert np.abs(cut.bounds_mm - host.bounds_mm).max() < 1e-9


def test_never_through_air_one_sees() -> None:
    """A trough across the block is crossed where a cover hides it, and passed below where nothing does."""
    host = subtract(block((80.0, 30.0, 30.0)), [block((30.0, 40.0, 30.0), (0, 0, 9.0))])
    cover = subtract(block((84.0, 40.0, 30.0), (0, 0, 4.0)), [block((80.2, 30.2, 30.0), (0, 0, 2.0))])
    start, end = stop((-40, 0, 0), X), stop((40, 0, 0), -X)
    covered = route(host, start, end, others=[cover])
    bare = route(host, start, end)
    assert len(covered.cut) == 2
    assert covered.points[:, 2].min() > -2.0
    assert len(bare.cut) == 1
    line = np.concatenate([np.linspace(a, b, 20) for a, b in zip(bare.points[:-1], bare.points[1:], strict=True)])
    under = line[np.abs(line[:, 0]) < 15.0]
    assert (under[:, 2] <= -6.0 - WALL - REACH + 2e-3).all()
    prove(host, bare)


def test_a_part_alone_with_its_open_side_hidden() -> None:
    """Without its lid a shell is refused, its inside being air one sees; with the open side said hidden, a way is."""
    host, _ = shell()
    start, end = stop((33, 17, 0), Z), stop((-33, -17, 0), Z)
    with pytest.raises(NoWireRoute):
        route(host, start, end)
    assert route(host, start, end, open_toward=-Z).handles == 2


@given(st.floats(-12.0, 12.0), st.floats(-6.0, 6.0), st.floats(-12.0, 12.0), st.floats(-6.0, 6.0), st.floats(-0.4, 0.4))
@settings(max_examples=5, deadline=None, derandomize=True)
def test_drawn_places(y0, z0, y1, z1, turn) -> None:
    """Between any two places on two sides of a turned block the channel keeps wall, bend and width."""
    c, s = math.cos(turn), math.sin(turn)
    move = np.array([[c, -s, 0.0, 5.0], [s, c, 0.0, -3.0], [0.0, 0.0, 1.0, 100.0]])
    host = block((70.0, 36.0, 24.0)).moved(move)
    ends = [stop(move[:, :3] @ np.array(at) + move[:, 3], move[:, :3] @ into)
            for at, into in (((-35.0, y0, z0), X), ((35.0, y1, z1), -X))]  # fmt: skip
    way = route(host, *ends)
    prove(host, way)
    assert way.length_mm >= np.linalg.norm(ends[1].at_mm - ends[0].at_mm) - 1e-9


def test_the_same_twice() -> None:
    """The same question has the same answer to the last bit."""
    host, seat = block((100.0, 60.0, 30.0)), bore((0, 0, 15), 28.0, 6.0)
    ways = [route(host, stop((-50, 0, 0), X), stop((50, 0, 0), -X), blocked=[seat]) for _ in range(2)]
    assert ways[0].points.tobytes() == ways[1].points.tobytes()


# --- what there is no way for ----------------------------------------------------------------------


def neck(width: float) -> Solid:
    """Two blocks with a square neck between them."""
    ends = [block((30.0, 30.0, 30.0), (s * 35.0, 0, 0)) for s in (1, -1)]
    return unite([*ends, block((50.0, width, width))])


ASKEW = (stop((-50, 8, 8), X), stop((50, -8, 8), -X))


def test_too_narrow() -> None:
    """A neck of 4 mm is refused with the place and the width that would pass there, and that width does pass."""
    with pytest.raises(NoWireRoute, match="wide enough") as told:
        route(neck(4.0), *ASKEW)
    assert "narrowest near" in told.value.where
    x = float(told.value.where.split("(")[1].split(",")[0])
    assert abs(x) <= 21.0
    offered = float(told.value.fix.split("a wire ")[1].split(" mm")[0])
    exact = 2.0 * (2.0 - WALL) * math.cos(math.pi / 8.0)
    assert exact - 0.4 < offered < exact + 0.05
    assert route(neck(4.0), *ASKEW, width_mm=offered * 0.95).handles == 1
    assert route(neck(6.5), *ASKEW).handles == 1


def test_nothing_joins_the_ends() -> None:
    """Across a slot one sees there is no way of any width, and that is said."""
    halves = subtract(block((80.0, 30.0, 30.0)), [block((20.0, 40.0, 40.0), (0, 0, 0))])
    with pytest.raises(NoWireRoute, match="only air one sees"):
        route(halves, stop((-40, 5, 0), X), stop((40, -5, 0), -X))


def test_no_room_at_the_start() -> None:
    """A place nearer the edge than section and wall allow is refused, with both numbers."""
    with pytest.raises(NoWireRoute, match="straight on from its start") as told:
        route(block((60.0, 30.0, 30.0)), stop((-30, 13.5, 0), X), stop((0, 0, 15), -Z))
    assert told.value.found.startswith("1.50 mm")
    assert "2.39 mm wanted" in told.value.found


def test_too_sharp() -> None:
    """In a thin plate a way down and along would turn too sharply; the radius said to pass does."""
    plate = block((60.0, 40.0, 7.0))
    ends = (stop((-10, 0, 3.5), -Z), stop((30, 0, 0), -X))
    with pytest.raises(NoWireRoute, match="more sharply") as told:
        route(plate, *ends, bend_mm=12.0)
    gentlest = float(told.value.found.split("; ")[1].split(" mm")[0])
    way = route(plate, *ends, bend_mm=gentlest)
    assert tightest(way.points) >= gentlest - 1e-6


def test_an_end_without_air() -> None:
    """A start deep in the material, on no cavity, would be a blind hole."""
    with pytest.raises(NoWireRoute, match="does not open on air") as told:
        route(block((60.0, 30.0, 30.0)), stop((-10, 0, 0), X), stop((30, 0, 0), -X))
    assert "still in material" in told.value.found


@pytest.mark.skipif(not MESHES.is_dir(), reason="the shared meshes are not here")
def test_a_branched_handle() -> None:
    """Through a real curved handle, from the tip of one arm to the other: 99 mm, walls kept, one more handle."""
    mesh = trimesh.load(MESHES / "handle-branched.stl")
    mesh.merge_vertices()
    host = Solid.of(np.array(mesh.vertices), np.array(mesh.faces))
    starts = np.array([[-80.0, 47.0, 0.0], [-80.0, -5.0, 0.0]])
    reach, row = first_hits(host.corners, starts, np.tile(X, (2, 1)))
    ends = [stop(p + r * X, -host.triangle_normals[k]) for p, r, k in zip(starts, reach, row, strict=True)]
    way = route(host, *ends)
    prove(host, way)
    assert 90.0 < way.length_mm < 105.0
