"""The plan of coats of a model, and its tasks in that order."""

from __future__ import annotations

import graphlib

from prep.build.painting import in_order, paint_turns
from prep.contract import Film, Ledger, Work
from prep.tables import Tables

TABLES = Tables.load()


def film(step, coat, part="body", area=1000.0, region="all over", touches=()):
    """The film of one step."""
    return Film(step=step, part=part, region=region, coat=coat, thickness_mm=0.04, area_mm2=area, touches=touches)


def task(verb, step, after=()):
    """One task of a step."""
    return Work(id=f"{verb} {step}", step=step, verb=verb, says=verb, after=tuple(after))


PRINT = Work(id="print body", step="print", verb="print", says="print")
LEDGER = Ledger(
    films=(film("dark", "black enamel"), film("base", "grey primer", touches=("dark",))),
    work=(
        PRINT,
        Work(id="seat body: m", step="m", verb="seat", says="glue", after=("print body",)),
        Work(id="seat body: buried", step="n", verb="seat", says="at a pause"),
        task("mask", "dark", ["print body"]),
        task("spray", "dark", ["mask dark"]),
        task("unmask", "dark", ["spray dark"]),
        task("prime", "base", ["print body"]),
    ),
)


def order(ledger):
    """Tasks in an order that keeps every wait."""
    return list(graphlib.TopologicalSorter({work.id: work.after for work in ledger.work}).static_order())


def test_turns_by_kind() -> None:
    """Primer comes before colour though it is written after it, and colour waits until primer is dry."""
    turns = paint_turns(LEDGER, TABLES)
    assert [(turn.turn, turn.step) for turn in turns] == [(1, "base"), (2, "dark")]
    assert turns[1].wait_min == TABLES.paints.get("grey primer").recoat_min


def test_tasks_follow_the_plan() -> None:
    """The mask of the colour waits for the primer, magnets for the last mask off; a buried one keeps its turn."""
    ledger = in_order(LEDGER, paint_turns(LEDGER, TABLES))
    turns = order(ledger)
    assert turns.index("prime base") < turns.index("mask dark")
    assert turns.index("unmask dark") < turns.index("seat body: m")
    buried = next(work for work in ledger.work if work.id == "seat body: buried")
    assert buried.after == ()


def test_nothing_painted_nothing_changed() -> None:
    """A model without films keeps its ledger as it is."""
    bare = Ledger(work=LEDGER.work)
    assert in_order(bare, paint_turns(bare, TABLES)) is bare


def test_inner_coat_first() -> None:
    """Black inside a light's chamber comes before the primer."""
    inner = film("lamp", "black acrylic").model_copy(update={"inside": True})
    turns = paint_turns(Ledger(films=(*LEDGER.films, inner)), TABLES)
    assert turns[0].step == "lamp"


def test_words_do_not_make_a_coat_an_inner_one() -> None:
    """A mask's region named by a body says "inside band.stl" and is an outer coat in its own turn all the same."""
    outer = film("band", "black acrylic", region="inside band.stl")
    turns = paint_turns(Ledger(films=(*LEDGER.films, outer)), TABLES)
    assert turns[0].step == "base"
