"""`pipe_paths`: where a light pipe may run, and what is no way at all."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from prep.errors import BadQuantity, DoesNotFit
from prep.geometry.light_pipe import Section
from prep.places.pipe_path import _read_section, _write_section, pipe_paths
from prep.places.place import Place

TOP = Place.of(np.array([0.0, 0.0, 30.0]), np.array([0.0, 0.0, -1.0]))


def paths(start, bends="auto", shines=None, end=TOP):
    """Paths of a 3 mm pipe half a millimetre before its lamp."""
    way = None if shines is None else np.array(shines)
    return pipe_paths(np.array(start), end, bends, gap_mm=0.5, across_mm=3.0, shines=way)


def test_straight_first() -> None:
    """Where the line is square enough it comes first, and begins the gap after the lamp."""
    found = paths((3.0, 0.0, 10.0))
    way = np.array([-3.0, 0.0, 20.0]) / np.hypot(3.0, 20.0)
    assert found[0] == pytest.approx(np.stack([[3.0, 0.0, 10.0] + 0.5 * way, [0.0, 0.0, 30.0]]))


def test_one_bend_where_the_lamp_shines_aside() -> None:
    """A lamp that shines toward the place's axis gets one mirror under the place."""
    (found,) = paths((20.0, 5.0, 10.0), "prism", shines=(-1.0, 0.0, 0.0))
    aside = np.array([-20.0, -5.0, 0.0]) / np.hypot(20.0, 5.0)
    assert found == pytest.approx(np.stack([[20.0, 5.0, 10.0] + 0.5 * aside, [0.0, 0.0, 10.0], [0.0, 0.0, 30.0]]))


def test_two_bends_where_it_shines_the_same_way() -> None:
    """A lamp that shines the way the light leaves gets two mirrors, all legs square to one another."""
    (found,) = paths((20.0, 0.0, 10.0), "prism", shines=(0.0, 0.0, 1.0))
    steps = np.diff(found, axis=0)
    assert len(steps) == 3
    assert [float(a @ b) for a, b in itertools.pairwise(steps)] == pytest.approx([0.0, 0.0])


def test_leaves_along_an_axis_near_the_normal() -> None:
    """On a leaning skin the last leg of a bent pipe keeps to the frame's axis."""
    lean = Place.of(np.array([0.0, 0.0, 30.0]), np.array([0.3, 0.0, -1.0]))
    found = paths((20.0, 0.0, 10.0), "prism", end=lean)
    assert all((path[-1] - path[-2])[:2] == pytest.approx([0.0, 0.0]) for path in found)


@pytest.mark.parametrize(
    ("start", "bends", "shines"),
    [
        ((30.0, 0.0, 10.0), "straight", None),
        ((0.0, 0.0, 40.0), "auto", None),
        ((3.0, 0.0, 10.0), "prism", None),
        ((20.0, 0.0, 10.0), "prism", (0.0, 0.0, -1.0)),
    ],
    ids=["too slanted", "outside", "legs too short", "shines away"],
)
def test_no_path(start, bends, shines) -> None:
    """Slant, short legs and a lamp that faces elsewhere are refused with what was found."""
    with pytest.raises(DoesNotFit, match="no light pipe runs") as caught:
        paths(start, bends, shines)
    assert ("deg off square" in caught.value.found) == (bends != "prism")
    assert ("mm aside" in caught.value.found) == (bends != "straight")


def test_section_words() -> None:
    """A section reads back as written; a bare number, or words, are no section."""
    for text, section in (("3 mm", Section(3.0)), ("4 x 2 mm", Section(4.0, 2.0)), ("0.25 in", Section(6.35))):
        assert _read_section(text) == section
        assert _read_section(_write_section(section)) == section
    for wrong in ("3", "4 x 2", "wide"):
        with pytest.raises(BadQuantity):
            _read_section(wrong)
