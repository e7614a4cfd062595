"""The words for a region: each form, how they are joined, and what is refused."""

from __future__ import annotations

import pytest
from pydantic import ValidationError

from prep.places.region_wanted import FORMS, RegionWanted

EACH = [
    ({"facing": "+y", "within": "30 deg"}, "facing +y within 30.00 deg"),
    ({"between": ["z 20 mm", "z 10 mm"]}, "between z 10.00 mm and 20.00 mm"),
    ({"box": ["0, 0, 0 mm", "10, 5, 1 cm"]}, "in the box from (0.0, 0.0, 0.0) mm to (100.0, 50.0, 10.0) mm"),
    ({"patch": {"facing": "+z"}, "crease": "40 deg"}, "the smooth patch around a place"),
    ({"colour": "#FF8800", "tolerance": "5 %"}, "of colour #ff8800"),
    ({"solid": "band.stl"}, "inside band.stl"),
    ({"any": [{"facing": "+x"}, {"facing": "-x"}]}, "(facing +x within 30.00 deg) or (facing -x within 30.00 deg)"),
    ({"all": [{"facing": "+x"}, {"not": {"solid": "a.stl"}}]}, "(facing +x within 30.00 deg) and (not (inside a.stl))"),
]


@pytest.mark.parametrize(("words", "says"), EACH)
def test_every_form_reads_and_round_trips(words, says: str) -> None:
    """Each form reads, says itself in words, and its text reads back the same."""
    region = RegionWanted.model_validate(words)
    assert region.form == next(word for word in FORMS if word in words)
    assert region.says() == says
    text = region.model_dump(mode="json", by_alias=True, exclude_none=True)
    assert RegionWanted.model_validate(text) == region


@pytest.mark.parametrize(
    ("words", "because"),
    [
        ({}, "exactly one of"),
        ({"facing": "+x", "solid": "a.stl"}, "found facing and solid"),
        ({"between": ["z 10 mm", "x 20 mm"]}, "one axis"),
        ({"between": ["z 10 mm", "z 10 mm"]}, "two different levels"),
        ({"between": ["z 10 mm"]}, "Field required"),
        ({"box": ["0, 0, 0 mm", "10, 5, 0 mm"]}, "differ along x, y and z"),
        ({"solid": "a.stl", "within": "10 deg"}, "`within` goes with `facing`"),
        ({"facing": "+x", "crease": "10 deg"}, "`crease` goes with `patch`"),
        ({"facing": "+x", "tolerance": "1 %"}, "`tolerance` goes with `colour`"),
        ({"patch": {"seam": ["a", "b"], "spread": 2}}, "not on a seam"),
        ({"colour": "orange"}, "pattern"),
        ({"any": []}, "at least 1"),
        ({"facing": "+x", "within": "0 deg"}, "greater than 0"),
    ],
)
def test_what_is_refused(words, because: str) -> None:
    """Two forms, none, and settings beside the wrong form are refused with the reason."""
    with pytest.raises(ValidationError, match=because):
        RegionWanted.model_validate(words)


def test_bodies_and_leaves() -> None:
    """The bodies named anywhere inside are known, each once, and leaves come in the order written."""
    words = {"any": [{"solid": "a.stl"}, {"not": {"all": [{"solid": "b.stl"}, {"facing": "+x"}, {"solid": "a.stl"}]}}]}
    region = RegionWanted.model_validate(words)
    assert region.bodies() == ("a.stl", "b.stl")
    assert [leaf.form for leaf in region.leaves()] == ["solid", "solid", "facing", "solid"]
