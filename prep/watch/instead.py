"""`Instead`: why a file that is sound itself is not what should be printed, and what should."""

from __future__ import annotations

from dataclasses import dataclass

from prep.watch.entry import Outcome
from prep.watch.names import one_line
from prep.watch.revisions import older_than


@dataclass(frozen=True)
class Instead:
    """What stands before the reason of a verdict, and the action that takes the place of its own."""

    says: str
    action: str


def of_revision(later: str, verdict: Outcome | None) -> Instead:
    """Of a file of which a later revision is there, with the verdict that this has; None where it has none yet."""
    name = one_line(later)
    if verdict in {"pass", "warn"}:
        return Instead(older_than(later), f"print {name} instead, unless this one is meant")
    wait = "has no verdict yet" if verdict is None else "is not good either"
    return Instead(older_than(later), f"{name} {wait}: see to that first, unless this one is meant")


def of_recipe(recipe: str) -> Instead:
    """Of a mesh that a recipe in the folder makes finished parts of."""
    name = one_line(recipe)
    return Instead(f"{name} is built from it", f"print the finished parts of {name}, unless the bare mesh is meant")
