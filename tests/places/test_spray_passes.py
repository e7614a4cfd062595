"""`spray_passes`: passes in words, the fewest that reach what can be reached."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fixtures.drawn import box, ico_sphere, moved, prism_ngon, tube
from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from prep.places.spray_passes import pass_directions, spray_passes


def band(solid: Solid, *limits: tuple[int, float, float]) -> Patch:
    """The patch within some planes."""
    cut = cut_half_spaces(Skin.of(solid), list(limits))
    return Patch.of(cut.skin, cut.inside)


def test_words_and_directions_agree() -> None:
    """62 unit directions, none twice, each said in words that lead back to it."""
    directions, words = pass_directions()
    assert len(directions) == len(set(words)) == 62
    assert np.allclose(np.linalg.norm(directions, axis=1), 1.0)
    at = dict(zip(words, directions, strict=True))
    assert at["from +x"] == pytest.approx([1.0, 0.0, 0.0])
    assert at["from +x, 30° up"] == pytest.approx([math.sqrt(0.75), 0.0, 0.5])
    assert at["from -z"] == pytest.approx([0.0, 0.0, -1.0])
    assert at["from -y turned 30° to +x, 60° down"] == pytest.approx([0.25, -math.sqrt(3) / 4, -math.sqrt(0.75)])
    assert np.linalg.norm(directions[:, None] - directions[None], axis=2)[np.triu_indices(62, 1)].min() > 0.2


def test_a_flat_needs_one_pass() -> None:
    """A flat window is one pass from straight before it."""
    block = Solid.of(*box((40.0, 30.0, 20.0)))
    window = band(block, (0, 20.0, 1.0), (1, -14.0, 1.0), (1, 14.0, -1.0))
    assert window.area_mm2 == pytest.approx(28.0 * 20.0)
    found = spray_passes(window, [block], spacing_mm=2.0)
    assert [one.says for one in found.passes] == ["from +x"]
    assert found.passes[0].adds == pytest.approx(1.0)
    assert found.fewest
    assert found.unreachable == found.left == ()


def test_a_post_needs_three_passes() -> None:
    """The outside of a post needs three passes at 60 degrees each way, as trade practice says two to four."""
    post = Solid.of(*prism_ngon(48, 10.0, 30.0))
    found = spray_passes(band(post, (2, 5.0, 1.0), (2, 25.0, -1.0)), [post], spacing_mm=1.0)
    assert len(found.passes) == 3
    assert found.fewest
    assert sum(one.adds for one in found.passes) == pytest.approx(1.0)
    assert found.passes[0].adds == pytest.approx(1.0 / 3.0, abs=0.05)
    assert found.unreachable_mm2 == 0.0


def test_a_lip_asks_for_more() -> None:
    """A collar that shades both ends of a band makes it take more passes, or leaves skin beneath it."""
    post = Solid.of(*prism_ngon(48, 10.0, 30.0))
    window = band(post, (2, 10.0, 1.0), (2, 20.0, -1.0))
    bare = spray_passes(window, [post], spacing_mm=0.7)
    collars = [Solid.of(*moved(tube(14.0, 10.1, 10.0), (0.0, 0.0, z))) for z in (-0.2, 20.2)]
    masked = spray_passes(window, [post, *collars], spacing_mm=0.7)
    assert len(masked.passes) >= len(bare.passes)
    assert masked.unreachable_mm2 >= bare.unreachable_mm2


def test_what_is_not_worth_a_pass_is_left() -> None:
    """A small flat behind a large one is left where a pass must add more, with its place and area."""
    block = Solid.of(*box((40.0, 30.0, 20.0)))
    cut = cut_half_spaces(Skin.of(block), [(0, -21.0, 1.0), (2, 9.0, 1.0)])
    back = cut_half_spaces(cut.skin, [(0, -19.0, -1.0), (1, -1.0, 1.0), (1, 1.0, -1.0), (2, 7.0, -1.0), (2, -7.0, 1.0)])
    top = block.triangle_normals[back.skin.source][:, 2] > 0.9
    patch = Patch.of(back.skin, (cut.inside[back.parent] & top) | back.inside)
    every = spray_passes(patch, [block], spacing_mm=1.0, most_angle_deg=40.0)
    worth = spray_passes(patch, [block], spacing_mm=1.0, most_angle_deg=40.0, least_adds=0.05)
    assert (len(every.passes), len(worth.passes)) == (2, 1)
    assert every.left == ()
    assert sum(spot.area_mm2 for spot in worth.left) == pytest.approx(28.0, rel=0.1)
    assert [spot.at_mm[0] for spot in worth.left] == pytest.approx([-20.0] * len(worth.left))


def test_what_is_out_of_reach_is_listed() -> None:
    """Skin inside a ball's hollow neighbour is listed with its place and area."""
    ball = Solid.of(*ico_sphere(10.0, 4))
    cap = Solid.of(*moved(box((30.0, 30.0, 8.0)), (0.0, 0.0, 14.5)))
    found = spray_passes(band(ball, (2, 6.0, 1.0)), [ball, cap], spacing_mm=0.5)
    assert found.unreachable_mm2 > 1.0
    assert found.unreachable[0].at_mm[2] > 9.0
    assert found.area_mm2 == pytest.approx(2 * math.pi * 10.0 * 4.0, rel=0.01)
    assert sum(spot.area_mm2 for spot in found.unreachable) == pytest.approx(found.unreachable_mm2)
