"""`pipe_light` where it does not go: what it says, and the other way it finds."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic import ValidationError

from fixtures.benches import shipped_tables
from prep.build.verify import hold_to
from prep.contract import Item, Ledger
from prep.errors import CannotInsert, DoesNotFit, MirrorLeaks, NotClear
from prep.steps.pipe_light import PipeLight
from tests.steps.piped_box import CASES, above, apply, block, cube, kernel_of, shell, solid


def test_falls_back_on_mirrors() -> None:
    """Where a post stands in the straight way, two mirrors go round it; asked for straight, it is refused."""
    post = solid(kernel_of(shell()) + cube((3.0, 36.0, 14.0), (-6.0, 0.0, 14.0)))
    words = {"from": {"point": "-12, 0, 6 mm"}, "to": above(0, 0), "section": "2 mm"}
    words["from"] = {"point": "-9, 0, 5 mm"}
    found = apply(post, words).outcome
    assert found.facts["bends"] > 0
    with pytest.raises(CannotInsert, match="no straight way into box"):
        apply(post, words | {"bends": "straight"})


FLAT = CASES["flat"].words
REFUSED = {
    "beside an edge": (shell(), FLAT | {"from": {"point": "22, 0, 5 mm"}, "to": above(22, 0)}, DoesNotFit, "shoulder"),
    "off the edge": (shell(), FLAT | {"from": {"point": "24, 0, 5 mm"}, "to": above(24, 0)}, DoesNotFit, "runs off"),
    "thin side wall": (
        block(),
        FLAT | {"from": {"point": "0, 12.4, 6 mm"}, "to": above(0, 12.4), "open": "-z", "flange": "0.2 mm"},
        DoesNotFit,
        "wall beside",
    ),
    "thin shoulder": (shell(0.7), FLAT, DoesNotFit, "over the shoulder"),
    "closed bore": (shell(), FLAT | {"section": "1.2 mm"}, DoesNotFit, "would close up"),
    "short leg": (shell(), FLAT | {"from": {"point": "0, 0, 20 mm"}}, CannotInsert, "solid behind"),
    "bend too near": (
        shell(),
        FLAT | {"from": {"point": "-12, 0, 19.5 mm"}, "to": above(6, 0), "bends": "prism"},
        DoesNotFit,
        "too short",
    ),
    "inside": (shell(), FLAT | {"to": {"ray": {"from": "0, 0, 9 mm", "toward": "+z"}}}, DoesNotFit, "no light pipe"),
    "solid behind": (block(), FLAT, CannotInsert, "no straight way in: box is solid"),
    "open on the wrong side": (block(), FLAT | {"open": "+x"}, CannotInsert, "side given by `open:`"),
    "not clear": (shell(), FLAT | {"material": "pla"}, NotClear, "not known to be clear"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused(name) -> None:
    """What does not fit, cannot go in, or would not carry light is refused with numbers and a remedy."""
    part, words, fault, says = REFUSED[name]
    with pytest.raises(fault, match=says) as caught:
        apply(part, words)
    assert any(letter.isdigit() for letter in caught.value.found) or name in {"not clear", "open on the wrong side"}
    assert caught.value.fix


def test_pushed_in_against_a_floor() -> None:
    """A floor close behind the wall leaves no room to push the pipe in: refused, and cut through where allowed."""
    floored = solid(kernel_of(shell()) + cube((46.0, 32.0, 2.0), (0.0, 0.0, 14.0)))
    words = FLAT | {"from": {"point": "0, 0, 15.2 mm"}, "section": "2 mm"}
    with pytest.raises(CannotInsert, match="no straight way into box") as caught:
        apply(floored, words)
    assert "mm³ of the part" in caught.value.found
    opened = apply(floored, words | {"open": "-z"})
    hold_to(opened.bench, opened.outcome)
    assert any("stays open behind it" in caution for caution in opened.outcome.cautions)


def test_beside_a_magnet() -> None:
    """A pipe is not led through what the part already holds."""
    magnet = Item(
        id="M1",
        item="disc",
        kind="magnet",
        step="m",
        part="box",
        at_mm=(1.0, 0.0, 20.0),
        axis=(0, 0, 1),
        mass_g=1.0,
        radius_mm=3.0,
        length_mm=2.0,
    )
    with pytest.raises(DoesNotFit, match="would run through M1"):
        apply(shell(), FLAT, ledger=Ledger(items=(magnet,)))


def test_mirrors_need_a_high_index() -> None:
    """A clear stuff of index 1.41 makes a straight pipe and no bent one."""
    tables = shipped_tables()
    soft = replace(tables.materials.get("resin clear"), name="clear silicone", index=1.41)
    tables = replace(tables, materials=replace(tables.materials, rows=(*tables.materials.rows, soft)))
    case = CASES["one mirror"]
    with pytest.raises(MirrorLeaks, match="clear silicone"):
        apply(shell(), case.words | {"material": "clear silicone"}, tables=tables)
    assert apply(shell(), FLAT | {"material": "clear silicone"}, tables=tables).outcome.facts["index"] == 1.41


def test_one_place_each_end() -> None:
    """A pattern or a seam is no end of a pipe."""
    for wrong in ({"point": "0, 0, 1 mm", "ring": {"count": 3, "radius": "2 mm"}}, {"seam": ["a", "b"], "spread": 2}):
        with pytest.raises(ValidationError, match="one end here"):
            PipeLight.model_validate({"step": "pipe_light", "part": "box", **FLAT, "to": wrong})
