"""How numbers and facts are said."""

from __future__ import annotations

import pytest

from prep.contract import Finding
from prep.report.wording import by_weight, facts_in_tables, facts_in_words, figure, measured, place


@pytest.mark.parametrize(
    ("value", "says"),
    [(0.0, "0"), (0.42, "0.42"), (9.61234, "9.612"), (148.0, "148"), (41601.4, "41601"), (-2.5, "-2.5")],
)
def test_numbers_have_four_digits(value, says):
    """Four significant digits, whole above a thousand."""
    assert figure(value) == says


def test_facts_are_said_with_their_unit():
    """The unit at the end of a key goes behind the number; nothing and empty lists are left out; long lists are cut."""
    facts = {
        "seat_depth_mm": 2.4,
        "pull_n": 9.61,
        "seats": 4,
        "vented": [True, False],
        "note": None,
        "turns_deg": [],
        "flux_index_kg2mm2": 40.7,
        "gaps_mm": [0.1] * 14,
        "density_g_cm3": 1.18,
        "centre_mm": [1.1e-5, -28.4],
        "target": {"mass_g": 10.0},
    }
    words = dict(facts_in_words(facts))
    assert words["seat depth"] == "2.4 mm"
    assert words["pull"] == "9.61 N"
    assert words["seats"] == "4"
    assert words["vented"] == "yes, no"
    assert words["flux index"] == "40.7 kG²mm²"
    assert words["gaps"].endswith("14 in all mm")
    assert words["density"] == "1.18 g/cm³"
    assert words["centre"] == "0, -28.4 mm"
    assert "note" not in words
    assert "turns" not in words


def test_findings_say_number_and_limit_and_the_worst_comes_first():
    """What was found, the limit and the place; failures before warnings before passes."""
    found = [Finding(check=v, part=None, verdict=v, says="", value=0.42, limit=0.8, unit="mm", at_mm=(12, -0.04, 6.06))
             for v in ("pass", "warn", "fail")]  # fmt: skip
    assert measured(found[0]) == "0.42 mm, limit 0.8 mm"
    assert place(found[0].at_mm) == "(12.0, 0.0, 6.1) mm"
    assert place(None) == ""
    assert [finding.verdict for finding in by_weight(tuple(found))] == ["fail", "warn", "pass"]
    assert measured(Finding(check="solid", part=None, verdict="pass", says="")) == ""


def test_a_list_of_like_things_is_a_table():
    """Pockets, each with the same keys, become rows under heads with their unit, and are not said in a line."""
    facts = {"pockets": [{"id": "P1", "depth_mm": 8.0, "at_mm": [1.0, 2.0]}, {"id": "P2", "depth_mm": 9.25}], "n": 2}
    (table,) = facts_in_tables(facts)
    assert table.name == "pockets"
    assert table.heads == ("id", "depth, mm", "at, mm")
    assert table.rows == (("P1", "8", "1, 2"), ("P2", "9.25", ""))
    assert facts_in_words(facts) == (("n", "2"),)
    assert facts_in_tables({"a": [1, 2], "b": [], "c": "x"}) == ()
