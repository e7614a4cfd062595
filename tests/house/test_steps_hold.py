"""Every step, on the sample of `prep new`: input unchanged, output solid, predictions true, same bytes twice."""

from __future__ import annotations

from functools import cache

import pytest
import trimesh

from prep.cli._round_box import round_box
from prep.contract import Bench, Ledger, Outcome, Part
from prep.geometry.solid import Solid
from prep.steps import all_steps
from prep.tables import Tables
from tests.house.examples import sample_examples

EXAMPLES = list(enumerate(sample_examples()))
PARTS = {"box", "cover"}


@cache
def bench() -> Bench:
    """The round box and its cover, printed in pla."""
    tables = Tables.load()
    process, material = tables.processes.get("extrusion-0.4"), tables.materials.get("pla")
    parts = {name: Part(name, solid, solid, material) for name, solid in round_box().items()}
    return Bench(parts, Ledger(), process, tables, process.wall_limit_mm)


@cache
def outcome(number: int) -> Outcome:
    """What an example does to the sample."""
    settings = EXAMPLES[number][1]
    return all_steps()[str(settings["step"])].model_validate(settings).apply(bench())


def as_mesh(solid: Solid) -> trimesh.Trimesh:
    """The same triangles in trimesh, an independent route to volume and topology."""
    return trimesh.Trimesh(solid.vertices, solid.triangles, process=False)


def test_every_step_has_an_example_here() -> None:
    """Every step found is tried."""
    assert {str(settings["step"]) for _, settings in EXAMPLES} == set(all_steps())


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_input_unchanged(number: int) -> None:
    """The bench is left as it was."""
    outcome(number)
    for name, solid in round_box().items():
        assert bench().parts[name].solid.sha256 == solid.sha256
    assert bench().ledger == Ledger()


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_output_is_solid(number: int) -> None:
    """Every solid handed back is closed and changed, and belongs to a part the step said it may change."""
    settings = EXAMPLES[number][1]
    step = all_steps()[str(settings["step"])].model_validate(settings)
    assert set(outcome(number).solids) <= set(step.changes()) <= PARTS
    for name, solid in outcome(number).solids.items():
        assert as_mesh(solid).is_watertight
        assert solid.sha256 != bench().parts[name].solid.sha256
    assert all(as_mesh(solid).is_watertight for solid in outcome(number).extra.values())


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_predictions_hold(number: int) -> None:
    """Volume, shells and handles change as predicted, counted by another library."""
    done = outcome(number)
    assert {each.part for each in done.predictions} == set(done.solids)
    for predicted in done.predictions:
        before, after = as_mesh(bench().parts[predicted.part].solid), as_mesh(done.solids[predicted.part])
        change = after.volume - before.volume
        assert abs(change - predicted.volume_mm3) <= predicted.volume_tolerance_mm3
        assert after.body_count - before.body_count == predicted.shells
        euler = after.euler_number - before.euler_number
        assert euler == 2 * predicted.shells - 2 * predicted.genus


@pytest.mark.parametrize("number", range(len(EXAMPLES)))
def test_same_bytes_twice(number: int) -> None:
    """The same step on the same bench gives the same triangles and the same words."""
    settings = EXAMPLES[number][1]
    again = all_steps()[str(settings["step"])].model_validate(settings).apply(bench())
    first = outcome(number)
    assert {name: solid.sha256 for name, solid in again.solids.items()} == {
        name: solid.sha256 for name, solid in first.solids.items()
    }
    assert again.ledger == first.ledger
    assert again.facts == first.facts
    assert again.findings == first.findings
