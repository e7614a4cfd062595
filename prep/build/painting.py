"""`paint_turns`, `in_order`: the plan of coats of a finished model, and its tasks put in that order."""

from __future__ import annotations

from prep.build.record import PaintRecord
from prep.contract import Ledger, Work
from prep.places.paint_plan import Coating, chained, paint_plan
from prep.tables import Tables

COATING = {"cap", "prime", "mask", "spray", "unmask", "clear", "uncap"}
FITTING = {"seat", "fill", "close"}


def paint_turns(ledger: Ledger, tables: Tables) -> tuple[PaintRecord, ...]:
    """Every coat of the model in its turn; empty where nothing is painted."""
    coatings = [
        Coating(
            step=film.step,
            part=film.part,
            region=film.region,
            paint=tables.paints.get(film.coat),
            area_mm2=film.area_mm2,
            film_mm=film.thickness_mm,
            touches=film.touches,
            inside=film.inside,
        )
        for film in ledger.films
    ]
    return tuple(
        PaintRecord(
            turn=one.turn,
            step=one.coating.step,
            part=one.coating.part,
            region=one.coating.region,
            paint=one.coating.paint.name,
            kind=one.coating.paint.kind,
            colour=one.coating.paint.colour,
            why_here=one.why_here,
            why_sprayed=one.coating.paint.special,
            area_cm2=one.coating.area_mm2 / 100.0,
            film_mm=one.coating.film_mm,
            coats=one.coating.paint.coats,
            flash_min=one.coating.paint.flash_min,
            unmask_min=one.coating.paint.unmask_min,
            recoat_min=one.coating.paint.recoat_min,
            wait_min=one.wait_min,
            why_wait=one.why_wait,
            wet_ml=one.wet_ml,
            overspray=one.coating.paint.overspray,
        )
        for one in paint_plan(coatings)
    )


def in_order(ledger: Ledger, turns: tuple[PaintRecord, ...]) -> Ledger:
    """The ledger with the coats' tasks in the order of the plan, part by part, and everything fitted after paint.

    Magnets, lamps, cells and ballast go in when the last coat is on and the plugs are out: solvent and heat are over,
    and no fit has paint in it. What is dropped in while printing keeps its turn.
    """
    if not turns:
        return ledger
    after = {task.id: task.after for task in ledger.work}
    coating = {task.id: task.step for task in ledger.work if task.verb in COATING}
    waits: dict[str, set[str]] = {}
    lasts: list[str] = []
    for part in dict.fromkeys(turn.part for turn in turns):
        steps = list(dict.fromkeys(turn.step for turn in turns if turn.part == part))
        for task, more in chained({task: after[task] for task in coating}, steps, coating).items():
            waits.setdefault(task, set()).update(more)
        own = [task for task, step in coating.items() if step == steps[-1]]
        lasts += [task for task in own if not any(task in after[other] for other in own)]
    for work in ledger.work:
        if work.verb in FITTING and any(before.startswith("print ") for before in work.after):
            waits.setdefault(work.id, set()).update(lasts)
    return ledger.model_copy(update={"work": tuple(_waiting(work, waits.get(work.id, set())) for work in ledger.work)})


def _waiting(work: Work, more: set[str]) -> Work:
    new = tuple(sorted(more - set(work.after) - {work.id}))
    return work.model_copy(update={"after": (*work.after, *new)}) if new else work
