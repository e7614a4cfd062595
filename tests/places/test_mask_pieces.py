"""Masks that come straight off, in as few pieces as can be."""

from __future__ import annotations

import itertools

import manifold3d
import numpy as np
import pytest
import trimesh
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from prep.errors import FreeToTurn, MaskTrapped
from prep.geometry.split_shell import Parting
from prep.places.mask_pieces import removable
from tests.places import masked
from tests.places.masked import GAP, LAND, PROCESS, as_kernel, as_solid, between, block

STEPS = 24
TOUCH_MM3 = 1e-3


def off(scene, **words):
    """The pieces of a hand-made mask."""
    part, mask, patch = scene
    masks = mask if isinstance(mask, tuple) else (mask,)
    words = {"pull": None, "by_eye": True} | words
    return removable(part, masks, patch, land_mm=LAND, gap_mm=GAP, process=PROCESS, tell=lambda *_: None, **words)


def leaves_freely(part, pieces) -> None:
    """Every piece, in turn, shares nothing with the part and the pieces still there at many stations of its path.

    The stations are cut with the kernel on bodies made anew; in the product the way is found by rays.
    """
    seated = [as_kernel(part), *(as_kernel(piece.solid) for piece in pieces)]
    for piece in pieces:
        moving = seated.pop(1)
        for travelled in np.linspace(0.0, piece.path_mm, STEPS):
            here = moving.translate(tuple((travelled * piece.pull).tolist()))
            for still in seated:
                assert (here ^ still).volume() <= TOUCH_MM3, (piece.name, travelled)
    assert len(seated) == 1


def in_one_body(pieces) -> None:
    """Every piece is one closed body."""
    for piece in pieces:
        mesh = trimesh.Trimesh(piece.solid.vertices, piece.solid.triangles, process=False)
        assert mesh.is_watertight
        assert mesh.body_count == 1


def test_cap_on_a_hemisphere_lifts_up() -> None:
    """Half a ball's shell is one piece, and comes off along the ball's axis by its tab."""
    scene = masked.hemisphere()
    found = off(scene)
    assert [piece.name for piece in found.pieces] == ["1"]
    assert found.pieces[0].pull == pytest.approx([0.0, 0.0, 1.0], abs=1e-6)
    assert "by its tab" in found.pieces[0].says
    assert found.pieces[0].solid.volume_mm3 > scene[1].volume_mm3 + 100.0
    in_one_body(found.pieces)
    leaves_freely(scene[0], found.pieces)


def test_shell_round_a_ball_is_parted_in_two_beside_its_window() -> None:
    """A window in a full shell leaves two halves, parted round the ball's middle where no window's edge is crossed."""
    scene = masked.windowed_ball()
    found = off(scene)
    assert len(found.pieces) == 2
    assert not any("crosses" in note for note in found.notes)
    heights = found.partings[0].heights(scene[2].vertices[scene[2].edge_sides].reshape(-1, 3))
    assert (heights > 0.0).all() or (heights < 0.0).all()
    in_one_body(found.pieces)
    leaves_freely(scene[0], found.pieces)


def test_two_halves_have_pins_and_sockets() -> None:
    """Put together, the halves fill no place twice, and a pin stands in its socket with the slide fit around it."""
    part, _, _ = scene = masked.windowed_ball()
    found = off(scene)
    upper, lower = (piece.solid for piece in found.pieces)
    z = found.partings[0].origin_mm[2]
    standing = as_kernel(lower) ^ block((-99, -99, z + 0.01), (99, 99, 99))
    radius = PROCESS.pin_limit_mm / 2.0
    pins = standing.decompose()
    assert len(pins) == 2
    # a cylinder of the pin limit, 2 mm long, its tip chamfered 0.4 mm
    wide = max(radius, 0.9)
    frustum = np.pi * 0.4 / 3.0 * (wide**2 + wide * (wide - 0.4) + (wide - 0.4) ** 2)
    assert pins[0].volume() == pytest.approx(np.pi * wide**2 * 1.59 + frustum, rel=5e-3)
    grown = standing.translate((PROCESS.slide_fit_mm * 0.95, 0.0, 0.0))
    assert (grown ^ as_kernel(upper)).volume() <= TOUCH_MM3
    assert (standing.translate((PROCESS.slide_fit_mm * 1.2, 0.0, 0.0)) ^ as_kernel(upper)).volume() > 1e-2
    assert (as_kernel(upper) ^ as_kernel(part)).volume() <= TOUCH_MM3


def test_band_round_a_cylinder_has_two_collars() -> None:
    """Above and below a band each collar leaves its own end, without a parting."""
    scene = masked.banded_cylinder()
    found = off(scene)
    assert [piece.pull[2] for piece in found.pieces] == pytest.approx([1.0, -1.0])
    assert found.partings == ()
    leaves_freely(scene[0], found.pieces)


def test_five_faces_of_a_box_lift_up() -> None:
    """A lid over five faces comes off in one."""
    scene = masked.five_faces()
    found = off(scene)
    assert len(found.pieces) == 1
    assert found.pieces[0].pull == pytest.approx([0.0, 0.0, 1.0], abs=1e-6)
    leaves_freely(scene[0], found.pieces)


def test_groove_parts_a_mask_and_no_lip_crosses_the_paint() -> None:
    """A tongue in a groove would lift sideways in one piece but for the wet paint on top, so it is parted in two."""
    scene = masked.grooved()
    found = off(scene)
    assert len(found.pieces) == 2
    front = min(found.pieces, key=lambda piece: piece.pull[1])
    assert front.pull == pytest.approx([0.0, -1.0, 0.0], abs=1e-6)
    leaves_freely(scene[0], found.pieces)


def test_mask_over_a_rim_is_parted_at_the_rim() -> None:
    """Over the rim of a cup the cap lifts, the ring inside follows it, and the ring outside slides down the ball."""
    scene = masked.cup()
    found = off(scene)
    assert sorted(np.sign(piece.pull[2]) for piece in found.pieces) == [-1.0, 1.0, 1.0]
    assert len(found.partings) == 1
    assert -1.0 < found.partings[0].origin_mm[2] <= GAP
    in_one_body(found.pieces)
    leaves_freely(scene[0], found.pieces)


def test_ring_snapped_under_a_mouth_has_a_piece_that_leaves_first() -> None:
    """Halves or thirds of a ring under a mouth would lock; each piece found comes inward past those that stay."""
    scene = masked.snapped_ring()
    found = off(scene)
    assert len(found.pieces) in (3, 4)
    for piece in found.pieces:
        middle = piece.solid.vertices.mean(axis=0)
        assert piece.pull[:2] @ middle[:2] < 0.0
    leaves_freely(scene[0], found.pieces)


def test_the_way_asked_for_is_taken_where_it_is_free() -> None:
    """A cap that could leave along many ways leaves along the one asked for, unit or not."""
    way = np.array([0.0, 0.2, 1.0])
    part, mask, patch = masked.ball(masked.above(6.0), (2, 6.0, -1.0), (2, 3.0, 1.0))
    found = off((part, mask, patch), pull=3.0 * way)
    assert found.pieces[0].pull == pytest.approx(way / np.linalg.norm(way))
    leaves_freely(part, found.pieces)


def test_island_is_a_loose_plug_with_a_tab() -> None:
    """A square in the midst of the window stays loose, is told of, and has a tab to lay and lift it by."""
    scene = masked.eyed_slab()
    found = off(scene, by_eye=False)
    assert [piece.name for piece in found.pieces] == ["1", "2"]
    assert any("mask 2" in note and "loose plug" in note for note in found.notes)
    assert not any("mask 1" in note for note in found.notes)
    assert found.pieces[1].solid.extents_mm[2] > 10.0
    leaves_freely(scene[0], found.pieces)


def test_trapped_where_no_parting_frees_it() -> None:
    """With no parting to choose from, a shell over more than half a ball is refused, with the place that hooks."""
    with pytest.raises(MaskTrapped, match="hooks") as caught:
        off(masked.sphere_in_socket(), partings=())
    assert "mm" in caught.value.found


def test_free_to_turn_on_a_ball() -> None:
    """A cap whose window is not round about one axis may turn on a ball; it is refused, and told of if laid by eye."""
    limits = [(axis, sense * 5.0, -sense) for axis in (0, 1) for sense in (1.0, -1.0)]
    scene = masked.ball(masked.above(2.0) - block((-5, -5, 0), (5, 5, 99)), *limits, (2, 2.0, 1.0))
    with pytest.raises(FreeToTurn) as caught:
        off(scene, by_eye=False)
    assert "turns about" in caught.value.found
    assert any("lay the mask" in note for note in off(scene).notes)


# --- the count against every parting ------------------------------------------------------------


def fewest_by_hand(part, mask, planes, ways) -> int:
    """The least count over all partings at most two deep, by moving kernel bodies along ways at many stations."""
    host = as_kernel(part)

    def goes(body) -> bool:
        far = np.linalg.norm(part.extents_mm) * 1.5
        for way in ways:
            stations = np.concatenate([[0.05, 0.2, 0.5], np.linspace(1.0, far, 24)])
            if all((body.translate(tuple((s * way).tolist())) ^ host).volume() <= TOUCH_MM3 for s in stations):
                return True
        return False

    def fewest(body, depth) -> float:
        if goes(body):
            return 1
        if depth == 0:
            return np.inf
        counts = [np.inf]
        for plane in planes:
            normal = np.array(plane.normal)
            sides = body.split_by_plane(tuple(plane.normal), float(normal @ np.array(plane.origin_mm)))
            if not any(side.is_empty() for side in sides):
                counts.append(sum(fewest(side, depth - 1) for side in sides))
        return min(counts)

    return int(fewest(as_kernel(mask), 2))


@pytest.mark.parametrize(
    ("body", "open_from"),
    [
        ("dumbbell", 4.0),
        ("ball", 9.0),
        ("ball", -1.0),
    ],
)
def test_count_is_the_least_over_all_partings(body, open_from) -> None:
    """Over a given set of planes and ways the count equals that of a search through all of them, two deep."""
    # the outside check: exhaustive search on kernel bodies, no samples and no rays
    planes = [Parting((0.0, 0.0, z), (0.0, 0.0, 1.0)) for z in (-8.0, 0.0)] + [
        Parting((0.0, 0.0, 0.0), (1.0, 0.0, 0.0))
    ]
    round_ = manifold3d.Manifold.sphere(10.0, 32)
    part = round_ if body == "ball" else round_ + round_.translate((0.0, 0.0, -18.0))
    big = manifold3d.Manifold.sphere(12.0, 32)
    small = manifold3d.Manifold.sphere(10.05, 32)
    if body == "dumbbell":
        big, small = big + big.translate((0.0, 0.0, -18.0)), small + small.translate((0.0, 0.0, -18.0))
    mask = (big - small) ^ block((-99, -99, -99), (99, 99, open_from))
    host, shell = as_solid(part), as_solid(mask)
    found = off((host, shell, between(host, (2, open_from, 1.0))), partings=planes)
    ways = [np.array(way, dtype=float) for way in itertools.chain(np.eye(3), -np.eye(3))]
    assert len(found.pieces) == fewest_by_hand(host, shell, planes, ways)
    leaves_freely(host, found.pieces)


# --- drawn parts and regions -------------------------------------------------------------------


@settings(max_examples=5, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
@given(st.integers(0, 10_000))
def test_drawn_masks_come_off(seed) -> None:
    """Masks on drawn bodies, with drawn windows, come off as said."""
    scene = masked.drawn(seed)
    found = off(scene)
    in_one_body(found.pieces)
    leaves_freely(scene[0], found.pieces)
