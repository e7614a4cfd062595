"""`seat_magnets`: the seats as cut, read off the triangles of the result by gauges that share no code with the step."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
import scipy.spatial
from scipy.integrate import quad

from fixtures.benches import bench_of
from fixtures.drawn import bumpy_dome, curved_pair, flush_pair, moved, nested_pair, stepped_pair, turned
from fixtures.gauges import disc_spots, distances, first_hits, gauge_bore, new_faces, ring_about, spots_on, within
from prep.build.verify import hold_to
from prep.contract import Bench, Item, Outcome
from prep.geometry.solid import Solid
from prep.steps.seat_magnets import SeatMagnets

# the sums of a 6x2 disc by extrusion-0.4, written out: clearance 0.25 a side, interference 0.14, glue line 0.2,
# layer 0.2, size tolerance 0.1; under the magnet, and how deep its outer face lies under the seam's skin
SUMS = {
    "glue": (6.0 + 0.5, 2.0 + 0.1 + 0.2, 0.2, 0.1),
    "press": (6.0 - 0.14, 2.0 + 0.1, 0.0, 0.1),
    "ribs": (6.0 + 0.5, 2.0 + 0.1, 0.0, 0.1),
    "buried": (6.0 + 0.5, 2.0 + 0.1 + 0.2, 0.0, 0.3 + 1.0),
    "behind": (6.0 + 0.5, None, 0.2, 0.9 + 0.2),
}
LEAD_IN, WALL = 0.5, 0.8
LEAN = ((1.0, 2.0, 0.5), 37.0)
AWAY = (1000.0, 400.0, -90.0)


def carried(pair):
    """The pair turned anyhow and moved a metre away."""
    return tuple(moved(turned(part, *LEAN), AWAY) for part in pair)


@dataclass(frozen=True)
class Case:
    """One pair drawn, and how its magnets are held."""

    pair: tuple
    fixing: str = "glue"
    count: int = 2
    curved: bool = False


CURVED = curved_pair((30.0, 18.0), 8.0, 1.5, cells=(20, 12))
CASES = {
    "flush glue": Case(flush_pair((28.0, 18.0), (6.0, 7.0)), count=2),
    "flush, apart": Case(flush_pair((28.0, 18.0), (6.0, 7.0), gap=0.3)),
    "flush press": Case(flush_pair((28.0, 18.0), (6.0, 7.0)), "press"),
    "flush ribs": Case(flush_pair((28.0, 18.0), (6.0, 7.0)), "ribs"),
    "flush buried": Case(flush_pair((28.0, 18.0), (6.0, 7.0)), "buried"),
    "flush behind": Case(flush_pair((28.0, 18.0), (6.0, 7.0)), "behind"),
    "stepped": Case(stepped_pair((36.0, 18.0)), count=4),
    "curved glue": Case(CURVED, curved=True),
    "curved buried": Case(curved_pair((30.0, 18.0), 8.0, 1.0, cells=(20, 12)), "buried", curved=True),
    "curved, turned, a metre away": Case(carried(CURVED), curved=True),
    "nested": Case(nested_pair((36.0, 28.0, 12.0), 3.0, 5.0), count=2),
}


@dataclass(frozen=True)
class Made:
    """A case cut."""

    case: Case
    bench: Bench
    step: SeatMagnets
    outcome: Outcome

    def faces(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Triangles of a part as cut."""
        return self.outcome.solids[name].vertices, self.outcome.solids[name].triangles

    def before(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Triangles of a part as it was."""
        return self.bench.parts[name].solid.vertices, self.bench.parts[name].solid.triangles

    def on(self, name: str) -> list[Item]:
        """The magnets in one part."""
        return [item for item in self.outcome.ledger.items if item.part == name]

    def opening(self, item: Item) -> np.ndarray:
        """Direction in which the seat opens: toward the seam, or away from it where it is loaded from behind."""
        return np.array(item.axis) * (-1.0 if self.case.fixing == "behind" else 1.0)

    def skin_over(self, item: Item, radius: float) -> float:
        """Way from the magnet's middle to the lowest skin of the seam over a disc of this radius, along its axis."""
        axis = np.array(item.axis)
        starts = disc_spots(np.array(item.at_mm), axis, radius)
        vertices, triangles = self.before(item.part)
        way, _ = first_hits(vertices[triangles], starts, np.broadcast_to(axis, starts.shape))
        return float(way.min())


@cache
def made(name: str) -> Made:
    """A case, cut once."""
    case = CASES[name]
    words = {"step": "seat_magnets", "between": ["a", "b"], "magnet": "disc 6x2 N42", "count": case.count}
    words |= {"fixing": "glue", "skin": "0.9 mm"} if case.fixing == "behind" else {"fixing": case.fixing}
    words |= {"skin": "1 mm"} if case.fixing == "buried" else {}
    step = SeatMagnets.model_validate(words | {"hold": "5 N"})
    bench = bench_of(a=Solid.of(*case.pair[0]), b=Solid.of(*case.pair[1]))
    return Made(case, bench, step, step.apply(bench))


every = pytest.mark.parametrize("name", CASES)


@every
def test_predictions_hold(name) -> None:
    """Shells, genus, voids, volume and bounds of the result are what the step predicted, as a build verifies them."""
    one = made(name)
    hold_to(one.bench, one.outcome)
    predicted = {p.part: p for p in one.outcome.predictions}
    assert predicted["a"].sealed_voids == (one.case.count if one.case.fixing == "buried" else 0)
    assert abs(predicted["a"].volume_tolerance_mm3) < 0.02 * abs(predicted["a"].volume_mm3)


@every
def test_diameter_and_depth_are_the_stated_sum(name) -> None:
    """Diameter and depth are within 0.02 mm of the sum, the diameter never under it."""
    one = made(name)
    wide, deep, under, _ = SUMS[one.case.fixing]
    facts = one.outcome.facts
    assert facts["seat_diameter_mm"] == pytest.approx(wide)
    assert facts["seats"] == one.case.count
    for item in one.outcome.ledger.items:
        vertices, triangles = one.faces(item.part)
        opening = one.opening(item)
        bore = gauge_bore(vertices[triangles], item.at_mm, opening)
        assert 2.0 * bore.radius == pytest.approx(wide, abs=0.02)
        assert 2.0 * bore.least >= wide - 1e-6
        assert bore.floor == pytest.approx(1.0 + under, abs=0.02)  # half the magnet, and the glue under it
        mouth = wide / 2.0 + (LEAD_IN if one.case.fixing not in {"buried", "behind"} else 0.0)
        skin = one.skin_over(item, mouth)
        if one.case.fixing == "behind":
            assert skin - bore.floor == pytest.approx(0.9, abs=0.02)
        else:
            assert bore.floor + skin == pytest.approx(deep + (1.0 if one.case.fixing == "buried" else 0.0), abs=0.02)


@every
def test_seats_are_coaxial(name) -> None:
    """The bores of a pair share one axis within 0.02 mm, read at two heights in both parts."""
    one = made(name)
    for lower, upper in zip(one.on("a"), one.on("b"), strict=True):
        axis = np.array(lower.axis)
        assert np.array(upper.axis) == pytest.approx(-axis, abs=1e-12)
        middles = []
        for item in (lower, upper):
            vertices, triangles = one.faces(item.part)
            for shift in (-0.7, 0.2):
                spot = np.array(item.at_mm) + shift * np.array(item.axis)
                middles.append(gauge_bore(vertices[triangles], spot, one.opening(item)).middle)
        arms = np.array(middles) - middles[0]
        assert np.linalg.norm(np.cross(arms, axis), axis=1).max() < 0.02


@every
def test_the_disc_lies_wholly_under_the_skin(name) -> None:
    """Every point of the disc's outer face is inside the part as it was, at the depth the sum says."""
    one = made(name)
    *_, sunk = SUMS[one.case.fixing]
    for item in one.outcome.ledger.items:
        axis = np.array(item.axis)
        face = disc_spots(np.array(item.at_mm) + axis, axis, 3.0)
        assert within(one.before(item.part), face).all()
        assert one.skin_over(item, 3.0) - 1.0 >= sunk - 0.02


@every
def test_walls_are_kept(name) -> None:
    """From every new face to every old face but the one it opens on, and between seats, the process's wall is left."""
    one = made(name)
    for part in ("a", "b"):
        vertices, triangles = one.before(part)
        fresh = new_faces((vertices, triangles), one.faces(part))
        items = one.on(part)
        nearest = np.argmin([np.linalg.norm(fresh.mean(axis=1) - item.at_mm, axis=1) for item in items], axis=0)
        samples = [spots_on(fresh[nearest == k], 0.25) for k in range(len(items))]
        for item, spots in zip(items, samples, strict=True):
            others = triangles[~opening_faces(one, item, vertices, triangles)]
            assert distances((vertices, others), spots).min() >= WALL
        for k in range(1, len(samples)):
            tree = scipy.spatial.cKDTree(np.concatenate(samples[:k]))
            assert tree.query(samples[k])[0].min() >= WALL


def opening_faces(one: Made, item: Item, vertices, triangles) -> np.ndarray:
    """Old triangles that a seat opens on: those of its seam's level, or of the whole curved sheet."""
    corners = vertices[triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    if one.case.curved:
        return normal @ item.axis > 0.7
    if one.case.fixing == "behind":
        return np.abs(normal @ item.axis) > 0.999  # opens on the back, and leaves a declared skin in front
    if one.case.fixing == "buried":
        return np.zeros(len(triangles), dtype=bool)
    height = (corners - np.array(item.at_mm)) @ item.axis
    level = one.skin_over(item, 0.1)
    return (normal @ item.axis > 0.999) & (np.abs(height - level).max(axis=1) < 1e-6)


@every
def test_the_way_in_is_free(name) -> None:
    """A disc of the magnet's size comes out of the finished part along its axis without meeting it."""
    one = made(name)
    if one.case.fixing == "buried":
        pytest.skip("nothing goes in after printing")
    size = {"press": 5.86, "ribs": 5.9}.get(one.case.fixing, 6.0) / 2.0 - 0.01
    for item in one.outcome.ledger.items:
        opening = one.opening(item)
        vertices, triangles = one.faces(item.part)
        starts = disc_spots(np.array(item.at_mm) + opening, opening, size)
        way, _ = first_hits(vertices[triangles], starts, np.broadcast_to(opening, starts.shape))
        assert way.min() >= 2.0 + 3.0


@every
def test_force_is_that_of_the_gap_as_cut(name) -> None:
    """The face gap is what the finished floors leave, and the pull that of coaxial discs there, to 1e-6."""
    one = made(name)
    _, _, under, _ = SUMS[one.case.fixing]
    facts = one.outcome.facts
    for k, (lower, upper) in enumerate(zip(one.on("a"), one.on("b"), strict=True)):
        floors = []
        for item in (lower, upper):
            vertices, triangles = one.faces(item.part)
            opening = one.opening(item)
            floors.append(np.array(item.at_mm) - opening * gauge_bore(vertices[triangles], item.at_mm, opening).floor)
        between = float((floors[1] - floors[0]) @ lower.axis)
        gap = between + 2.0 * under if one.case.fixing == "behind" else between - 2.0 * (under + 2.0)
        assert facts["face_gap_mm"][k] == pytest.approx(gap, abs=0.02)
        assert facts["pull_each_n"][k] == pytest.approx(coaxial_pull(6.0, 2.0, 1.30, facts["face_gap_mm"][k]), rel=1e-6)
    axes = np.array([item.axis for item in one.on("a")])
    together = float(np.linalg.norm((np.array(facts["pull_each_n"])[:, None] * axes).sum(axis=0)))
    assert facts["pull_ideal_n"] == pytest.approx(together, rel=1e-9)
    assert facts["pull_counted_on_n"] == pytest.approx(0.7 * together, rel=1e-9)


def coaxial_pull(d: float, t: float, br: float, gap: float) -> float:
    """Two equal coaxial discs, by adaptive quadrature of the charged-disc integral (Vokoun et al. 2009)."""
    r = d / 2.0

    def charge(h: float) -> float:
        def inner(a: float) -> float:
            return math.cos(a) * math.log(h + math.sqrt(h * h + 4.0 * r * r * math.sin(a / 2.0) ** 2))

        return -quad(inner, 0.0, math.pi, epsabs=1e-13, epsrel=1e-12, limit=200)[0] / math.pi

    double = charge(gap) - 2.0 * charge(gap + t) + charge(gap + 2.0 * t)
    return math.pi * br**2 * r**2 / (4e-7 * math.pi) * double * 1e-6


def test_an_independent_library_pulls_the_same() -> None:
    """The field of magpylib over the other disc's charged faces, at the gap cut, pulls the same within 0.2 %."""
    magpy = pytest.importorskip("magpylib")
    facts = made("flush, apart").outcome.facts
    gap = facts["face_gap_mm"][0]
    assert gap == pytest.approx(0.5)
    lower = magpy.magnet.Cylinder(polarization=(0, 0, 1.30), dimension=(6e-3, 2e-3))
    x, w = np.polynomial.legendre.leggauss(64)
    radius, weight = 1.5 * (x + 1.0), 1.5 * w

    def through(z: float) -> float:
        field = lower.getB(np.stack([radius, 0.0 * radius, np.full(64, 1.0 + z)], axis=1) * 1e-3)[:, 2]
        return float((2.0 * math.pi * radius * weight * field).sum())

    force = 1.30 / (4e-7 * math.pi) * (through(gap) - through(gap + 2.0)) * 1e-6
    assert facts["pull_each_n"][0] == pytest.approx(force, rel=2e-3)
    assert force == pytest.approx(5.2735, rel=2e-3)  # the reference table's 6x2 pair at 0.5 mm


@every
def test_poles_are_complementary_and_letters_run_on(name) -> None:
    """M1, M2… in order; partners carry opposite poles outward and name one another."""
    one = made(name)
    items = one.outcome.ledger.items
    assert [item.id for item in items] == [f"M{k + 1}" for k in range(2 * one.case.count)]
    of = {item.id: item for item in items}
    for lower, upper in zip(one.on("a"), one.on("b"), strict=True):
        assert {lower.pole_out, upper.pole_out} == {"N", "S"}
        assert of[lower.pairs_with] is upper
        assert of[upper.pairs_with] is lower
    assert [item.pole_out for item in one.on("a")] == list(one.outcome.facts["poles_first_part"])
    assert all(item.mass_g == pytest.approx(math.pi * 9.0 * 2.0 * 7.5e-3) for item in items)


@every
def test_the_input_is_left_alone(name) -> None:
    """The solids on the bench are the same objects with the same bytes, and the ledger on it is still empty."""
    one = made(name)
    for part, drawing in zip(("a", "b"), one.case.pair, strict=True):
        assert one.bench.parts[part].solid.sha256 == Solid.of(*drawing).sha256
    assert one.bench.ledger.items == ()


@pytest.mark.parametrize("name", ["stepped", "curved, turned, a metre away"])
def test_the_same_result_twice(name) -> None:
    """Cut again, every solid has the same bytes and every fact is the same."""
    one = made(name)
    again = one.step.apply(one.bench)
    assert {k: s.sha256 for k, s in again.solids.items()} == {k: s.sha256 for k, s in one.outcome.solids.items()}
    assert again.facts == one.outcome.facts
    assert again.ledger == one.outcome.ledger
    assert again.findings == one.outcome.findings


def test_turning_and_moving_change_nothing() -> None:
    """The seats of the turned pair are the seats of the pair, carried along (within the grain of the samples)."""
    here, there = made("curved glue"), made("curved, turned, a metre away")
    assert there.outcome.facts["face_gap_mm"] == pytest.approx(here.outcome.facts["face_gap_mm"], abs=0.1)
    lengths = [np.linalg.norm(np.subtract(*(i.at_mm for i in m.on("a")))) for m in (here, there)]
    assert lengths[1] == pytest.approx(lengths[0], abs=2.0)


def test_seats_are_spread_as_far_as_walls_allow() -> None:
    """Two in an oblong go to its ends: within the ease of 5 % and three walls, nothing farther apart is left."""
    one = made("flush glue")
    apart = one.outcome.facts["least_spacing_mm"]
    assert apart == pytest.approx(math.dist(one.on("a")[0].at_mm, one.on("a")[1].at_mm))
    farthest = math.hypot(28.0 - 2.0 * (3.75 + 0.83), 18.0 - 2.0 * (3.75 + 0.83))
    assert 0.75 * farthest <= apart <= farthest + 0.1
    assert one.outcome.facts["least_wall_mm"] >= WALL


def test_a_groove_lets_air_out_of_a_glued_seat() -> None:
    """Each glued blind seat has a way for air as deep as its floor; a pressed one has none."""
    one = made("flush glue")
    assert one.outcome.facts["vented"] == [2, 2]
    for item in one.outcome.ledger.items:
        vertices, triangles = one.faces(item.part)
        ways = ring_about(np.array(item.axis), 360)
        low = np.array(item.at_mm) - 1.15 * np.array(item.axis)
        reach, _ = first_hits(vertices[triangles], np.broadcast_to(low, ways.shape), ways)
        assert reach.max() == pytest.approx(3.75, abs=0.01)  # the wall, and half of the 1 mm groove
    assert made("flush press").outcome.facts["vented"] == [0, 0]


def test_a_hole_lets_air_out_instead() -> None:
    """With `vent: hole` each seat goes on to the far side by a hole: a handle each, predicted and there."""
    one = made("flush glue")
    step = one.step.model_copy(update={"vent": "hole"})
    outcome = step.apply(one.bench)
    hold_to(one.bench, outcome)
    assert [p.genus for p in outcome.predictions] == [2, 2]
    for item in outcome.ledger.items:
        solid = outcome.solids[item.part]
        way, _ = first_hits(solid.corners, np.array([item.at_mm]), -np.array([item.axis]))
        assert np.isinf(way[0])


def test_crush_ribs_stand_in_the_bore() -> None:
    """Eight ribs reach in to the magnet less the interference, and the bore is wide between them."""
    one = made("flush ribs")
    item = one.on("a")[0]
    vertices, triangles = one.faces("a")
    ways = ring_about(np.array(item.axis), 720)
    reach, _ = first_hits(vertices[triangles], np.broadcast_to(np.array(item.at_mm), ways.shape), ways)
    assert 2.0 * reach.min() == pytest.approx(6.0 - 0.1, abs=0.02)
    inward = reach < 3.2
    assert int((inward & ~np.roll(inward, 1)).sum()) == 8


def test_seats_at_places_on_a_bumpy_dome() -> None:
    """On a free form the disc lies wholly under the skin, walls are kept, and depth is counted from the lowest skin."""
    drawing = bumpy_dome(30.0, 6.0, around=72, up=24)
    bench = bench_of(dome=Solid.of(*drawing))
    words = {"step": "seat_magnets", "part": "dome", "magnet": "disc 5x2 N42", "hold": "1 N"}
    words["at"] = [
        {"ray": {"from": "3, 2, 60 mm", "toward": "-z"}},
        {"ray": {"from": "60, 30, 28 mm", "toward": "-2, -1, -0.5"}},
    ]
    outcome = SeatMagnets.model_validate(words).apply(bench)
    hold_to(bench, outcome)
    one = Made(Case((drawing,), curved=True), bench, SeatMagnets.model_validate(words), outcome)
    fresh = new_faces(one.before("dome"), one.faces("dome"))
    for item in outcome.ledger.items:
        bore = gauge_bore(outcome.solids["dome"].corners, item.at_mm, item.axis)
        assert 2.0 * bore.radius == pytest.approx(5.5, abs=0.02)
        assert 2.0 * bore.least >= 5.5 - 1e-6
        assert bore.floor + one.skin_over(item, 3.25) == pytest.approx(2.3, abs=0.02)
        face = disc_spots(np.array(item.at_mm) + np.array(item.axis), np.array(item.axis), 2.5)
        assert within(drawing, face).all()
        vertices, triangles = drawing
        near = np.linalg.norm(fresh.mean(axis=1) - item.at_mm, axis=1) < 8.0
        others = triangles[~opening_faces(one, item, vertices, triangles)]
        assert distances((vertices, others), spots_on(fresh[near], 0.25)).min() >= WALL
    # one part alone is taken to pull on thick steel: its mirror image at twice the depth of its face
    assert outcome.facts["pull_each_n"][0] == pytest.approx(coaxial_pull(5.0, 2.0, 1.30, 0.2), rel=1e-6)
    assert all(item.pairs_with is None for item in outcome.ledger.items)
