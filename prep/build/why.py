"""`why`: what the next build would do again, and for which reasons, as data."""

from __future__ import annotations

from dataclasses import dataclass

from prep.build.graph import running_order, step_graph
from prep.build.keys import step_key
from prep.build.parts import read_bench
from prep.build.store import Store
from prep.contract import Bench
from prep.recipe import Recipe


@dataclass(frozen=True)
class Reason:
    """What becomes of one step in the next build.

    Attributes
    ----------
    step : its title
    again : whether it is run again
    because : what changed since the last build: "settings", "part body", "ledger", …; "never built", "not kept",
        or "an earlier step is run again"
    """

    step: str
    again: bool
    because: tuple[str, ...] = ()


def why(recipe: Recipe, store: Store) -> tuple[Reason, ...]:
    """Reasons for every step in running order; reads the meshes, runs nothing."""
    bench: Bench | None = read_bench(recipe).bench
    last = store.last_keys(recipe.path)
    reasons = []
    for number in running_order(step_graph(recipe.steps)):
        step = recipe.steps[number]
        if bench is None:
            reasons.append(Reason(step.title, True, ("an earlier step is run again",)))
            continue
        key = step_key(step, bench)
        outcome = store.get(key)
        if outcome is None:
            known = last.get(step.title)
            because = ("never built",) if known is None else key.changed_since(known) or ("not kept",)
            reasons.append(Reason(step.title, True, because))
            bench = None
        else:
            reasons.append(Reason(step.title, False))
            bench = bench.after(outcome)
    return tuple(reasons)
