"""`mask_paint`: what it hands back, what it says, what it leaves room for and what it refuses."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import manifold3d
import numpy as np
import pytest
import trimesh
from pydantic import ValidationError

from fixtures.benches import bench_of
from prep.contract import Coat
from prep.errors import LipTooThin, NoSuchRegion, NothingToMask
from prep.geometry.solid import Solid
from prep.places.region_wanted import RegionWanted
from prep.steps.mask_paint import MaskPaint
from tests.geometry.masked import is_one_clean_solid, kernel_solid, shared_mm3

SHARED = Path(__file__).resolve().parents[2] / "../shared/meshes"
PANEL = {"box": ["4, 4, 5 mm", "16, 12, 9 mm"]}


@cache
def plate():
    """A plate of 20 x 16 x 8 mm."""
    return kernel_solid(manifold3d.Manifold.cube([20, 16, 8]))


def step(**settings):
    """The step as a recipe writes it."""
    words = {
        "step": "mask_paint",
        "part": "plate",
        "paint": "orange enamel",
        "region": PANEL,
        "reach": "3 mm",
        "by_eye": True,
    }
    return MaskPaint.model_validate({**words, **settings})


@cache
def done(process="extrusion-0.4"):
    """The plate with its mask."""
    return step().apply(bench_of(process, plate=plate()))


def test_changes_nothing():
    """The part is read, not changed; the mask stands beside it."""
    assert (step().changes(), step().reads()) == ((), ("plate",))
    assert done().solids == {}
    assert done().predictions == ()
    assert list(done().extra) == ["mask"]


@pytest.mark.parametrize("process", ["extrusion-0.4", "jetting-0.027"])
def test_mask_is_clean(process):
    """In either process the mask is one clean solid that shares nothing with the part."""
    mask = done(process).extra["mask"]
    assert is_one_clean_solid(mask)
    assert shared_mm3([mask], plate()) <= 1e-3


def test_mask_leaves_the_window_open():
    """Rays straight down onto the panel meet the part and not the mask; round it they meet the mask."""
    mask = done().extra["mask"]
    body = trimesh.Trimesh(mask.vertices, mask.triangles, process=False)
    panel = np.array([[x, y, 20.0] for x in (4.2, 10.0, 15.8) for y in (4.2, 8.0, 11.8)])
    land = np.array([[3.0, 8.0, 20.0], [17.0, 8.0, 20.0], [10.0, 3.0, 20.0], [10.0, 13.0, 20.0]])
    down = np.array([0.0, 0.0, -1.0])
    assert not _met(body, panel, down).any()
    assert _met(body, land, down).all()


def _met(body, starts, way):
    """Whether rays meet any triangle, by hand (H. Moller, B. Trumbore, Fast, minimum storage ray/triangle, 1997)."""
    a, b, c = (body.triangles[:, k] for k in range(3))
    p = np.cross(way, c - a)
    across = np.einsum("ij,ij->i", b - a, p)
    safe = np.where(np.abs(across) > 1e-12, across, np.inf)
    met = []
    for start in starts:
        t = start - a
        u = np.einsum("ij,ij->i", t, p) / safe
        q = np.cross(t, b - a)
        v = q @ way / safe
        met.append(((u >= 0) & (v >= 0) & (u + v <= 1) & np.isfinite(safe)).any())
    return np.array(met)


def test_ledger():
    """The film has the panel's area and the paint's thickness; mask, spray and unmask follow one another."""
    film = done().ledger.films[0]
    assert film.area_mm2 == pytest.approx(96.0)
    assert film.thickness_mm == pytest.approx(0.0375)
    mask, spray, unmask = done().ledger.work
    assert (mask.verb, spray.verb, unmask.verb) == ("mask", "spray", "unmask")
    assert (spray.after, unmask.after) == ((mask.id,), (spray.id,))
    assert unmask.minutes == 120.0


def test_facts():
    """Area, gap, land, lip, edge, volume and mass are told, and agree with the mask."""
    facts = done().facts
    assert facts["area_cm2"] == pytest.approx(0.96)
    assert facts["edge_mm"] == pytest.approx(40.0)
    assert (facts["gap_mm"], facts["land_mm"], facts["lip_mm"]) == (0.1, 1.2, 0.8)
    assert facts["gap_found_mm"] == pytest.approx([0.1] * 3, abs=1e-6)
    assert facts["edge_back_mm"] <= 0.15
    assert facts["edge_over_mm"] <= 0.15
    mask = done().extra["mask"]
    volume = trimesh.Trimesh(mask.vertices, mask.triangles).volume
    assert facts["volume_mm3"] == pytest.approx(volume)
    assert facts["mass_g"] == pytest.approx(volume * 1.24e-3, rel=1e-6)


def test_cautions():
    """Breathing, fire, the can's sheet, and where the mask ends are told."""
    said = " ".join(done().cautions)
    for word in ("respirator", "forced air", "flammable", "safety sheet", "local rules", "ends 3 mm"):
        assert word in said


def test_view():
    """The section stands at the window's edge, square to it, and shows part and mask."""
    view = done().views[0]
    x, y, z = view.at_mm
    assert z == pytest.approx(8.0)
    assert min(abs(x - 4.0), abs(x - 16.0), abs(y - 4.0), abs(y - 12.0)) < 1e-6
    assert view.normal[2] == pytest.approx(0.0, abs=1e-9)
    assert view.with_parts == ("mask paint-mask",)


def _coat(name, paint, region=None):
    wanted = None if region is None else RegionWanted.model_validate(region)
    return Coat(step=name, part="plate", paint=paint, region=wanted)


@pytest.mark.parametrize(
    ("paint", "region", "film", "touches"),
    [
        ("grey primer", None, 0.0375, True),
        ("white enamel", None, 0.0375, True),
        ("black enamel", None, 0.0, True),
        ("clear coat", None, 0.0, True),
        ("white enamel", {"box": ["-1, -1, -1 mm", "30, 30, 1 mm"]}, 0.0, False),
    ],
)
def test_room_for_earlier_coats(paint, region, film, touches):
    """The gap leaves room for what goes on before, primer and lighter colours, and only where the land lies on it."""
    bench = replace(bench_of(plate=plate()), ahead=(_coat("other", paint, region),))
    outcome = step().apply(bench)
    assert outcome.facts["film_under_land_mm"] == pytest.approx(film)
    assert outcome.facts["gap_mm"] == pytest.approx(0.1 + film)
    assert outcome.facts["gap_found_mm"][0] == pytest.approx(0.1 + film, abs=1e-6)
    assert outcome.ledger.films[0].touches == (("other",) if touches else ())


def test_thin_lip():
    """A lip the process cannot print is a fault."""
    with pytest.raises(LipTooThin):
        step(lip="0.4 mm").apply(bench_of(plate=plate()))


def test_nothing_to_mask():
    """Where all clean skin looks away from the spray there is nothing to mask."""
    lens = kernel_solid(manifold3d.Manifold.cylinder(1.0, 10.0, 0.05, 32))
    with pytest.raises(NothingToMask):
        step(region={"not": {"facing": "-z", "within": "5 deg"}}).apply(bench_of(plate=lens))


def test_no_such_region():
    """A region beside the part is a fault."""
    with pytest.raises(NoSuchRegion):
        step(region={"between": ["z 50 mm", "z 60 mm"]}).apply(bench_of(plate=plate()))


@pytest.mark.parametrize("wrong", [{"reach": "1 mm"}, {"relief": "0.1 mm", "gap": "0.1 mm"}, {"land": "0 mm"}])
def test_settings_that_contradict(wrong):
    """A reach inside the land, a relief within the gap, and no land at all are refused by the settings."""
    with pytest.raises(ValidationError):
        step(**wrong)


@pytest.mark.skipif(not SHARED.exists(), reason="the shared meshes are not here")
def test_palm_rest():
    """A panel on the palm rest's sloping top gets one mask that sits as asked."""
    mesh = trimesh.load(SHARED / "palm-rest.stl")
    mesh.merge_vertices()
    solid = Solid.of(np.array(mesh.vertices), np.array(mesh.faces))
    region = {"all": [{"facing": "+z", "within": "35 deg"}, {"box": ["0, -190, 5 mm", "20, -175, 30 mm"]}]}
    outcome = step(region=region).apply(bench_of(plate=solid))
    masks = list(outcome.extra.values())
    assert all(is_one_clean_solid(mask) for mask in masks)
    assert shared_mm3(masks, solid) <= 1e-3
    assert outcome.facts["gap_found_mm"] == pytest.approx([0.1] * 3, abs=0.03)
    assert outcome.facts["edge_back_mm"] <= 0.15
    assert outcome.facts["edge_over_mm"] <= 0.15
