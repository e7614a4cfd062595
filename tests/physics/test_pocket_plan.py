"""Which pockets, how deep: against closed forms and a search through all sets."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.benches import shipped_tables
from fixtures.drawn import box
from prep.geometry.core_points import core_points
from prep.geometry.pocket import Pocket
from prep.geometry.shell_volume import core_of
from prep.geometry.solid import Solid, subtract
from prep.physics.ballast_fill import Filling, fillings, least_radius
from prep.physics.cut_mass import PrintedIn, cut_mass
from prep.physics.pocket_plan import Option, Slope, Wanted, correct_depths, plan_pockets

AXES = np.eye(3)
FREE = (np.full(3, -np.inf), np.full(3, np.inf))


def straight(pocket, place, low, high, per_mm, start=0.0, filling=0):
    """An option whose mass runs straight with depth, at a fixed place."""
    depth = np.array([low, high])
    mass = start + per_mm * depth
    return Option(pocket, filling, depth, mass, mass[:, None] * np.asarray(place, dtype=float), 100.0 * depth)


def wanted(mass, half=0.5, balance=None):
    """A target, balance as {axis: (low, high)}."""
    low, high = np.full(3, -np.inf), np.full(3, np.inf)
    for axis, (a, b) in (balance or {}).items():
        low[axis], high[axis] = a, b
    return Wanted(mass, mass - half, mass + half, low, high)


def all_apart(n):
    """No two pockets touch."""
    return ~np.eye(n, dtype=bool)


def test_one_pocket_takes_the_depth_that_the_mass_asks_for():
    """Depth = what is missing over grams a millimetre, exactly."""
    plan = plan_pockets([straight(0, (0, 0, 0), 2, 20, 1.7)], all_apart(1), 100.0, np.zeros(3), wanted(121.25), 6)
    assert plan.depths_mm[0] == pytest.approx(21.25 / 1.7, rel=1e-6)
    assert plan.mass_g == pytest.approx(121.25, abs=1e-6)


def test_a_model_that_is_right_gets_no_pocket():
    """Within both tolerances nothing is cut."""
    plan = plan_pockets(
        [straight(0, (0, 0, 0), 2, 20, 1.7)], all_apart(1), 100.3, np.zeros(3), wanted(100.0, balance={0: (-1, 1)}), 6
    )
    assert plan.options == ()


def test_the_balance_point_is_moved_to_where_it_is_wanted():
    """Published: 283.2 x 5 / 35 = 40.457 g at x = 40 move the balance of 283.2 g to x = 5."""
    options = [straight(0, (40, 0, 0), 1, 20, 4.0), straight(1, (-40, 0, 0), 1, 20, 4.0)]
    target = wanted(283.2 + 40.4571429, balance={0: (4.9, 5.1)})
    plan = plan_pockets(options, all_apart(2), 283.2, np.zeros(3), target, 6)
    assert plan.options == (0,)
    assert plan.mass_g == pytest.approx(323.6571429, abs=1e-6)
    assert plan.moment_gmm[0] / plan.mass_g == pytest.approx(5.0, abs=1e-6)


@given(st.lists(st.tuples(st.floats(0.2, 3.0), st.floats(4.0, 12.0)), min_size=3, max_size=7), st.floats(5.0, 90.0))
@settings(max_examples=40, deadline=None)
def test_no_set_of_fewer_pockets_would_do(pockets, more):
    """Every smaller set is searched by hand: the masses a set can take on are one interval."""
    options = [straight(k, (0, 0, 0), 2.0, high, per_mm) for k, (per_mm, high) in enumerate(pockets)]
    plan = plan_pockets(options, all_apart(len(options)), 50.0, np.zeros(3), wanted(50.0 + more, 0.05), len(options))
    spans = [(2.0 * per_mm, high * per_mm) for per_mm, high in pockets]
    reaching = [
        size
        for size in range(1, len(spans) + 1)
        for chosen in itertools.combinations(spans, size)
        if sum(s[0] for s in chosen) <= more <= sum(s[1] for s in chosen)
    ]
    if reaching:
        assert len(plan.options) == min(reaching)
        assert plan.mass_g == pytest.approx(50.0 + more, abs=0.01)


def test_pockets_that_touch_are_not_cut_together():
    """Three in a row of which neighbours touch: the outer two are taken."""
    apart = np.array([[False, False, True], [False, False, False], [True, False, False]])
    options = [straight(k, (10.0 * k, 0, 0), 1, 10, 1.0) for k in range(3)]
    plan = plan_pockets(options, apart, 50.0, np.zeros(3), wanted(66.0), 6)
    assert plan.options == (0, 2)


def test_one_pocket_is_not_filled_twice():
    """Two fillings of one pocket exclude one another."""
    options = [straight(0, (0, 0, 0), 1, 10, 1.0, filling=0), straight(0, (0, 0, 0), 1, 10, 1.5, filling=1)]
    plan = plan_pockets(options, all_apart(1), 50.0, np.zeros(3), wanted(80.0), 6)
    assert plan.options == (1,)
    assert plan.mass_g == pytest.approx(65.0, abs=1e-6)


@pytest.mark.parametrize(("most", "reached"), [(1, 62.0), (2, 72.0), (3, 80.0), (5, 80.0)])
def test_out_of_reach_the_nearest_mass_is_taken(most, reached):
    """As many of the best pockets as are allowed, each as deep as it goes."""
    options = [straight(k, (0, 0, 0), 1, 10, per_mm) for k, per_mm in enumerate((1.0, 1.2, 0.8))]
    plan = plan_pockets(options, all_apart(3), 50.0, np.zeros(3), wanted(200.0), most)
    assert plan.mass_g == pytest.approx(reached, abs=1e-6)


def test_mass_counts_for_more_than_balance():
    """Where both cannot be had, the mass is met and the balance comes as near as it can."""
    options = [straight(0, (10, 0, 0), 1, 20, 1.0)]
    target = wanted(60.0, balance={0: (5.0, 6.0)})
    plan = plan_pockets(options, all_apart(1), 50.0, np.zeros(3), target, 6)
    assert target.low_g <= plan.mass_g <= target.high_g
    assert target.misses(plan.mass_g, plan.moment_gmm)[1] > 1.0


def test_depths_are_corrected_by_what_was_measured():
    """Two unknown depths, mass and one moment given: the solution of two equations."""
    slopes = [Slope(0, 50, 2.0, np.array([20.0, 0, 0])), Slope(0, 50, 1.0, np.array([-30.0, 0, 0]))]
    target = Wanted(
        110.0, 109.9, 110.1, np.array([1.0 - 1e-7, -np.inf, -np.inf]), np.array([1.0 + 1e-7, np.inf, np.inf])
    )
    moved = correct_depths(np.array([10.0, 10.0]), slopes, 100.0, np.array([50.0, 0.0, 0.0]), target)
    step = np.linalg.solve([[2.0, 1.0], [20.0, -30.0]], [10.0, 110.0 - 50.0])
    assert moved - 10.0 == pytest.approx(step, abs=1e-4)


def test_corrected_depths_stay_in_their_range():
    """What the depths cannot take up stays."""
    moved = correct_depths(np.array([5.0]), [Slope(2.0, 8.0, 1.0, np.zeros(3))], 100.0, np.zeros(3), wanted(150.0))
    assert moved[0] == pytest.approx(8.0, abs=1e-9)


def test_the_same_plan_twice():
    """The search is bounded by nodes, so that nothing depends on the clock."""
    random = np.random.default_rng(3)
    places = random.uniform(-40, 40, (40, 2))
    options = [straight(k, (*place, 0.0), 2, 12, 0.5 + 0.1 * (k % 7)) for k, place in enumerate(places)]
    target = wanted(140.0, balance={0: (2.0, 3.0), 1: (-1.0, 0.0)})
    first, second = (plan_pockets(options, all_apart(40), 120.0, np.zeros(3), target, 6) for _ in range(2))
    assert first.options == second.options
    assert first.depths_mm.tolist() == second.depths_mm.tolist()
    assert target.misses(first.mass_g, first.moment_gmm) == (0.0, 0.0)


# --- what a cut does to the print ---------------------------------------------------------------


def test_a_full_print_loses_density_times_volume():
    """Published ballast box: a pocket of 9.000 cm3 at 1.18 g/cm3 takes 10.62 g, at x = 20 and z = -10."""
    side = np.sqrt(900.0 / np.pi)
    pocket = Pocket(AXES, np.array([20.0, 0.0]), side, rim_mm=-5.0, crest_mm=-5.0)
    change = cut_mass(pocket, np.array([10.0]), PrintedIn(1.18e-3), np.zeros(3))
    lost = 1.18e-3 * pocket.area_mm2 * 10.0
    assert change.mass_g[0] == pytest.approx(-lost, rel=1e-12)
    assert change.moment_gmm[0] == pytest.approx([-20.0 * lost, 0.0, 10.0 * lost], rel=1e-12)
    assert lost == pytest.approx(10.62, rel=2e-3)  # facets stand outside the round


@pytest.mark.parametrize("turn", [0.0, 0.5])
@pytest.mark.parametrize("up", [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0)])
def test_a_sparse_print_is_estimated_as_the_cut_geometry_weighs(turn, up):
    """Mass and moment against the whole core measured before and after the cut by the kernel, within 3 %."""
    solid = Solid.of(*box((60.0, 40.0, 24.0)))
    pocket = Pocket(AXES, np.array([8.0, -3.0]), 5.0, 9.0, turn, rim_mm=12.0, crest_mm=12.0)
    printed = PrintedIn(1.24e-3, 0.15, core_points(solid, 1.35, 0.8, np.array(up)))
    after = subtract(solid, [pocket.cutter(15.0)])
    cores = [core_of(one, 1.35, 0.8, np.array(up)) for one in (solid, after)]
    masses = [1.24e-3 * (s.volume_mm3 - 0.85 * c.volume_mm3) for s, c in zip((solid, after), cores, strict=True)]
    change = cut_mass(pocket, np.array([15.0]), printed, np.zeros(3))
    scale = 1.24e-3 * (solid.volume_mm3 - after.volume_mm3)
    assert change.mass_g[0] == pytest.approx(masses[1] - masses[0], abs=0.03 * scale)


def test_a_pocket_in_sparse_infill_can_make_a_print_heavier():
    """A narrow pocket brings more wall than it takes away."""
    solid = Solid.of(*box((60.0, 40.0, 24.0)))
    printed = PrintedIn(1.24e-3, 0.15, core_points(solid, 1.35, 0.8, np.array([0.0, 0.0, 1.0])))
    narrow = Pocket(AXES, np.zeros(2), 1.5, rim_mm=12.0, crest_mm=12.0)
    assert cut_mass(narrow, np.array([18.0]), printed, np.zeros(3)).mass_g[0] > 0.0


# --- what goes in -------------------------------------------------------------------------------

POCKET = Pocket(AXES, np.zeros(2), 12.35, rim_mm=0.0, deepest_mm=20.0)


def ways(name, pocket=POCKET, plug=1.5):
    """All ways to put one ballast into a pocket."""
    tables = shipped_tables()
    row, glue = tables.ballast.get(name), tables.adhesives.get("two-part epoxy")
    return list(fillings(pocket, row, smallest_mm=1.5, fit_mm=0.3, plug_mm=plug, glue=glue))


def test_shot_fills_from_the_floor_to_the_plug_with_an_honest_band():
    """Steel 7.85 g/cm3 at 0.601 poured (Scott 1960), band 0.555 (Onoda, Liniger 1990) to 0.64 (Berryman 1983)."""
    (way,) = ways("steel shot 2 mm")
    content = way.content(POCKET, 11.5)
    volume = POCKET.area_mm2 * 10.0 / 1000.0
    assert content.mass_g == pytest.approx(7.85 * 0.601 * volume, rel=1e-9)
    assert content.low_g == pytest.approx(7.85 * 0.555 * volume, rel=1e-9)
    assert content.high_g == pytest.approx(7.85 * 0.64 * volume, rel=1e-9)
    assert content.plug_g == pytest.approx(1.15e-3 * POCKET.area_mm2 * 1.5, rel=1e-9)


def test_shot_needs_a_mouth_of_five_beads():
    """A pocket 9.9 mm wide takes no 2 mm shot, one of 10 mm does."""
    assert ways("steel shot 2 mm", Pocket(AXES, np.zeros(2), 4.95, rim_mm=0.0, deepest_mm=20.0)) == []
    assert len(ways("steel shot 2 mm", Pocket(AXES, np.zeros(2), 5.0, rim_mm=0.0, deepest_mm=20.0))) == 1


def test_coins_are_counted_and_weigh_what_the_mint_says():
    """US quarter: 5.670 g, 24.26 x 1.75 mm (US Mint); its alloy's density times the room would overstate it."""
    radius = least_radius(shipped_tables().ballast.get("us quarter"), 1.5, 0.3)
    assert radius == pytest.approx(24.26 / 2 + 0.3)
    pocket = Pocket(AXES, np.zeros(2), radius, rim_mm=0.0, deepest_mm=20.0)
    found = ways("us quarter", pocket)
    assert [way.count for way in found][-1] == 10  # (20 - 1.5) / 1.75 = 10.57
    for way in found:
        assert way.least_mm == pytest.approx(1.5 + 1.75 * way.count)
        assert way.content(pocket, 19.9).mass_g == pytest.approx(5.67 * way.count, rel=1e-12)
    assert ways("us quarter") == []  # too narrow


def test_toxic_ballast_gets_a_plug_whatever_was_asked():
    """Lead lies under a millimetre of glue at least."""
    (way,) = ways("lead shot 2 mm", plug=0.0)
    assert way.plug_mm == 1.0


def test_an_empty_pocket_holds_nothing():
    """No ballast, no glue."""
    content = Filling(None, 0, 1.5, 0.0, 0.0).content(POCKET, 10.0)
    assert (content.mass_g, content.plug_g, content.height_mm) == (0.0, 0.0, 0.0)
