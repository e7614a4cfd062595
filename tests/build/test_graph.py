"""Which step waits for which."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from prep.build.graph import running_order, step_graph
from prep.contract import Bench, Outcome, Step


class Cuts(Step):
    """A step that changes some parts."""

    step: Literal["cuts"] = "cuts"
    on: tuple[str, ...]

    def changes(self) -> tuple[str, ...]:
        """The parts named."""
        return self.on

    def apply(self, bench: Bench) -> Outcome:
        """Nothing."""
        raise NotImplementedError


class Reads(Cuts):
    """A step that reads the whole model."""

    whole_model: ClassVar[bool] = True


def waits(*steps: Step) -> Mapping[int, set[int]]:
    """For each step, those it waits for."""
    graph = step_graph(steps)
    return {number: set(graph.predecessors(number)) for number in graph}


def test_steps_on_the_same_part_wait_for_one_another() -> None:
    """A step waits for the step before it on each of its parts, and for no other."""
    assert waits(Cuts(on=("a",)), Cuts(on=("b",)), Cuts(on=("a", "b"))) == {0: set(), 1: set(), 2: {0, 1}}


def test_a_step_that_reads_the_model_waits_for_all_and_later_ones_for_it() -> None:
    """Weighing comes after everything written before it and before everything written after it."""
    assert waits(Cuts(on=("a",)), Reads(on=("b",)), Cuts(on=("c",))) == {0: set(), 1: {0}, 2: {1}}


def test_the_order_is_the_written_one() -> None:
    """Where the graph leaves a choice, steps run as written."""
    steps = [Cuts(on=(name,)) for name in "cabca"]
    assert running_order(step_graph(steps)) == [0, 1, 2, 3, 4]
