"""`cut_by_solid`: skin marked off by another body."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import blob, box, ico_sphere, moved, prism_ngon
from fixtures.gauges import within
from prep.errors import KernelRefused
from prep.geometry import cut_by_solid as room
from prep.geometry.cut_by_solid import FLUSH, cut_by_solid, is_flush
from prep.geometry.cut_skin import Cut, Skin
from prep.geometry.solid import Solid

BLOCK = Solid.of(*box((40.0, 30.0, 20.0)))


def inside_area(cut: Cut) -> float:
    """Area of the pieces inside."""
    return float(mesh(cut).area_faces[cut.inside].sum())


def mesh(cut: Cut) -> trimesh.Trimesh:
    """The cut skin in trimesh."""
    return trimesh.Trimesh(cut.skin.vertices, cut.skin.triangles, process=False)


def test_a_post_through_a_face() -> None:
    """A ten by ten post marks a square of its own size, to rounding."""
    cut = cut_by_solid(Skin.of(BLOCK), Solid.of(*moved(box(), (3.0, 2.0, 10.0))))
    assert inside_area(cut) == pytest.approx(100.0, rel=1e-12)


def test_a_cap_of_a_ball() -> None:
    """A box over the top of a ball marks its cap, the same as a plane does (trimesh's slice)."""
    ball = Solid.of(*ico_sphere(10.0, 4))
    cut = cut_by_solid(Skin.of(ball), Solid.of(*moved(box((30.0, 30.0, 10.0)), (0.0, 0.0, 11.0))))
    cap = trimesh.Trimesh(
        *trimesh.intersections.slice_faces_plane(ball.vertices, ball.triangles, [0, 0, 1.0], [0, 0, 6.0])[:2]
    )
    assert inside_area(cut) == pytest.approx(cap.area, rel=1e-9)


def test_a_flush_band_is_inside() -> None:
    """A band cut from the part itself, flush with its skin, marks the whole band and nothing else."""
    post = Solid.of(*prism_ngon(48, 10.0, 30.0))
    band = Solid.of(*prism_ngon(48, 10.0, 8.0))
    low = float(post.bounds_mm[0, 2]) + 5.0 - float(band.bounds_mm[0, 2])
    band = Solid.of(band.vertices + np.array([0.0, 0.0, low]), band.triangles)
    cut = cut_by_solid(Skin.of(post), band)
    round_mm = 48 * 2.0 * 10.0 * np.sin(np.pi / 48)
    beside = 2.0 * 2.0 * FLUSH * band.diagonal_mm * round_mm
    assert inside_area(cut) == pytest.approx(8.0 * round_mm, abs=beside)
    assert is_flush(post, band, 1e-3)
    assert not is_flush(post, Solid.of(*moved(box(), (0.0, 0.0, 40.0))), 1e-3)


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 1000), scale=st.sampled_from([1e-3, 1.0, 1e3]), shift=st.floats(-6.0, 6.0))
def test_pieces_are_where_they_are_said_to_be(seed: int, scale: float, shift: float) -> None:
    """Every piece's middle is inside the body or not, by winding number; the skin stays closed and the same."""
    host = Solid.of(*blob(seed, 10.0 * scale, 0.25, 3))
    body = Solid.of(*moved(blob(seed + 1, 7.0 * scale, 0.3, 3), (8.0 * scale, shift * scale, 2.0 * scale)))
    cut = cut_by_solid(Skin.of(host), body)
    assert mesh(cut).is_watertight
    assert mesh(cut).area == pytest.approx(host.area_mm2, rel=1e-9)
    large = mesh(cut).area_faces > 1e-6 * mesh(cut).area_faces.max()
    middles = cut.skin.vertices[cut.skin.triangles].mean(axis=1)[large]
    assert (within((body.vertices, body.triangles), middles) == cut.inside[large]).all()


def test_halves_that_do_not_join(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the kernel's halves leave a gap, the cut is refused rather than guessed."""
    monkeypatch.setattr(room, "_split", lambda *_: None)
    with pytest.raises(KernelRefused, match="marked off"):
        cut_by_solid(Skin.of(BLOCK), Solid.of(*moved(box(), (3.0, 2.0, 10.0))))
