"""Walls, edges and thin spots: closed forms, a brute-force reference, planted spots, and shapes that are clean."""

from __future__ import annotations

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.geometry.solid import Solid
from prep.geometry.wall_thickness import KINDS, Thickness, wall_thickness
from tests.geometry.walled import ball, box, dense_gap, rod, solid, torus, triangles, wedge, without

LIMIT = 1.2
QUARTER = np.array([[0.0, -1, 0, 3], [1, 0, 0, 5], [0, 0, 1, 7]])


def walls(found: Thickness) -> list:
    """Thin spots that are not edges or relief."""
    return [spot for spot in found.thin_spots if spot.kind not in ("edge", "knife edge", "relief")]


def off_centre() -> tuple:
    """A shell between two spheres that do not share a centre."""
    return ball(10, 96), ball(8, 96).translate([0.5, 0.7, 0.9])


CONE = rod(20, 10, 256, 0)
TWO = (ball(4).translate([-4.3, 0.3, 0]), ball(5).translate([5.0, -0.2, 0.4]))

# name: body, thinnest wall of the smooth shape; formulas: values table section 10, and plain geometry
CLOSED = {
    "slab": (box(30, 20, 2), 2.0),
    "thin slab": (box(30, 20, 0.6), 0.6),
    "tube": (without(rod(30, 10), rod(40, 8)), 2.0),
    "spherical shell": (without(ball(10), ball(8)), 2.0),
    "conical shell": (without(CONE, CONE.translate([0, 0, -1 / np.sin(np.arctan(0.5))])), 1.0),
    "box with an off-centre pocket": (without(box(30, 20, 10), box(10, 8, 8.4).translate([9.7, 2, 0.9])), 0.3),
    "two balls' web": (without(box(24, 20, 20), *TWO), float(np.linalg.norm([9.3, 0.5, 0.4])) - 9.0),
    "shell between two balls": (without(*off_centre()), 2.0 - float(np.sqrt(0.25 + 0.49 + 0.81))),
    "thin torus": (torus(8, 0.4), 0.8),
    "torus": (torus(8, 2), 4.0),
    "ball": (ball(10), 20.0),
    "lens": (ball(20, 256).translate([0, 0, -18]) ^ ball(20, 256).translate([0, 0, 18]), None),
}  # fmt: skip


@pytest.mark.parametrize("name", [name for name, (_, wall) in CLOSED.items() if wall is not None])
def test_thinnest_wall_meets_the_closed_form(name: str) -> None:
    """The thinnest wall of every shape with a closed form is within 1 %."""
    body, wall = CLOSED[name]
    thinnest = wall_thickness(solid(body), limit_mm=LIMIT).thinnest
    assert thinnest is not None
    assert thinnest.thickness_mm == pytest.approx(wall, rel=0.01)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (ball(10, 24), ball(8, 24)),
        (ball(10, 32), ball(8, 28).translate([0.5, 0.7, 0.9])),
        (ball(10, 32), ball(8.4, 24).rotate([10, 20, 30]).translate([0.2, -0.3, 0.4])),
        (rod(30, 10, 48), rod(28.6, 9.1, 36).rotate([0, 0, 11])),
        (box(20, 20, 20), ball(8, 24).translate([1.1, 0.2, 0.3])),
        (box(20, 20, 20), box(6, 6, 6).rotate([40, 20, 45]).translate([4.2, 1, 0])),
    ],
    ids=["shell", "off centre", "coarse", "can", "ball in box", "box in box"],
)
def test_fine_agrees_with_a_brute_force_distance(one: manifold3d.Manifold, other: manifold3d.Manifold) -> None:
    """On the facets themselves the thinnest wall is within 0.2 % of the dense distance from face to face."""
    found = wall_thickness(solid(without(one, other)), limit_mm=LIMIT, fine=True)
    assert found.thinnest is not None
    assert found.thinnest.thickness_mm == pytest.approx(dense_gap(triangles(one), triangles(other)), rel=2e-3)


@pytest.mark.parametrize("angle", [10.0, 20.0, 29.0, 45.0])
def test_wedge_is_an_edge_with_its_angle(angle: float) -> None:
    """A wedge is reported as an edge with its angle within 1 degree, and never as a thin wall."""
    found = wall_thickness(solid(wedge(angle)), limit_mm=LIMIT)
    edges = [spot for spot in found.thin_spots if np.linalg.norm(spot.at_mm[:2]) < 1e-6]
    assert [spot.kind for spot in edges] == ["knife edge" if angle < 30 else "edge"]
    assert edges[0].angle_deg == pytest.approx(angle, abs=1.0)
    assert edges[0].extent_mm[1] == pytest.approx(10.0)
    assert walls(found) == []


def test_lens_rim_is_an_edge() -> None:
    """The rim of a lens is an edge of 2 acos(d / R), and the lens has no thin wall."""
    found = wall_thickness(solid(CLOSED["lens"][0]), limit_mm=LIMIT)
    assert [spot.kind for spot in found.thin_spots] == ["edge"]
    assert found.thin_spots[0].angle_deg == pytest.approx(2 * np.degrees(np.arccos(18 / 20)), abs=1.0)


def test_cone_has_a_point_and_no_wall() -> None:
    """A solid cone runs out in a point: nothing about it is a thin wall."""
    assert walls(wall_thickness(solid(rod(20, 10, 128, 0)), limit_mm=LIMIT)) == []


def boxed_fillets() -> manifold3d.Manifold:
    """A shell 2.4 mm thick whose outer edges are rounded by 0.5 mm, far less than the limit."""
    posts = [ball(0.5, 24).translate([x, y, z]) for x in (-14, 14) for y in (-9, 9) for z in (-7, 7)]
    return without(manifold3d.Manifold.batch_hull(posts), box(24.2, 14.2, 10.2))


def irregular(body: manifold3d.Manifold) -> Solid:
    """The same shape with slivers: edges split unevenly."""
    mesh = trimesh.Trimesh(*(np.array(a) for a in (solid(body).vertices, solid(body).triangles)), process=False)
    rng = np.random.default_rng(4)
    some = rng.permutation(len(mesh.faces))[: len(mesh.faces) // 2]
    vertices, faces = list(mesh.vertices), []
    for row, (a, b, c) in enumerate(mesh.faces):
        if row in some:
            u, v = rng.uniform(0.02, 0.3, 2)
            vertices.append(mesh.vertices[a] * (1 - u - v) + mesh.vertices[b] * u + mesh.vertices[c] * v)
            k = len(vertices) - 1
            faces += [(a, b, k), (b, c, k), (c, a, k)]
        else:
            faces.append((a, b, c))
    return Solid.of(np.array(vertices), np.array(faces))


CLEAN = {
    "plate": box(40, 30, 2),
    "cube": box(20, 20, 20),
    "chamfered plate": manifold3d.Manifold.batch_hull([box(40, 30, 0.8), box(38.4, 28.4, 2.4)]),
    "rounded shell": boxed_fillets(),
    "coarse tube": without(rod(30, 12, 14), rod(31, 9, 18)),
    "stepped block": without(box(30, 20, 10), box(30.1, 8, 0.4).translate([0, 0, 5]), box(3, 3, 20)),
    "ball": ball(6, 20),
}


@pytest.mark.parametrize("name", CLEAN)
def test_clean_shapes_have_no_thin_wall(name: str) -> None:
    """Sharp rims, small rounds, chamfers, steps and coarse facets are no thin walls, however triangulated."""
    body = CLEAN[name]
    away = body.rotate([33, 21, 57]).translate([1000, -500, 700])
    versions = (body, body.refine(3), body.refine(3).simplify(0.01), away)
    for version in (irregular(body), *map(solid, versions)):
        assert walls(wall_thickness(version, limit_mm=LIMIT)) == []


def planted(kind: str, thin: float) -> manifold3d.Manifold:
    """A 2.6 mm shell with one thin place at the top of the z axis, (0, 0, 30)."""
    top = 30.0
    apart = np.sqrt(2) + thin / 2
    cutters = {
        "dimple": [ball(2, 48).translate([0, 0, top - thin - 2])],
        "spike": [rod(8, 2, 32, 0).translate([0, 0, top - thin - 4])],
        "slot beside hole": [
            rod(20, 1, 48).translate([-1 - thin / 2, 0, top]),
            box(1.5, 4, 20).translate([0.75 + thin / 2, 0, top]),
        ],
        "two pockets": [box(2, 3, 4).translate([side * (1 + thin / 2), 0, top]) for side in (1, -1)],
        "corner to corner": [box(2, 2, 20).rotate([0, 0, 45]).translate([side * apart, 0, top]) for side in (1, -1)],
    }[kind]
    return without(ball(30, 120), ball(27.4, 120), *cutters)


@pytest.mark.parametrize("kind", ["dimple", "slot beside hole", "two pockets"])
def test_a_thin_place_is_found_after_decimation(kind: str) -> None:
    """Triangles taken out within 0.01 mm leave the verdict: the same place, as thick to that tolerance."""
    body = planted(kind, 0.5).refine(2)
    few = body.simplify(0.01)
    assert few.num_tri() < 0.9 * body.num_tri()
    before, after = (min(s.thickness_mm for s in walls(wall_thickness(solid(b), limit_mm=LIMIT))) for b in (body, few))
    assert after == pytest.approx(before, abs=0.03)


@pytest.mark.parametrize("kind", ["dimple", "spike", "slot beside hole", "two pockets", "corner to corner"])
@pytest.mark.parametrize("turn", [(0, 0, 0), (71, 133, 17)])
def test_planted_thin_spots_are_found_and_placed(kind: str, turn: tuple[float, float, float]) -> None:
    """Each planted spot is found with its kind, within the resolution of its place, and 2 % of its thickness."""
    found = wall_thickness(solid(planted(kind, 0.3).rotate(list(turn))), limit_mm=0.8)
    axis = np.array(box(1, 1, 1).translate([0, 0, 1e6]).rotate(list(turn)).bounding_box()).reshape(2, 3).mean(axis=0)
    axis /= np.linalg.norm(axis)
    spot = walls(found)[0]
    middle = (spot.at_mm + spot.opposite_mm) / 2
    along = axis * np.clip(middle @ axis, 27.4, 30.0)  # a web is as thin all the way down
    assert spot.thickness_mm == pytest.approx(0.3, rel=0.02)
    assert np.linalg.norm(middle - along) < found.resolution_mm
    assert spot.kind == ("skin" if kind in ("dimple", "spike") else "web")
    if spot.kind == "skin":
        assert np.linalg.norm(spot.opposite_mm - 30 * axis) < found.resolution_mm or (
            np.linalg.norm(spot.at_mm - 30 * axis) < found.resolution_mm
        )


def test_skin_of_a_fifth_of_a_millimetre_is_found() -> None:
    """A 0.2 mm skin over a pocket and one beside a pocket are both found at the default spacing, and nothing else."""
    over = box(2, 2, 10).translate([-8, 0, 0.1])  # leaves 0.2 above, and is open below
    beside = box(2, 2, 6).translate([13.8, 0, 3])  # leaves 0.2 of the side wall, and is open above
    found = wall_thickness(solid(without(box(30, 20, 10), over.translate([0, 0, -0.3]), beside)), limit_mm=0.8)
    assert [round(spot.thickness_mm, 6) for spot in walls(found)] == [0.2, 0.2]
    assert sorted(round(float(np.abs(spot.at_mm[0])), 0) for spot in walls(found)) == [8.0, 15.0]


@settings(max_examples=6, deadline=None)
@given(st.floats(0.2, 1.0), st.floats(0, 360), st.sampled_from([1e-3, 1.0, 1e3]))
def test_verdict_does_not_hang_on_place_turn_or_scale(thin: float, turn: float, scale: float) -> None:
    """The same body turned, moved and scaled with its limit has the same thinnest wall."""
    body = without(box(20, 16, 6), box(8, 8, 6).translate([1, 0, thin]))
    moved = body.rotate([turn, turn / 2, turn / 3]).translate([1000, -2000, 500]).scale([scale] * 3)
    found = wall_thickness(solid(moved), limit_mm=LIMIT * scale)
    assert found.thinnest is not None
    assert found.thinnest.thickness_mm / scale == pytest.approx(thin, rel=1e-3)
    assert found.thinnest.kind == "skin"


def test_kinds_are_told_apart() -> None:
    """A plate's skin over a pocket, a web, a pin, a rib and raised lettering each get their own word."""
    plate = box(60, 40, 4)
    body = without(
        plate,
        box(4, 4, 4).translate([-20, 10, 0.6]),
        box(4, 4, 20).translate([-10, 0, 0]),
        box(4, 4, 20).translate([-5.5, 0, 0]),
    )
    for extra in (
        rod(5, 0.3, 32).translate([2, 10, 4]),
        box(8, 0.6, 5).translate([10, -10, 4]),
        box(0.6, 5, 0.4).translate([20, 5, 2.15]),
    ):
        body += extra
    kinds = {spot.kind: spot for spot in wall_thickness(solid(body), limit_mm=0.8).thin_spots}
    assert set(kinds) == {"skin", "web", "pin", "rib", "relief"}
    assert kinds["web"].thickness_mm == pytest.approx(0.5, abs=1e-6)
    assert kinds["skin"].thickness_mm == pytest.approx(0.6, abs=0.2)


def test_samples_carry_both_measures() -> None:
    """On a slab the ray and the ball read the slab's height away from the rim; near the rim the ball reads less."""
    found = wall_thickness(solid(box(30, 20, 2)), limit_mm=LIMIT)
    inner = (np.abs(found.point[:, 0]) < 13) & (np.abs(found.point[:, 1]) < 8)
    assert found.ray_mm[inner] == pytest.approx(2.0, abs=1e-9)
    assert found.ball_mm[inner] == pytest.approx(2.0, abs=1e-6)
    assert found.ball_mm.min() < 1.0
    assert {KINDS[code] for code in np.unique(found.kind)} <= {"bulk", "edge"}
    assert found.thickness_mm.min() == pytest.approx(2.0)
    assert found.resolution_mm < 4 * found.spacing_mm


def test_same_solid_same_answer_and_asked_once() -> None:
    """The same triangles give the same numbers, and the same solid is not measured twice."""
    body = CLOSED["shell between two balls"][0]
    first, second = (wall_thickness(solid(body), limit_mm=LIMIT) for _ in range(2))
    assert np.array_equal(first.thickness_mm, second.thickness_mm)
    assert [s.at_mm.tolist() for s in first.thin_spots] == [s.at_mm.tolist() for s in second.thin_spots]
    one = solid(body)
    assert wall_thickness(one, limit_mm=LIMIT) is wall_thickness(one, limit_mm=LIMIT)


def test_progress_is_told() -> None:
    """Progress rises to 1."""
    shares: list[float] = []
    wall_thickness(solid(box(3, 3, 3)), limit_mm=LIMIT, tell=lambda _, share: shares.append(share))
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
