"""`paint_plan`: in which order the coats of the whole model go on, how long each waits, and what it takes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import networkx as nx

from prep.physics.lightness import lightness
from prep.physics.wet_paint import wet_paint_ml
from prep.tables import PaintRow

LIGHT_BAND = 10.0
"""Two colours whose L* differs by less are as light as one another: then the smaller goes first."""


@dataclass(frozen=True)
class Coating:
    """One coat on one region, as a step enters it.

    Attributes
    ----------
    step : title of the step
    paint : row of the `paints` table
    area_mm2, film_mm : of the region, and the dry film on it
    touches : titles of the steps whose regions lie on or beside this one
    inside : lies on inner faces, as black in a light's chamber does; it goes on before everything else
    """

    step: str
    part: str
    region: str
    paint: PaintRow
    area_mm2: float
    film_mm: float
    touches: tuple[str, ...] = ()
    inside: bool = False


@dataclass(frozen=True)
class Turn:
    """One coat in its turn.

    Attributes
    ----------
    wait_min : from the end of the coat before it; 0 for the first
    why_here : what put it in this turn
    wet_ml : paint from the can, overspray included
    """

    coating: Coating
    turn: int
    wait_min: float
    why_wait: str
    why_here: str
    wet_ml: float


def paint_plan(coatings: Sequence[Coating]) -> tuple[Turn, ...]:
    """The coats in the order in which they go on.

    Notes
    -----
    Inner faces first, then primer, colours, clear. Among colours the light go before the dark (CIE L* in bands of
    ten), and of those as light as one another the small before the large; where two of a band touch, one that does not
    touch the coat before it goes between them if there is one. A coat that lies on or beside the one before it waits
    until that is dry to recoat, another until its mask may come off. Common practice, no source.
    """
    left = sorted(coatings, key=_rank)
    turns: list[Turn] = []
    while left:
        rank = _rank(left[0])[:3]
        alike = [coating for coating in left if _rank(coating)[:3] == rank]
        before = turns[-1].coating if turns else None
        chosen = next((one for one in alike if before is None or not _beside(before, one)), alike[0])
        left.remove(chosen)
        wait, why = _wait(before, chosen)
        paint = chosen.paint
        turns.append(
            Turn(
                coating=chosen,
                turn=len(turns) + 1,
                wait_min=wait,
                why_wait=why,
                why_here=_why_here(chosen),
                wet_ml=wet_paint_ml(chosen.area_mm2, chosen.film_mm, paint.solids, paint.overspray),
            )
        )
    return tuple(turns)


def chained(
    after: Mapping[str, Sequence[str]], steps: Sequence[str], step_of: Mapping[str, str]
) -> dict[str, set[str]]:
    """What more each task waits for, so that the tasks of steps come in the order of the steps.

    Parameters
    ----------
    after : by task, the tasks it waits for already
    steps : titles in their order
    step_of : by task, the title of its step

    Returns
    -------
    by task, the tasks it waits for besides
        The first tasks of a step wait for the last ones of the step before it.
    """
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(after)
    graph.add_edges_from((before, task) for task, waits in after.items() for before in waits if before in after)
    more: dict[str, set[str]] = {}
    last: list[str] = []
    for step in steps:
        own = [task for task in after if step_of.get(task) == step]
        if not own:
            continue
        inner = graph.subgraph(own)
        for task in own:
            if inner.in_degree(task) == 0 and last:
                more.setdefault(task, set()).update(last)
        last = [task for task in own if inner.out_degree(task) == 0]
    return more


def _rank(coating: Coating) -> tuple[int, int, int, float, str]:
    kind = ("primer", "colour", "clear").index(coating.paint.kind)
    band = 0 if kind != 1 else -int(lightness(coating.paint.colour) // LIGHT_BAND)
    return (int(not coating.inside), kind, band, coating.area_mm2, coating.step)


def _beside(before: Coating, after: Coating) -> bool:
    return after.step in before.touches or before.step in after.touches


def _wait(before: Coating | None, after: Coating) -> tuple[float, str]:
    if before is None:
        return 0.0, ""
    if _beside(before, after) or (before.part == after.part and before.paint.kind == "primer"):
        return before.paint.recoat_min, f"{before.paint.name} must be dry enough to lie under a mask or another coat"
    if before.part == after.part:
        return before.paint.unmask_min, f"{before.paint.name} must let its mask off"
    return 0.0, "another part"


def _why_here(coating: Coating) -> str:
    if coating.inside:
        return "inner faces before the outside"
    if coating.paint.kind != "colour":
        return {"primer": "primer under all colours", "clear": "clear over all colours"}[coating.paint.kind]
    return f"L* {lightness(coating.paint.colour):.0f}, {coating.area_mm2 / 100.0:.1f} cm2"
