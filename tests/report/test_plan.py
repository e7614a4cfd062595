"""Which pictures a report has and what they are called."""

from __future__ import annotations

import re

from hypothesis import given, settings
from hypothesis import strategies as st

from prep.report.plan import Names, items_by_way, plan


@settings(deadline=None)
@given(st.lists(st.text(max_size=90), max_size=12))
def test_names_are_plain_and_no_two_alike(words):
    """Any words give names that are safe on any disk, even where letters differ only in case."""
    names = Names()
    made = [names.of(word) for word in words]
    assert len({name.casefold() for name in made}) == len(made)
    assert all(re.fullmatch(r"[A-Za-z0-9_][A-Za-z0-9._-]*", name) and len(name) < 70 for name in made)


def test_every_part_feature_and_piece_has_its_picture(built, model):
    """The model, two pictures a part with items, a section a view, an extra piece; sections have a drawing."""
    entries = [planned.entry for planned in plan(built)]
    kinds = [entry.kind for entry in entries]
    assert kinds == ["model", "before-after", "map", "before-after", "map", "section", "section", "extra"]
    assert [entry.parts for entry in entries if entry.kind == "map"] == [(model.BODY,), (model.LID,)]
    assert all((entry.drawing is not None) == (entry.kind == "section") for entry in entries)
    assert len({entry.path for entry in entries}) == len(entries)


def test_items_that_face_other_ways_get_a_map_of_their_own(model):
    """Magnets of both parts face one another: two ways, each with its own."""
    groups = items_by_way(model.items()[:4])
    assert [[item.id for item in members] for _, members in groups] == [["M1", "M3"], ["M2", "M4"]]
