"""`find_region`: every form of a region on solids with known skins."""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, moved, prism_ngon, spherical_shell, subdivided, tray, turned
from prep.errors import NoColours, NoSuchPlace, NoSuchRegion
from prep.geometry.mend import mend
from prep.geometry.patch import Patch
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid, subtract
from prep.places.region import find_region
from prep.places.region_wanted import RegionWanted

SHARED = Path(__file__).resolve().parents[2] / "../shared/meshes"
BALL = Solid.of(*ico_sphere(20.0, 5))
BLOCK = Solid.of(*box((40.0, 30.0, 20.0)))


@dataclass(frozen=True)
class Bare:
    """A part as far as regions look at it."""

    solid: Solid
    original: Solid
    colours: tuple[str, ...] | None = None


def region(solid: Solid, words, bodies=None, colours=None, original=None, beside=()) -> Patch:
    """The patch of these words, its skin checked: closed, of the solid's own area."""
    wanted = RegionWanted.model_validate(words)
    patch = find_region(Bare(solid, original or solid, colours), wanted, bodies or {}, beside)
    assert trimesh.Trimesh(patch.vertices, patch.triangles, process=False).is_watertight
    assert patch.triangle_areas.sum() == pytest.approx(solid.area_mm2, rel=1e-9)
    return patch


# --- one form each -------------------------------------------------------------------------------


@pytest.mark.parametrize("axis", ["x", "y", "z"])
def test_between_is_a_zone(axis: str) -> None:
    """Between two levels of a ball of radius R lies 2 pi R h, whichever axis and order."""
    patch = region(BALL, {"between": [f"{axis} 10 mm", f"{axis} 3 mm"]})
    assert patch.area_mm2 == pytest.approx(2.0 * math.pi * 20.0 * 7.0, rel=3e-4)
    assert len(patch.loops) == 2


def test_between_on_a_post() -> None:
    """A band round a post of 48 flats is their breadth times its height, to rounding."""
    patch = region(Solid.of(*prism_ngon(48, 10.0, 30.0)), {"between": ["z 10 mm", "z 18 mm"]})
    assert patch.area_mm2 == pytest.approx(48 * 20.0 * math.sin(math.pi / 48) * 8.0, rel=1e-12)


def test_box_on_a_block() -> None:
    """A box over one edge of a block marks a strip of both faces."""
    patch = region(BLOCK, {"box": ["15, -5, 12 mm", "22, 5, 6 mm"]})
    assert patch.area_mm2 == pytest.approx(5.0 * 10.0 + 4.0 * 10.0, rel=1e-12)
    assert len(patch.islands) == 1


def test_facing_is_a_cap_with_a_round_edge() -> None:
    """What faces within an angle on a ball is a cap 2 pi R^2 (1 - cos), its edge on the circle to 0.15 degrees."""
    patch = region(BALL, {"facing": "0.3, 0.4, 1", "within": "30 deg"})
    assert patch.area_mm2 == pytest.approx(2.0 * math.pi * 400.0 * (1.0 - math.cos(math.pi / 6)), rel=3e-3)
    (loop,) = patch.loops
    axis = np.array([0.3, 0.4, 1.0]) / np.linalg.norm([0.3, 0.4, 1.0])
    along = loop @ axis
    across = np.linalg.norm(loop - along[:, None] * axis, axis=1)
    assert np.degrees(np.arctan2(across, along)) == pytest.approx(np.full(len(loop), 30.0), abs=0.15)


def test_facing_follows_a_barrel() -> None:
    """On a post the edge of what faces within 50 degrees runs straight along the barrel, between its facets."""
    patch = region(Solid.of(*prism_ngon(48, 10.0, 30.0)), {"facing": "+x", "within": "50 deg"})
    assert patch.area_mm2 == pytest.approx(math.radians(100.0) * 10.0 * 30.0, rel=4e-3)
    turn = np.degrees(np.arctan2(patch.loops[0][:, 1], patch.loops[0][:, 0]))
    assert np.abs(turn).max() == pytest.approx(50.0, abs=0.1)


def test_facing_takes_whole_faces() -> None:
    """On a block it is the faces that look so, with no cut in them."""
    patch = region(BLOCK, {"facing": "+z", "within": "50 deg"})
    assert patch.area_mm2 == pytest.approx(1200.0)
    assert len(patch.triangles) == len(BLOCK.triangles)


def test_patch_grows_to_the_crease() -> None:
    """Around a place on a barrel it is the barrel; around one on the end, the end."""
    post = Solid.of(*prism_ngon(48, 10.0, 30.0))
    barrel = region(post, {"patch": {"point": "12, 1, 15 mm"}})
    assert barrel.area_mm2 == pytest.approx(48 * 20.0 * math.sin(math.pi / 48) * 30.0)
    end = region(post, {"patch": {"facing": "+z"}, "crease": "60 deg"})
    assert end.area_mm2 == pytest.approx(24 * 100.0 * math.sin(math.pi / 24))
    row = {"point": "0, 0, 10 mm", "row": {"count": 3, "pitch": "2 mm"}}
    assert region(BLOCK, {"patch": row}).area_mm2 == pytest.approx(1200.0)


def test_solid_marks_what_is_inside_it() -> None:
    """A body sunk into the part marks its outline on the skin; on the band's own part the band."""
    post = Solid.of(*moved(box(), (2.0, 3.0, 10.0)))
    assert region(BLOCK, {"solid": "post.stl"}, {"post.stl": post}).area_mm2 == pytest.approx(100.0, rel=1e-12)


def test_a_face_in_a_level_counts() -> None:
    """A face that lies in a level belongs to the region, and to what begins there."""
    assert region(BLOCK, {"between": ["z 0 mm", "z 10 mm"]}).area_mm2 == pytest.approx(1200.0 + 140.0 * 10.0)
    assert region(BLOCK, {"between": ["z 10 mm", "z 20 mm"]}).area_mm2 == pytest.approx(1200.0)


# --- joined --------------------------------------------------------------------------------------

PAIR = ({"between": ["z 2 mm", "z 9 mm"]}, {"facing": "+x", "within": "40 deg"})


def test_algebra_of_areas() -> None:
    """Areas obey inclusion and exclusion, and `not` is the rest of the skin."""
    a, b = (region(BALL, words).area_mm2 for words in PAIR)
    both = region(BALL, {"all": list(PAIR)}).area_mm2
    either = region(BALL, {"any": list(PAIR)}).area_mm2
    assert either + both == pytest.approx(a + b, rel=1e-9)
    assert region(BALL, {"not": PAIR[0]}).area_mm2 == pytest.approx(BALL.area_mm2 - a, rel=1e-9)
    neither = {"all": [{"not": PAIR[0]}, {"not": PAIR[1]}]}
    assert region(BALL, {"not": neither}).area_mm2 == pytest.approx(either, rel=1e-9)
    assert region(BALL, {"all": [PAIR[0], {"not": PAIR[1]}]}).area_mm2 == pytest.approx(a - both, rel=1e-9)


def test_forms_of_every_kind_together() -> None:
    """Levels, bodies and facings cut one skin, and a body cut first keeps its mark under later cuts."""
    body = {"post.stl": Solid.of(*moved(box((12.0, 12.0, 60.0)), (0.0, 0.0, 0.0)))}
    words = {"all": [{"between": ["x -3 mm", "x 50 mm"]}, {"solid": "post.stl"}, {"facing": "+z", "within": "20 deg"}]}
    assert region(BLOCK, words, body).area_mm2 == pytest.approx(9.0 * 12.0, rel=1e-12)


# --- seen from outside ---------------------------------------------------------------------------


def test_a_sealed_void_does_not_count() -> None:
    """A band round a hollow ball is on its outer skin only; the area left out is said."""
    hollow = subtract(BALL, [Solid.of(*ico_sphere(17.0, 4))])
    patch = region(hollow, {"between": ["z 3 mm", "z 10 mm"]})
    assert patch.area_mm2 == pytest.approx(2.0 * math.pi * 20.0 * 7.0, rel=3e-4)
    assert patch.hidden_mm2 == pytest.approx(2.0 * math.pi * 17.0 * 7.0, rel=2e-3)


def test_the_inside_of_an_open_hull_does_not_count() -> None:
    """A band round a deep tray leaves its inner walls out; asked for alone, they are the region."""
    hull = Solid.of(*tray((40.0, 30.0, 40.0), 3.0, 4.0))
    low = float(hull.bounds_mm[0, 2])
    band = {"between": [f"z {low + 10} mm", f"z {low + 20} mm"]}
    assert region(hull, band).area_mm2 == pytest.approx(140.0 * 10.0)
    within = {"all": [band, {"box": [f"-18, -13, {low} mm", f"18, 13, {low + 40} mm"]}]}
    assert region(hull, within).area_mm2 == pytest.approx(2.0 * (34.0 + 24.0) * 10.0)


def test_a_lid_beside_hides_the_inside() -> None:
    """With a lid standing on the hull, everything but the bottom is the outside walls and the rim is hidden too."""
    hull = Solid.of(*tray((40.0, 30.0, 20.0), 3.0, 4.0))
    low, high = hull.bounds_mm[:, 2]
    lid = Solid.of(*moved(box((40.0, 30.0, 2.0)), (0.0, 0.0, float(high) + 1.0)))
    words = {"not": {"facing": "-z"}}
    assert region(hull, words, beside=[lid]).area_mm2 == pytest.approx(140.0 * float(high - low))
    assert region(hull, words).area_mm2 > 140.0 * float(high - low) + 100.0


# --- properties ----------------------------------------------------------------------------------


@settings(max_examples=10, deadline=None)
@given(
    seed=st.integers(0, 1000),
    angle=st.floats(0.0, 360.0),
    scale=st.sampled_from([1e-3, 1.0, 1e3]),
    within=st.floats(20.0, 60.0),
)
def test_turns_and_scales_with_the_part(seed: int, angle: float, scale: float, within: float) -> None:
    """What faces a direction turns with the part, and grows with the square of its scale."""
    drawn = blob(seed, 10.0, 0.2, 3)
    plain = region(Solid.of(*drawn), {"facing": "+z", "within": f"{within} deg"})
    there = turned(drawn, (1.0, 0.0, 0.0), angle)
    toward = f"0, {-math.sin(math.radians(angle))}, {math.cos(math.radians(angle))}"
    patch = region(Solid.of(there[0] * scale, there[1]), {"facing": toward, "within": f"{within} deg"})
    assert patch.area_mm2 == pytest.approx(plain.area_mm2 * scale**2, rel=1e-6)
    assert len(patch.loops) == len(plain.loops)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 1000), shift=st.floats(-50.0, 50.0), low=st.floats(-6.0, 0.0), high=st.floats(1.0, 6.0))
def test_levels_move_with_the_part(seed: int, shift: float, low: float, high: float) -> None:
    """A band moved with the part is the same band."""
    drawn = blob(seed, 10.0, 0.2, 3)
    plain = region(Solid.of(*drawn), {"between": [f"y {low} mm", f"y {high} mm"]})
    there = region(
        Solid.of(*moved(drawn, (1.0, shift, 2.0))), {"between": [f"y {low + shift} mm", f"y {high + shift} mm"]}
    )
    assert there.area_mm2 == pytest.approx(plain.area_mm2, rel=1e-5)


# --- colours -------------------------------------------------------------------------------------

CUBE = Solid.of(*box())
COLOURS = tuple(
    {(0, 0, 1): "#ff8800", (0, 0, -1): "#ff8a02"}.get(tuple(np.rint(n).astype(int).tolist()), "")
    for n in CUBE.triangle_normals
)


def test_colour_takes_its_faces() -> None:
    """The faces of that colour, near ones within the tolerance, and none of those without."""
    assert region(CUBE, {"colour": "#FF8800"}, colours=COLOURS).area_mm2 == pytest.approx(200.0)
    assert region(CUBE, {"colour": "#ff8800", "tolerance": "0 %"}, colours=COLOURS).area_mm2 == pytest.approx(100.0)


def test_colour_survives_a_step() -> None:
    """After a pocket is cut the face keeps its colour, and the pocket's own walls have none."""
    cut = subtract(CUBE, [Solid.of(*moved(box((4.0, 4.0, 4.0)), (0.0, 0.0, 5.0)))])
    words = {"colour": "#ff8800", "tolerance": "0 %"}
    assert region(cut, words, colours=COLOURS, original=CUBE).area_mm2 == pytest.approx(100.0 - 16.0)


def test_a_border_across_a_flat_survives_a_step() -> None:
    """Where a pocket is cut across the border of two colours in one flat, the border stays where it was."""
    drawn = subdivided(box((20.0, 20.0, 10.0)), 3)
    solid = Solid.of(*drawn)
    middles = solid.corners.mean(axis=1)
    red = (solid.triangle_normals[:, 2] > 0.9) & (middles[:, 0] > 5.0)
    colours = tuple("#ff0000" if one else "#000000" for one in red)
    cut = subtract(solid, [Solid.of(*moved(box((4.0, 4.0, 4.0)), (5.0, 0.3, 5.0)))])
    patch = region(cut, {"colour": "#ff0000"}, colours=colours, original=solid)
    assert patch.area_mm2 == pytest.approx(100.0 - 8.0, rel=1e-9)
    assert patch.vertices[patch.triangles[patch.inside]][:, :, 0].min() == pytest.approx(5.0)


def test_no_colours_in_the_file() -> None:
    """A file without colours is refused with what to do."""
    for colours in (None, ("",) * len(CUBE.triangles)):
        with pytest.raises(NoColours, match="no colours") as caught:
            region(CUBE, {"colour": "#ff8800"}, colours=colours)
        assert "3MF" in caught.value.fix


def test_another_colour_finds_the_nearest() -> None:
    """A colour that is not there lists those that are with their areas, and names the nearest."""
    with pytest.raises(NoColours) as caught:
        region(CUBE, {"colour": "#ffaa00"}, colours=COLOURS)
    assert "#ff8800 on 100 mm2" in caught.value.found
    assert "#ff8a02" in caught.value.fix


# --- faults --------------------------------------------------------------------------------------


def test_nothing_there() -> None:
    """A region beside the part is refused with the part's own span."""
    with pytest.raises(NoSuchRegion, match="no skin") as caught:
        region(BLOCK, {"between": ["z 30 mm", "z 40 mm"]})
    assert "z -10 to 10 mm" in caught.value.found


def test_a_body_elsewhere() -> None:
    """A body that does not reach the part marks nothing."""
    with pytest.raises(NoSuchRegion, match="no skin"):
        region(BLOCK, {"solid": "far.stl"}, {"far.stl": Solid.of(*moved(box(), (90.0, 0.0, 0.0)))})


def test_everything() -> None:
    """A region that covers the whole skin has no edge; nor has one that leaves only a sealed void."""
    with pytest.raises(NoSuchRegion, match="whole skin"):
        region(BLOCK, {"between": ["z -30 mm", "z 40 mm"]})
    with pytest.raises(NoSuchRegion, match="whole skin"):
        region(Solid.of(*spherical_shell()), {"between": ["z -30 mm", "z 40 mm"]})


def test_only_a_void_is_met() -> None:
    """A region that touches only the wall of a sealed void says so."""
    shell = Solid.of(*spherical_shell(10.0, 8.0))
    with pytest.raises(NoSuchRegion, match="no skin") as caught:
        region(shell, {"box": ["-5, -5, -5 mm", "5, 5, 5 mm"]})
    assert "not seen from outside" in caught.value.found


def test_a_place_that_is_not_there() -> None:
    """A patch around a place that is not found is refused as that place is."""
    with pytest.raises(NoSuchPlace):
        region(BLOCK, {"patch": {"ray": {"from": "0, 0, 50 mm", "toward": "+z"}}})


# --- real parts ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "words", "loops"),
    [
        ("palm-rest.stl", {"facing": "+z", "within": "30 deg"}, 1),
        ("palm-rest.stl", {"between": ["z 8 mm", "z 16 mm"]}, 2),
        ("bowl-hemisphere.stl", {"facing": "-x", "within": "40 deg"}, 1),
        ("knob-far-from-origin.stl", {"between": ["z 10 mm", "z 15 mm"]}, 2),
        ("handle-branched.stl", {"between": ["x -40 mm", "x -20 mm"]}, None),
    ],
)
def test_shared_parts(name: str, words, loops: int | None) -> None:
    """Regions of real parts close, have the part's area with their rests, and as many edges as one sees on them."""
    if not SHARED.is_dir():
        pytest.skip("no shared meshes")
    solid = mend(read_mesh(SHARED / name)).solid
    patch = region(solid, words)
    assert 0.01 * solid.area_mm2 < patch.area_mm2 < 0.8 * solid.area_mm2
    assert loops is None or len(patch.loops) == loops
