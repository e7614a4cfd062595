"""What `report.json` holds, and that its bytes are the same for the same build."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from prep.build.record import (
    AxisTarget,
    InputRecord,
    ModelRecord,
    OutputRecord,
    PartRecord,
    PlaceRecord,
    RecipeRecord,
    Record,
    StepRecord,
    TargetRecord,
    WallRecord,
    plain,
    rounded,
)
from prep.contract import Finding, Item, PlacedIn
from prep.places.place import Place

PLACE = PlacedIn(part="body", feature="magnet seat", place=Place(at_mm=(1, 2, 3), inward=(0, 0, 1), roll=(1, 0, 0)))


def a_record(**changes: object) -> Record:
    """A record with something in every list."""
    part = PartRecord(
        input=InputRecord(
            path="b.stl", sha256="aa", unit="mm", triangles=12, shells=1, extents_mm=(1, 1, 1), volume_mm3=1
        ),
        output=OutputRecord(
            path="parts/b.3mf",
            sha256="bb",
            triangles=12,
            shells=1,
            genus=0,
            extents_mm=(1, 1, 1),
            volume_mm3=1,
            mass_g=0.00124,
            centre_mm=(0.5, 0.5, 1 / 3),
        ),
        wall=WallRecord(thinnest_mm=1.0, at_mm=(0, 0, 0), limit_mm=0.8),
    )
    given_ = {
        "prep": "0.1.0",
        "verdict": "pass",
        "project": "cube",
        "revision": "A",
        "recipe": RecipeRecord(path="cube.yaml", sha256="cc"),
        "process": {"name": "extrusion-0.4", "least_wall_mm": np.float64(0.8)},
        "model": ModelRecord(
            mass_g=1,
            mass_band_g=(0.9, 1.1),
            centre_mm=(0, 0, 0),
            target=TargetRecord(mass_g=1, tolerance_g=0.1, found_g=1),
        ),
        "parts": {"body": part},
        "steps": (
            StepRecord(step="seat_magnets", name="back", parts=("body",), seconds=1.5, places=(PlaceRecord.of(PLACE),)),
        ),
        "items": (
            Item(
                id="M1",
                item="disc",
                kind="magnet",
                step="back",
                part="body",
                at_mm=(0, 0, 0),
                axis=(0, 0, 1),
                mass_g=0.4,
                pole_out="N",
            ),
        ),
        "checks": (Finding(check="solid", part="body", verdict="pass", says="closed"),),
        "timing_s": {"read": 0.25},
    }
    return Record(**(given_ | changes))


def test_the_keys_of_the_contract_are_all_there():
    """Every key the contract of the report lists is in the file, under its name and in its place."""
    data = json.loads(a_record().to_json())
    # the list of keys in the project's contract for report.json
    assert {
        "report",
        "prep",
        "verdict",
        "project",
        "revision",
        "recipe",
        "process",
        "model",
        "parts",
        "steps",
        "items",
        "checks",
        "cautions",
        "accepted",
        "timing_s",
    } <= set(data)
    assert data["report"] == 1
    assert set(data["recipe"]) == {"path", "sha256"}
    assert {"mass_g", "mass_band_g", "centre_mm", "target"} <= set(data["model"])
    part = data["parts"]["body"]
    assert {"path", "sha256", "unit", "triangles", "shells", "extents_mm", "volume_mm3", "repairs"} <= set(
        part["input"]
    )
    assert {"path", "sha256", "triangles", "shells", "genus", "extents_mm", "volume_mm3", "mass_g", "centre_mm"} <= set(
        part["output"]
    )
    assert {"thinnest_mm", "at_mm", "limit_mm"} <= set(part["wall"])
    assert {"step", "name", "parts", "reused", "seconds", "facts", "places"} <= set(data["steps"][0])
    assert {"at_mm", "inward"} <= set(data["steps"][0]["places"][0])
    assert {"id", "item", "step", "part", "at_mm", "axis", "mass_g", "pole_out"} <= set(data["items"][0])
    assert {"check", "part", "verdict", "value", "limit", "unit", "at_mm", "says", "fix"} <= set(data["checks"][0])


def test_a_record_reads_back_as_itself():
    """What is written reads back as the same record, and writes the same bytes again."""
    text = a_record().to_json()
    again = Record.from_json(text)
    assert again.to_json() == text
    assert again.items == a_record().items


def test_without_timing_two_builds_compare_equal():
    """Seconds and what was reused are the only difference between a first and a second build."""
    first = a_record()
    step = first.steps[0].model_copy(update={"seconds": 0.01, "reused": True})
    second = a_record(steps=(step,), timing_s={"read": 9.0})
    assert first.to_json() != second.to_json()
    assert first.to_json(timing=False) == second.to_json(timing=False)
    assert "seconds" not in first.to_json(timing=False)


def test_a_record_cannot_be_changed_and_refuses_unknown_keys():
    """Models of the report are frozen and know their keys."""
    record = a_record()
    with pytest.raises(ValidationError):
        record.verdict = "fail"
    with pytest.raises(ValidationError):
        a_record(mood="good")


def test_target_is_met_only_within_every_tolerance():
    """Mass inside its band and balance outside is not met."""
    inside = TargetRecord(mass_g=10, tolerance_g=0.5, found_g=10.5)
    axis = AxisTarget(wanted_mm=0, tolerance_mm=1, found_mm=-1.25)
    assert inside.met
    assert not TargetRecord(mass_g=10, tolerance_g=0.5, found_g=10.51).met
    assert not inside.model_copy(update={"balance": {"x": axis}}).met


def test_rounding_of_known_numbers():
    """Six digits after the point, six significant ones below 1, dust is nothing, what is not finite is null."""
    assert rounded(41601.123456789) == 41601.123457
    assert rounded(0.00123456789) == 0.00123457
    assert rounded(-3e-17) == 0.0
    assert str(rounded(-0.0)) == "0.0"
    assert rounded(math.nan) is None
    assert rounded(math.inf) is None


@settings(max_examples=200, deadline=None)
@given(st.floats(min_value=1e-3, max_value=1e9), st.sampled_from([1e-3, 1.0, 1e3]), st.sampled_from([-1.0, 1.0]))
def test_rounding_keeps_five_parts_in_a_million_and_is_done_once(value, scale, sign):
    """At any scale rounding moves a number by less than half of its sixth digit, and a second rounding not at all."""
    number = sign * value * scale
    kept = rounded(number)
    assert kept is not None
    assert abs(kept - number) <= max(5e-6 * abs(number), 0.0)
    assert rounded(kept) == kept


def test_plain_takes_what_steps_put_into_facts():
    """Arrays, numbers of numpy, tuples, models and nesting become what JSON holds."""
    facts = {
        "a": np.arange(3),
        "b": (np.float32(0.5), True),
        "c": {"d": np.int64(4), 5: None},
        "e": PLACE,
        "f": math.nan,
    }
    assert json.loads(json.dumps(plain(facts), allow_nan=False)) == {
        "a": [0, 1, 2],
        "b": [0.5, True],
        "c": {"d": 4, "5": None},
        "e": {
            "part": "body",
            "feature": "magnet seat",
            "place": {"at_mm": [1.0, 2.0, 3.0], "inward": [0.0, 0.0, 1.0], "roll": [1.0, 0.0, 0.0]},
        },
        "f": None,
    }
