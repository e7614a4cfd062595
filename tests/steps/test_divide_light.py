"""Walls between the cells of a light box."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.benches import bench_of
from prep.build.verify import hold_to
from prep.checks.evenness import Evenness
from prep.cli._round_box import INNER_MM, round_box
from prep.contract import Bench, Finding, Item, Lamp, Ledger, Outcome, Window
from prep.contract.lit import lit
from prep.errors import BadValue, CellTooNarrow, NoHollow
from prep.geometry.solid import Solid
from prep.places.window_light import window_light
from prep.steps.divide_light import DivideLight

MESHES = Path(__file__).resolve().parents[2] / "../shared/meshes"
WORDS = {"step": "divide_light", "part": "box", "open": "+z", "covers": ["cover"], "wall": "1.35 mm"}
CELLS = ((-17.0, -17.0), (17.0, -17.0), (-17.0, 17.0), (17.0, 17.0))


def divided(bench: Bench, **words) -> Outcome:
    """What the step does to a bench, held to its predictions as a build holds it."""
    outcome = DivideLight.model_validate(WORDS | words).apply(bench)
    hold_to(bench, outcome)
    return outcome


def spots(*points: tuple[float, float], z: float = 3.0) -> list[dict[str, str]]:
    """Places on a floor."""
    return [{"point": f"{x}, {y}, {z} mm"} for x, y in points]


def lamp(name: str, part: str, at: tuple[float, float, float], window: str = "") -> Lamp:
    """A bare lamp that shines up."""
    return Lamp(
        id=name, step="by hand", part=part, led="chip 2835 white", at_mm=at, axis=(0, 0, 1), half_angle_deg=60.0,
        intensity_cd=1.0, window=window,
    )  # fmt: skip


def gained(bench: Bench, outcome: Outcome) -> float:
    """Volume by trimesh, of the box."""
    before, after = bench.parts["box"].solid, outcome.solids["box"]
    volumes = [trimesh.Trimesh(s.vertices, s.triangles, process=False).volume for s in (before, after)]
    return volumes[1] - volumes[0]


# --- drawn boxes ---------------------------------------------------------------------------------


def test_two_cells_of_a_round_box_part_along_its_diameter() -> None:
    """The wall fills the strip of the circle up to 0.3 mm under the cover, less the slot; closed form to 0.2 %."""
    bench = bench_of(**round_box())
    outcome = divided(bench, at=spots((-9, 0), (9, 0)))
    half, high = 1.35 / 2.0, 26.0 - 3.0 - 0.3
    strip = half * math.sqrt(INNER_MM**2 - half**2) + INNER_MM**2 * math.asin(half / INNER_MM)
    assert gained(bench, outcome) == pytest.approx(2.0 * strip * high - 3.0 * 2.0 * 1.35, rel=2e-3)
    (one,) = outcome.facts["dividers"]
    assert (one["between"], one["height_mm"]) == ([1, 2], pytest.approx(high, abs=2e-3))
    assert outcome.facts["passes"] == pytest.approx(0.75 * math.exp(-0.45 * 1.35), rel=1e-3)
    assert outcome.findings[0].verdict == "warn"


def test_lamps_of_the_ledger_are_the_cells() -> None:
    """Without places, the lamps housed in the part are; each wall stands midway."""
    bench = bench_of(**round_box())
    lamps = tuple(lamp(f"L{k}", "box", (x, 0.0, 4.0)) for k, x in enumerate((-10.0, 4.0)))
    outcome = divided(replace(bench, ledger=Ledger(lamps=lamps)))
    assert outcome.facts["dividers"][0]["at_mm"][0] == pytest.approx(-3.0)


@settings(max_examples=6, deadline=None)
@given(seed=st.integers(0, 1000))
def test_no_ray_leads_from_cell_to_cell(seed: int) -> None:
    """Straight lines between random points of two cells, below the divider's top, all meet a wall or more of plastic.

    Rays by trimesh; a line that crosses the whole wall has at least its thickness of plastic on it.
    """
    drawn = np.random.default_rng(seed)
    bench = bench_of(**round_box())
    points = [(-9.0, -2.0), (8.0, -6.0), (4.0, 9.0)]
    outcome = divided(bench, at=spots(*points), wire_gap="0 mm")
    solid = outcome.solids["box"]
    mesh = trimesh.Trimesh(solid.vertices, solid.triangles, process=False)
    u = drawn.uniform(-14.0, 14.0, (400, 3))
    u = u[np.hypot(u[:, 0], u[:, 1]) < INNER_MM - 1.0]
    u[:, 2] = drawn.uniform(4.0, 25.0, len(u))
    cell = np.argmin([np.hypot(u[:, 0] - x, u[:, 1] - y) for x, y in points], axis=0)
    free = ~mesh.contains(u)
    start, end = u[free][:-1], u[free][1:]
    other = cell[free][:-1] != cell[free][1:]
    way = end - start
    far = np.linalg.norm(way, axis=1)
    hits, rays, _ = mesh.ray.intersects_location(start[other], (way / far[:, None])[other])
    along = np.linalg.norm(hits - start[other][rays], axis=1)
    plastic = np.zeros(int(other.sum()))
    for ray in range(len(plastic)):
        met = np.sort(along[(rays == ray) & (along < far[other][ray])])
        assert len(met) % 2 == 0
        plastic[ray] = float((met[1::2] - met[::2]).sum())
    assert len(plastic) > 20
    assert plastic.min() >= 1.35 - 1e-3


@pytest.mark.parametrize("cells", [4, 5])
def test_walls_that_meet_make_one_piece(cells: int) -> None:
    """Crossing walls, and a ring of walls around a middle cell, join the box in one shell; each slot is a handle."""
    bench = bench_of(**round_box())
    points = [(-12, -12), (12, 12), (-12, 12), (12, -12), (0, 0)][:cells]
    outcome = divided(bench, at=spots(*points))
    topology = outcome.solids["box"].topology
    assert (topology.shells, topology.sealed_voids) == (1, 0)
    assert topology.genus == len(outcome.facts["dividers"]) == {4: 4, 5: 8}[cells]


# --- refusals ------------------------------------------------------------------------------------


def test_one_cell_is_refused() -> None:
    """There is nothing to divide about one place, nor without any lamp."""
    bench = bench_of(**round_box())
    with pytest.raises(BadValue, match="nothing to divide") as caught:
        divided(bench, at=spots((0, 0)))
    assert "1 cell, at least 2" in caught.value.found
    with pytest.raises(BadValue, match="nothing to divide"):
        divided(bench)


def test_cells_too_close_are_refused_with_the_room_they_need() -> None:
    """Lamps of 2.5 mm radius 6 mm apart: 1.35 + 2 (2.5 + 0.3) = 6.95 mm are needed, and just so much is enough."""
    bench = bench_of(**round_box())

    def placed(apart: float) -> Bench:
        lamps = tuple(lamp(f"L{k}", "box", (x, 0.0, 4.0)) for k, x in enumerate((-apart / 2.0, apart / 2.0)))
        items = tuple(
            Item(id=one.id, item="led", kind="led", step="s", part="box", at_mm=one.at_mm, axis=one.axis, mass_g=0.1,
                 radius_mm=2.5) for one in lamps
        )  # fmt: skip
        return replace(bench, ledger=Ledger(lamps=lamps, items=items))

    with pytest.raises(CellTooNarrow) as caught:
        divided(placed(6.0))
    assert "6.00 mm apart, 6.95 mm needed" in caught.value.found
    assert divided(placed(6.96)).facts["dividers"]


def test_places_on_the_rim_have_no_hollow_between() -> None:
    """From a solid cover there is nothing to part."""
    with pytest.raises(NoHollow):
        divided(bench_of(**round_box()), part="cover", covers=[], at=spots((-9, 0), (9, 0), z=32.0))


# --- a real light box ----------------------------------------------------------------------------


def read(name: str) -> Solid:
    """A shared mesh as a solid."""
    return Solid.of(*_arrays(MESHES / f"pair4-lightbox-{name}.stl"))


def _arrays(path: Path) -> tuple[np.ndarray, np.ndarray]:
    mesh = trimesh.load(path)
    mesh.merge_vertices()
    return mesh.vertices, mesh.faces


def kernel(solid: Solid) -> manifold3d.Manifold:
    """A solid as the kernel holds it, to measure gaps with."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.array(solid.vertices, order="C"), np.array(solid.triangles, np.uint64, order="C"))
    )


def light_box(standoff: float, turns: tuple[float, ...], ring: float, count: int) -> Bench:
    """Black floor and frame, a white diffuser 1 mm thick on the frame's ledge; lamps so far below it in four cells."""
    plate = manifold3d.Manifold.cube((70.4, 70.4, 1.0)).translate((-35.2, -35.2, -3.0)).to_mesh64()
    diffuser = Solid.of(np.asarray(plate.vert_properties)[:, :3], np.asarray(plate.tri_verts))
    bench = bench_of(bottom=read("bottom"), frame=read("frame"), diffuser=diffuser)
    lamps, windows = [], []
    for k, ((x, y), turn) in enumerate(zip(CELLS, turns, strict=True)):
        windows.append(
            Window(
                id=f"W{k}",
                step="by hand",
                part="diffuser",
                at_mm=(x, y, -2.0),
                out=(0, 0, 1),
                across=(1, 0, 0),
                shape="slot",
                half_mm=(15.0, 15.0),
                wall_mm=1.0,
                transmits=0.29,
                depth_mm=0.2,
            )
        )
        for j in range(count):
            way = math.radians(turn + 360.0 * j / count)
            at = (x + ring * math.cos(way), y + ring * math.sin(way), -3.0 - standoff)
            lamps.append(lamp(f"L{k}{j}", "bottom", at, f"W{k}"))
    made_of = {"bottom": "pla black", "frame": "pla black", "diffuser": "pla white"}
    parts = {
        name: replace(part, material=bench.tables.materials.get(made_of[name])) for name, part in bench.parts.items()
    }
    return replace(bench, parts=parts, ledger=Ledger(lamps=tuple(lamps), windows=tuple(windows)))


def with_dividers(bench: Bench) -> Bench:
    """The light box once it is divided."""
    words = {"part": "bottom", "covers": ["frame", "diffuser"], "at": spots(*CELLS, z=-27.0), "wall": None}
    return bench.after(divided(bench, **words))


def spills(bench: Bench) -> np.ndarray:
    """Light of each cell's lamps on each window, (window, cell), over what falls on the cell's own; medians."""
    light = lit(bench)
    each = len(light.lamps) // len(CELLS)
    falls = [
        np.median(window_light(light.field, pane).falls.reshape(-1, 4, each).sum(2), 0) for pane in light.field.panes
    ]
    return np.array(falls) / np.diag(falls)


def worst(findings: tuple[Finding, ...]) -> Finding:
    """The least even window."""
    return min(findings, key=lambda finding: finding.value)


@pytest.mark.skipif(not MESHES.is_dir(), reason="no folder shared/meshes beside the repository")
def test_real_light_box_gets_dividers_and_even_windows() -> None:
    """Dividers on a real floor plate clear a real frame by the play; the check's own remedy makes all windows even.

    Without dividers a lamp in one cell lights the next; with them less than 2 % of its own window's light gets there,
    through wall, slot, and gaps all together. One lamp a cell is a dot; three on the ring that the finding asks for
    pass.
    """
    one = light_box(22.0, (0.0,) * 4, 0.0, 1)
    before = spills(one)
    assert before[~np.eye(4, dtype=bool)].max() > 0.02
    first = with_dividers(one)
    after = spills(first)
    assert after[~np.eye(4, dtype=bool)].max() < 0.02
    walls = kernel(first.parts["bottom"].solid) - kernel(one.parts["bottom"].solid)
    frame, diffuser = (kernel(first.parts[name].solid) for name in ("frame", "diffuser"))
    assert walls.min_gap(frame, 1.0) == pytest.approx(0.3, abs=5e-3)
    assert walls.min_gap(diffuser, 1.0) == pytest.approx(0.3, abs=5e-3)
    dot = worst(Evenness().examine(first))
    assert dot.verdict == "warn"
    ring = float(re.search(r"three lamps on a ring of ([\d.]+) mm", dot.fix)[1])
    mended = Evenness().examine(with_dividers(light_box(22.0, (90.0, 90.0, 0.0, 90.0), ring, 3)))
    assert {finding.verdict for finding in mended} == {"pass"}
    corner = 2.0 * (15.0 * 40.0 / 41.0) ** 2  # outermost of the 41 places across; light falls as cos^4
    assert dot.value == pytest.approx((22.0**2 / (22.0**2 + corner)) ** 2, abs=0.02)
    assert worst(mended).value > 0.5
