"""`out_of_order`: steps written where their result would not last."""

from __future__ import annotations

from collections.abc import Sequence

from prep.contract import Step
from prep.errors import BadValue


def out_of_order(steps: Sequence[tuple[int, Step]]) -> list[tuple[int, BadValue]]:
    """A fault for every step that cuts after the model was weighed, with its number in the recipe."""
    faults = []
    weighed: Step | None = None
    for index, step in steps:
        if step.whole_model:
            weighed = step
        elif weighed is not None:
            fault = BadValue(
                f"`{step.title}` comes after the model is weighed, so the weight would no longer be right",
                found=f"after `{weighed.title}`",
                fix=f"write `{step.word()}` before `{weighed.word()}`",
            )
            faults.append((index, fault))
    return faults
