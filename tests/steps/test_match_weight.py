"""`match_weight`: mass and balance come true on the cut solid, walls stay, and what stops it is said in numbers."""

from __future__ import annotations

from dataclasses import replace

import igl
import numpy as np
import pytest
import trimesh
from scipy.spatial import cKDTree
from scipy.stats import qmc

from fixtures.benches import bench_of, shipped_tables
from fixtures.drawn import blob, box, inside_out, joined, moved
from prep.build.verify import hold_to
from prep.contract import Item, Ledger, Void, Work, weigh
from prep.geometry.solid import Solid
from prep.steps.match_weight import MatchWeight
from tests.by_hand import nearest_by_hand, pocket_points
from tests.steps.ballast_box import BOX, resin, step, verdicts

RESIN_G_MM3 = 1.18e-3
STEEL_SHOT = 7.85e-3 * 0.601  # steel, poured loose: Scott, Nature 188 (1960) 908
EPOXY = 1.15e-3


def shared(folder, name: str) -> Solid:
    """A shared mesh, welded by trimesh."""
    path = folder / f"{name}.stl"
    if not path.is_file():
        pytest.skip(f"no {name}.stl")
    mesh = trimesh.load(path)
    mesh.merge_vertices()
    return Solid.of(mesh.vertices, mesh.faces)


def as_mesh(solid: Solid) -> trimesh.Trimesh:
    """The same triangles where nothing of the house measures them."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False)


def weighed_by_hand(before: Solid, after: Solid, facts, density: float) -> tuple[float, np.ndarray]:
    """Mass and balance of a full print with its pockets filled with steel shot, from trimesh and the facts' sizes."""
    mesh = as_mesh(after)
    mass, moment = density * mesh.volume, density * mesh.volume * mesh.center_mass
    for pocket in facts["pockets"]:
        if pocket["fill"] == "empty":
            continue
        width, length, depth = pocket["width_mm"], pocket["length_mm"], pocket["depth_mm"]
        area = np.pi * width**2 / 4.0 + (length - width) * width
        shot, plug = STEEL_SHOT * area * (depth - 1.5), EPOXY * area * 1.5
        middle = np.array(pocket["at_mm"])  # opens toward -z, so that the floor lies above
        heights = np.array([1.5 + (depth - 1.5) / 2.0, 0.75])
        moment = moment + sum(m * (middle + np.array([0, 0, h])) for m, h in zip((shot, plug), heights, strict=True))
        mass += shot + plug
    assert before.volume_mm3 > mesh.volume or not facts["pockets"]
    return mass, moment / mass


def walls_kept(before: Solid, outcome, limit: float) -> float:
    """Least distance from all pockets' sides and floors to the surface as it was, found by hand.

    The sides count from where the skin beside the mouth, which falls by 26 degrees at most, is a wall away.
    """
    least = np.inf
    for pocket, placed in zip(outcome.facts["pockets"], outcome.places, strict=True):
        out, along = -np.array(placed.place.inward), np.array(placed.place.roll)
        size = pocket["width_mm"], pocket["length_mm"], pocket["depth_mm"]
        points = pocket_points(pocket["at_mm"], along, out, *size, below=limit / 0.9, spacing=1.0)
        points = points[(points - pocket["at_mm"]) @ out <= -limit / 0.9 + 1e-9]
        if len(points):
            least = min(least, float(nearest_by_hand(points, before.corners).min()))
    return least


def least_web(outcome) -> float:
    """Least distance between the mouths of any two pockets, from dense points of each."""
    mouths = []
    for pocket, placed in zip(outcome.facts["pockets"], outcome.places, strict=True):
        out, along = -np.array(placed.place.inward), np.array(placed.place.roll)
        size = pocket["width_mm"], pocket["length_mm"], 1.0
        points = pocket_points(pocket["at_mm"], along, out, *size, spacing=0.2)
        mouths.append((points - np.outer(points @ out, out))[: len(points) // 3])
    pairs = [cKDTree(a).query(b)[0].min() for k, a in enumerate(mouths) for b in mouths[:k]]
    return float(min(pairs, default=np.inf))


# --- the ballast box ----------------------------------------------------------------------------


def test_the_published_ballast_box_weighs_what_it_should():
    """283.2 g; hollowed 272.58 g, x -0.7792208; with lead shot 337.551396 g, x +3.2203331, z -1.6101666."""
    hollow = inside_out(moved(box((30.0, 30.0, 10.0)), (20.0, 0.0, -10.0)))
    plain = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    assert weigh(plain).mass_g == pytest.approx(283.2, rel=1e-9)
    empty = resin(bench_of("jetting-0.027", body=Solid.of(*joined(box(BOX), hollow))))
    assert weigh(empty).mass_g == pytest.approx(272.58, rel=1e-9)
    assert weigh(empty).centre_mm == pytest.approx([-0.7792208, 0.0, 0.3896104], abs=1e-7)
    lead = Item(
        id="P1", item="lead shot", kind="ballast", step="weight", part="body", at_mm=(20.0, 0.0, -10.0),
        axis=(0.0, 0.0, 1.0), mass_g=9.0 * 11.34 * 0.6366,
    )  # fmt: skip
    filled = replace(empty, ledger=Ledger(items=(lead,)))
    assert weigh(filled).mass_g == pytest.approx(337.551396, abs=1e-6)
    assert weigh(filled).centre_mm == pytest.approx([3.2203331, 0.0, -1.6101666], abs=1e-7)


def test_the_box_reaches_350_g_with_steel_shot():
    """Target mass from trimesh's volume and the pocket's own size, within 0.05 g; the contract holds."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="350 g", fill=["steel shot 2 mm"]).apply(bench)
    hold_to(bench, outcome)
    mass, _ = weighed_by_hand(bench.parts["body"].solid, outcome.solids["body"], outcome.facts, RESIN_G_MM3)
    assert mass == pytest.approx(350.0, abs=0.05 + 66.8 * 2e-3)  # facets stand outside the round by under 0.2 %
    assert outcome.facts["mass_g"] == pytest.approx(350.0, abs=0.01)
    assert weigh(bench.after(outcome)).mass_g == pytest.approx(350.0, abs=0.01)
    assert len(outcome.facts["pockets"]) == 1
    assert verdicts(outcome) == {"weight": "pass"}


def test_the_box_is_lightened_to_a_gram():
    """Empty pockets: mass is density times trimesh's volume, nothing else."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="250 g ± 1 g").apply(bench)
    hold_to(bench, outcome)
    assert RESIN_G_MM3 * as_mesh(outcome.solids["body"]).volume == pytest.approx(250.0, abs=0.05)
    assert outcome.ledger.items == ()
    assert {void.state for void in outcome.ledger.voids} == {"open"}


@pytest.mark.parametrize("balance", [{"x": "5 mm ± 0.2 mm", "y": "-1 mm ± 0.2 mm"}, {"z": "-2 mm ± 0.2 mm"}])
def test_the_box_balances_where_it_is_asked_to(balance):
    """Balance by trimesh and the pockets' own sizes, along the opening direction too."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="330 g", fill=["steel shot 2 mm"], balance=balance).apply(bench)
    hold_to(bench, outcome)
    assert verdicts(outcome) == {"weight": "pass", "balance": "pass"}
    _, centre = weighed_by_hand(bench.parts["body"].solid, outcome.solids["body"], outcome.facts, RESIN_G_MM3)
    for axis, band in balance.items():
        assert centre["xyz".index(axis)] == pytest.approx(float(band.split()[0]), abs=0.21)


# --- real and drawn parts -----------------------------------------------------------------------


@pytest.mark.parametrize("name", ["palm-rest", "handle-branched"])
@pytest.mark.parametrize(("share", "fill"), [(0.9, []), (1.2, ["steel shot 2 mm"])])
def test_a_real_part_hits_its_mass_and_keeps_its_walls(shared_meshes, name, share, fill):
    """Mass by trimesh, walls by hand against the surface as it was."""
    solid = shared(shared_meshes, name)
    bench = bench_of("jetting-0.027", body=solid)
    target = share * 1.24e-3 * solid.volume_mm3
    outcome = step(target=f"{target:.4f} g", fill=fill).apply(bench)
    hold_to(bench, outcome)
    assert verdicts(outcome) == {"weight": "pass"}
    mass, _ = weighed_by_hand(solid, outcome.solids["body"], outcome.facts, 1.24e-3)
    pour = sum(pocket["fill_g"] for pocket in outcome.facts["pockets"])
    assert mass == pytest.approx(target, abs=0.05 + 3e-3 * pour)
    assert walls_kept(solid, outcome, bench.wall_limit_mm) >= bench.wall_limit_mm
    assert least_web(outcome) >= bench.process.web_limit_mm
    assert outcome.solids["body"].topology == solid.topology


def test_far_from_the_origin_the_knob_says_how_far_it_gets(shared_meshes):
    """A knob whose underside is all rings: what six pockets reach, and that more would come nearer."""
    solid = shared(shared_meshes, "knob-far-from-origin")
    bench = bench_of("jetting-0.027", body=solid)
    plain = 1.24e-3 * solid.volume_mm3
    near = step(target=f"{0.95 * plain:.4f} g").apply(bench)
    hold_to(bench, near)
    assert 1.24e-3 * as_mesh(near.solids["body"]).volume == pytest.approx(0.95 * plain, abs=0.05)
    assert walls_kept(solid, near, bench.wall_limit_mm) >= bench.wall_limit_mm
    far = step(target=f"{0.8 * plain:.4f} g").apply(bench)
    assert verdicts(far) == {"weight": "fail"}
    (finding,) = far.findings
    assert "6 pockets" in finding.says
    assert f"{far.facts['mass_g']:.2f} g at least" in finding.says
    assert finding.fix == "allow more: `pockets: 12`"
    assert far.facts["mass_g"] < near.facts["mass_g"]


def test_a_curved_sparse_print_is_weighed_as_cut():
    """Shell and infill counted by scattered points and libigl's signed distance in the stretched frame, 0.5 %."""
    solid = Solid.of(*blob(3, radius=22.0, roughness=0.15, subdivisions=4))
    bench = bench_of("extrusion-0.4", body=solid)
    before = weigh(bench).mass_g
    outcome = step(target=f"{before + 9.0:.3f} g ± 0.1 g", fill=["steel shot 1 mm"]).apply(bench)
    hold_to(bench, outcome)
    assert verdicts(outcome) == {"weight": "pass"}
    assert outcome.facts["mass_g"] == pytest.approx(before + 9.0, abs=0.02)
    after = outcome.solids["body"]
    low, high = after.bounds_mm
    points = low + qmc.Sobol(3, seed=5).random_base2(15) * (high - low)
    stretch = np.diag([1.0, 1.0, 1.35 / 0.8])
    depth = -igl.signed_distance(points @ stretch, after.vertices @ stretch, after.triangles)[0]
    core = float(np.prod(high - low)) * (depth > 1.35).mean()
    held = sum(item.mass_g for item in outcome.ledger.items)
    by_hand = 1.24e-3 * (as_mesh(after).volume - 0.85 * core) + held
    assert by_hand == pytest.approx(before + 9.0, rel=5e-3)
    assert walls_kept(solid, outcome, bench.wall_limit_mm) >= bench.wall_limit_mm


def test_sparse_infill_that_cannot_be_lightened_says_so():
    """In 15 % infill a narrow part's pockets weigh more than they take away."""
    bench = bench_of("extrusion-0.4", body=Solid.of(*box((30.0, 12.0, 12.0))))
    outcome = step(target=f"{0.7 * weigh(bench).mass_g:.3f} g").apply(bench)
    (finding,) = outcome.findings
    assert finding.verdict == "fail"
    assert "15% infill" in finding.says
    assert "infill" in finding.fix


def test_a_weighed_print_calibrates_the_cut():
    """A print that came out 10 % heavy loses 10 % more with each pocket."""
    bench = bench_of("jetting-0.027", body=Solid.of(*box(BOX)))
    bench = replace(bench, parts={"body": replace(bench.parts["body"], weighed_g=1.1 * 240.0 * 1.24)})
    outcome = step(target="300 g").apply(bench)
    assert 1.1 * 1.24e-3 * as_mesh(outcome.solids["body"]).volume == pytest.approx(300.0, abs=0.05)


# --- magnets, pieces, the rest of the model -----------------------------------------------------


def test_steel_keeps_two_diameters_from_every_magnet():
    """From the pocket's nearest point to the middle of the magnet, by hand."""
    magnets = [
        Item(
            id=f"M{k}", item="disc 6x2 N42", kind="magnet", step="seats", part="body", at_mm=(x, 0.0, -18.0),
            axis=(0.0, 0.0, 1.0), mass_g=0.42, ferrous=True, radius_mm=3.0, length_mm=2.0,
        )
        for k, x in enumerate((-30.0, 25.0))
    ]  # fmt: skip
    bench = resin(bench_of("jetting-0.027", ledger=Ledger(items=tuple(magnets)), body=Solid.of(*box(BOX))))
    target = f"{weigh(bench).mass_g + 60.0:.3f} g"
    for fill, least in ((["steel shot 2 mm"], 12.0), (["bismuth shot 2 mm"], 0.8)):
        outcome = step(target=target, fill=fill, balance={"x": "4 mm ± 0.5 mm"}).apply(bench)
        assert verdicts(outcome) == {"weight": "pass", "balance": "pass"}
        for pocket, placed in zip(outcome.facts["pockets"], outcome.places, strict=True):
            if pocket["fill"] == "empty":
                continue
            size = pocket["width_mm"], pocket["length_mm"], pocket["depth_mm"]
            points = pocket_points(pocket["at_mm"], np.array(placed.place.roll), np.array([0, 0, -1.0]), *size)
            for magnet in magnets:
                away = np.linalg.norm(points - magnet.at_mm, axis=1).min()
                assert away >= least


def test_pieces_are_counted_from_the_table():
    """M10 washers by their number, in rounds of their diameter and play, stacked under the cap."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    row = shipped_tables().ballast.get("M10 washer")
    outcome = step(target="320 g", fill=["M10 washer"]).apply(bench)
    hold_to(bench, outcome)
    assert verdicts(outcome) == {"weight": "pass"}
    washers = [item for item in outcome.ledger.items if item.kind == "ballast"]
    total = 0
    filled = [pocket for pocket in outcome.facts["pockets"] if pocket["fill"] != "empty"]
    glue = 0.0
    for item, pocket in zip(washers, filled, strict=True):
        count = round(item.mass_g / row.mass_g)
        total += count
        assert item.item == f"{count} x M10 washer"
        assert item.mass_g == pytest.approx(count * 3.571, abs=2e-3 * count)  # steel 7.85, 20 x 10.5 x 2 mm
        assert pocket["width_mm"] == pytest.approx(20.0 + 2 * bench.process.slide_fit_mm)
        assert pocket["depth_mm"] == pytest.approx(2.0 * count + 1.5, abs=1e-9)
        assert item.mass_band_g == (item.mass_g, item.mass_g)
        # filled level with the rim: all that is not steel is glue
        glue += EPOXY * (np.pi * pocket["width_mm"] ** 2 / 4.0 * pocket["depth_mm"] - item.mass_g / 7.85e-3)
    mesh = as_mesh(outcome.solids["body"])
    by_hand = RESIN_G_MM3 * mesh.volume + total * row.mass_g + glue
    assert by_hand == pytest.approx(outcome.facts["mass_g"], abs=0.05)
    assert by_hand == pytest.approx(320.0, abs=1.6)
    (close,) = [task.says for task in outcome.ledger.work if task.verb == "close"]
    assert f"{glue:.2f} g" in close
    assert "around the pieces and level with the rim" in close


def test_the_whole_model_is_weighed_or_the_part_alone():
    """A second part and a carried cell count for the model, not for the part."""
    cell = Item(id="C1", item="CR2032", kind="cell", step="carried", part="lid", at_mm=(0.0, 0.0, 40.0),
                axis=(0.0, 0.0, 1.0), mass_g=3.0)  # fmt: skip
    lid = Solid.of(*box((40.0, 40.0, 10.0), (0.0, 0.0, 40.0)))
    bench = resin(bench_of("jetting-0.027", ledger=Ledger(items=(cell,)), body=Solid.of(*box(BOX)), lid=lid))
    model = step(target="280 g").apply(bench).solids["body"]
    part = step(target="280 g", of="part").apply(bench).solids["body"]
    assert RESIN_G_MM3 * (as_mesh(model).volume + 16000.0) + 3.0 == pytest.approx(280.0, abs=0.05)
    assert RESIN_G_MM3 * as_mesh(part).volume == pytest.approx(280.0, abs=0.05)


def test_pockets_open_on_the_seam_of_two_parts():
    """They open toward the other part, on the face it covers."""
    lid = Solid.of(*box((50.0, 60.0, 10.0), (-25.0, 0.0, 25.0)))
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX)), lid=lid))
    outcome = step(target="280 g", open={"seam": ["body", "lid"]}).apply(bench)
    hold_to(bench, outcome)
    assert outcome.places
    for placed in outcome.places:
        assert placed.place.inward == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)
        assert placed.place.at_mm[0] < 0.0


def test_pockets_of_a_second_step_are_numbered_on():
    """No two pockets of a model share a name, and none opens in another's floor."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    after = bench.after(step(target="270 g").apply(bench))
    again = step(target="262 g", open="+z").apply(after)
    names = [pocket["id"] for pocket in again.facts["pockets"]]
    assert names[0] == f"P{1 + len(after.ledger.voids)}"


# --- what is handed on --------------------------------------------------------------------------


def test_work_and_cautions_tell_the_whole_job():
    """Fill, weigh open, close, weigh again, in that order; lead says gloves."""
    bench = resin(bench_of("jetting-0.027", body=Solid.of(*box(BOX))))
    outcome = step(target="330 g", fill=["lead shot 2 mm"]).apply(bench)
    work = outcome.ledger.work
    assert [task.verb for task in work] == ["fill", "weigh", "close", "weigh"]
    assert work[1].after == ("print body", work[0].id)
    assert work[2].after == (work[1].id,)
    assert work[3].after == ("print body", work[0].id, work[2].id)
    assert "P1" in work[0].says
    assert "330.00 g" in work[3].says
    assert any("gloves" in caution for caution in outcome.cautions)
    shot, cap = outcome.ledger.items
    assert (shot.id, shot.kind, cap.kind) == ("P1", "ballast", "other")
    assert shot.mass_band_g is not None
    low, high = shot.mass_band_g
    assert low < shot.mass_g < high
    band = outcome.facts["mass_band_g"]
    assert band[1] - band[0] >= high - low
    assert [view.title for view in outcome.views] == ["P1"]
    assert [void.state for void in outcome.ledger.voids] == ["filled"]
    assert isinstance(outcome.ledger.voids[0], Void)


def test_the_scale_waits_for_all_that_it_counts():
    """Prints, seats and fillings of earlier steps come before the weighing, and it says what is in place."""
    cell = Item(id="C1", item="CR2032", kind="cell", step="carried", part="lid", at_mm=(0.0, 0.0, 40.0),
                axis=(0.0, 0.0, 1.0), mass_g=3.0)  # fmt: skip
    magnets = tuple(
        Item(id=f"M{k + 1}", item="disc 6x2 N42", kind="magnet", step="seats", part=("body", "lid")[k // 2],
             at_mm=(25.0 * (-1) ** k, 0.0, 18.0 + 4.0 * (k // 2)), axis=(0.0, 0.0, 1.0), mass_g=0.4, ferrous=True,
             radius_mm=3.0, length_mm=2.0)
        for k in range(4)
    )  # fmt: skip
    work = tuple(
        Work(id=f"{verb} {name}{after}", step=own, verb=verb, says=f"{verb} it")
        for verb, after, own in (("print", "", "print"), ("seat", ": seats", "seats"))
        for name in ("body", "lid")
    )
    lid = Solid.of(*box((40.0, 40.0, 10.0), (0.0, 0.0, 25.0)))
    ledger = Ledger(items=(cell, *magnets), work=work)
    bench = resin(bench_of("jetting-0.027", ledger=ledger, body=Solid.of(*box(BOX)), lid=lid))
    target = f"{weigh(bench).mass_g + 40.0:.3f} g"
    fill, opened, close, closed = step(target=target, fill=["steel shot 2 mm"]).apply(bench).ledger.work
    earlier = ("print body", "print lid", "seat body: seats", "seat lid: seats")
    assert opened.after == (*earlier, fill.id)
    assert closed.after == (*earlier, fill.id, close.id)
    assert "with C1, M1 to M4, P1 in place" in opened.says
    assert "with C1, M1 to M4, P1 in place" in closed.says
    alone = f"{weigh(bench, 'body').mass_g - 20.0:.3f} g"
    (only,) = step(target=alone, of="part").apply(bench).ledger.work
    assert only.after == ("print body", "seat body: seats")
    assert "with M1, M2 in place" in only.says


def test_the_same_bytes_twice_and_the_input_unchanged():
    """Nothing is left to chance, and the bench is left alone."""
    solid = Solid.of(*blob(5, radius=25.0, roughness=0.2, subdivisions=4))
    was = solid.sha256
    settings = {"target": "90 g", "fill": ["steel shot 2 mm"], "balance": {"x": "1 mm ± 0.5 mm"}}
    twice = [step(**settings).apply(bench_of("jetting-0.027", body=solid)) for _ in range(2)]
    assert twice[0].solids["body"].sha256 == twice[1].solids["body"].sha256
    assert twice[0].facts == twice[1].facts
    assert solid.sha256 == was


def test_settings_read_back_as_written():
    """A direction, a seam, bands and lengths survive writing and reading."""
    for opening in ("-z", {"seam": ["body", "lid"]}):
        one = step(target="148 g ± 1 g", balance={"x": "0 mm ± 1 mm"}, open=opening, fill=["steel shot 2 mm"])
        assert MatchWeight.model_validate(one.model_dump(mode="json")) == one
