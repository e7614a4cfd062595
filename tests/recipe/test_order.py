"""Steps in an order that lasts."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from prep.errors import BadValue
from prep.recipe import Recipe
from prep.recipe.order import out_of_order
from prep.steps.match_weight import MatchWeight
from prep.steps.seat_magnets import SeatMagnets

Read = Callable[..., Recipe]

WEIGH = MatchWeight.model_validate({"step": "match_weight", "part": "body", "target": "100 g", "open": "-z"})
SEAT = SeatMagnets.model_validate({"step": "seat_magnets", "between": ["body", "back"], "magnet": "disc 6x2 N42"})


@pytest.mark.parametrize(
    ("steps", "late"),
    [([SEAT, WEIGH], []), ([WEIGH, SEAT], [1]), ([WEIGH, WEIGH], []), ([SEAT, WEIGH, SEAT, SEAT], [2, 3])],
)
def test_nothing_is_cut_after_the_weighing(steps: list, late: list[int]) -> None:
    """Every step that cuts after the model was weighed is a fault; weighing twice is not."""
    faults = out_of_order(list(enumerate(steps)))
    assert [index for index, _ in faults] == late
    for _, fault in faults:
        assert isinstance(fault, BadValue)
        assert "before `match_weight`" in fault.fix


def test_a_name_cannot_lead_out_of_a_folder() -> None:
    """A step's name stands in file names, so slashes and control characters are refused."""
    for name in ("../../x", "a\\b", "a\nb", "", "x" * 61):
        with pytest.raises(ValueError, match="name"):
            SeatMagnets.model_validate(SEAT.model_dump(mode="json") | {"name": name})
    assert (
        SeatMagnets.model_validate(SEAT.model_dump(mode="json") | {"name": "back magnets é"}).title == "back magnets é"
    )
