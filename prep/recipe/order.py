"""`out_of_order`: steps written where their result would not last."""

from __future__ import annotations

from collections.abc import Sequence

from prep.contract import Step
from prep.errors import BadValue


def out_of_order(steps: Sequence[tuple[int, Step]]) -> list[tuple[int, BadValue]]:
    """A fault for every step that cuts after the model was weighed or the part was painted, with its number.

    Masks, caps and plugs are made for the part as it stands: what is cut later has none, so paint would spoil its fit.
    The weighing itself may cut, on hidden faces, and comes last.
    """
    faults = []
    weighed: Step | None = None
    painted: dict[str, Step] = {}
    for index, step in steps:
        late = [name for name in step.changes() if name in painted and not step.whole_model]
        if late:
            paint = painted[late[0]]
            fault = BadValue(
                f"`{step.title}` cuts {late[0]} after its masks and plugs are made, so paint would spoil the fit",
                found=f"after `{paint.title}`",
                fix=f"write `{step.word()}` before `{paint.word()}`",
            )
            faults.append((index, fault))
        painted |= {coat.part: step for coat in step.coats()}
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
