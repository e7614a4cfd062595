"""The words for a place: each form, and what is refused."""

from __future__ import annotations

import pytest
from pydantic import TypeAdapter, ValidationError

from prep.places.wanted import PlacesWanted, PlaceWanted

MANY = TypeAdapter(PlacesWanted)


@pytest.mark.parametrize(
    "words",
    [
        {"point": "1, 2, 3 mm"},
        {"ray": {"from": "0, 0, 40 mm", "toward": "-z"}},
        {"facing": "+z"},
        {"facing": "0, 0.6, 0.8", "offset": "2, -1 mm", "near": "0, 0, 5 mm"},
        {"seam": ["body", "back"], "spread": 4},
        {"point": "0, 0, 0 mm", "ring": {"count": 4, "radius": "8 mm", "start": "45 deg"}},
        {"point": "0, 0, 0 mm", "row": {"count": 3, "pitch": "1/4 in"}},
        {"facing": "-y", "grid": {"count": [3, 2], "pitch": "10 mm", "turn": "30 deg"}},
    ],
)
def test_every_form_reads_and_round_trips(words) -> None:
    """Each form reads, and its text reads back the same."""
    place = PlaceWanted.model_validate(words)
    text = place.model_dump(mode="json", by_alias=True, exclude_none=True)
    assert PlaceWanted.model_validate(text) == place
    assert place.has_pattern == any(word in words for word in ("ring", "row", "grid"))


def test_one_place_is_a_list_of_one() -> None:
    """A place alone and a list of places are both read."""
    one = MANY.validate_python({"facing": "+z"})
    assert one == MANY.validate_python([{"facing": "+z"}])
    assert len(MANY.validate_python([{"facing": "+z"}, {"point": "0, 0, 0 mm"}])) == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ({}, "found none"),
        ({"ring": {"count": 3, "radius": "5 mm"}}, "found none"),
        ({"point": "0, 0, 0 mm", "facing": "+z"}, "found point and facing"),
        (
            {"point": "0, 0, 0 mm", "row": {"count": 2, "pitch": "5 mm"}, "ring": {"count": 3, "radius": "5 mm"}},
            "at most one pattern",
        ),
        ({"point": "0, 0, 0 mm", "offset": "1, 1 mm"}, "go with `facing`"),
        ({"ray": {"from": "0, 0, 0 mm", "toward": "+z"}, "near": "1, 1, 1 mm"}, "go with `facing`"),
        ({"seam": ["a", "b"]}, "go together"),
        ({"facing": "+z", "spread": 3}, "go together"),
        ({"facing": "up"}, "direction"),
        ({"point": "1, 2 mm"}, "3 values"),
        ({"point": [1, 2, 3]}, "unit"),
        ({"point": "0, 0, 0 mm", "ring": {"count": 1, "radius": "5 mm"}}, "greater than or equal to 2"),
        ({"face": "+z"}, "face"),
    ],
)
def test_what_is_no_place_is_refused(words, says) -> None:
    """None, two, a stray word, a bare number: each is refused with what is wrong."""
    with pytest.raises(ValidationError, match=says):
        PlaceWanted.model_validate(words)


def test_an_empty_list_is_refused() -> None:
    """At least one place is needed."""
    with pytest.raises(ValidationError):
        MANY.validate_python([])
