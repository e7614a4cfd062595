"""The shop sheet as data: one line for every item a person puts in, and the order of work."""

from __future__ import annotations

import graphlib
import re
from dataclasses import dataclass

from prep.build.record import Record, StepRecord
from prep.contract import Item, Work
from prep.report.wording import figure, minutes


@dataclass(frozen=True)
class SheetLine:
    """One item as the person at the bench reads it.

    Attributes
    ----------
    pole : which pole faces out, empty where there is none
    seat : size of the hole it goes into, empty where no step says
    after : what must be done before
    """

    id: str
    item: str
    part: str
    at: str
    pole: str
    seat: str
    fixing: str
    mass: str
    after: str


@dataclass(frozen=True)
class Task:
    """One task in its turn, counted from 1."""

    turn: int
    id: str
    verb: str
    says: str
    after: tuple[int, ...]
    note: str


def sheet_lines(record: Record) -> tuple[SheetLine, ...]:
    """One line for every item, in the order of the ledger."""
    steps = {step.name: step for step in record.steps}
    turns = {task.id: task.turn for task in order_of_work(record.work)}
    return tuple(_line(item, steps.get(item.step), record.work, turns) for item in record.items)


def order_of_work(work: tuple[Work, ...]) -> tuple[Task, ...]:
    """The tasks, each after all it waits for; tasks that may change places keep the order of the ledger.

    A task it waits for that nobody recorded is left out; tasks that wait for one another in a ring, which a ledger
    should not hold, come in the order of the ledger.
    """
    known = {task.id: place for place, task in enumerate(work)}
    waits = {task.id: [other for other in task.after if other in known] for task in work}
    turn_of: dict[str, int] = {}
    try:
        sorter = graphlib.TopologicalSorter(waits)
        sorter.prepare()
        ready: list[str] = []
        while sorter.is_active():
            ready = sorted([*ready, *sorter.get_ready()], key=known.__getitem__)
            task = ready.pop(0)
            turn_of[task] = len(turn_of) + 1
            sorter.done(task)
    except graphlib.CycleError:
        turn_of = {name: place + 1 for name, place in known.items()}
    by_id = {task.id: task for task in work}
    return tuple(
        Task(
            turn=turn,
            id=name,
            verb=by_id[name].verb,
            says=_without_verb(by_id[name]),
            after=tuple(sorted(turn_of[other] for other in waits[name])),
            note=_note(by_id[name]),
        )
        for name, turn in turn_of.items()
    )


def _line(item: Item, step: StepRecord | None, work: tuple[Work, ...], turns: dict[str, int]) -> SheetLine:
    facts = step.facts if step else {}
    own = _tasks_of(item, work)
    low, high = item.mass_band_g or (item.mass_g, item.mass_g)
    band = f" ({figure(low)} to {figure(high)})" if high > low else ""
    return SheetLine(
        id=item.id,
        item=item.item,
        part=item.part,
        at=", ".join(f"{value + 0.0:.1f}" for value in (round(v, 1) for v in item.at_mm)),
        pole=item.pole_out or "",
        seat=_seat(facts) if item.kind in {"magnet", "other"} else "",
        fixing=str(facts.get("fixing", "")) if item.kind in {"magnet", "other"} else "",
        mass=f"{figure(item.mass_g)} g{band}",
        after=", ".join(str(turn) for turn in sorted({turns[task.id] for task in own})),
    )


def _tasks_of(item: Item, work: tuple[Work, ...]) -> list[Work]:
    """The tasks that put an item in: those of its step that name it, else those that name its part, else all."""
    pocket, _, closes = item.id.partition(" ")
    verbs = {"close"} if closes else {"seat", "fill"}
    tasks = [task for task in work if task.step == item.step and task.verb in verbs]
    named = [task for task in tasks if re.search(rf"\b{re.escape(pocket)}\b", f"{task.id} {task.says}")]
    begun = [task for task in tasks if task.id.startswith(f"{task.verb} {item.part}:")]
    return named or begun or tasks


def _without_verb(task: Work) -> str:
    """What a task says, without its verb where it begins with it."""
    first, _, rest = task.says.partition(" ")
    return rest if rest and first.casefold() == task.verb else task.says


def _seat(facts: dict[str, object]) -> str:
    diameter, depth = facts.get("seat_diameter_mm"), facts.get("seat_depth_mm")
    if not isinstance(diameter, int | float) or not isinstance(depth, int | float):
        return ""
    return f"Ø {diameter:.2f} × {depth:.2f}"


def _note(task: Work) -> str:
    notes = []
    if task.minutes is not None:
        notes.append(minutes(task.minutes))
    if task.highest_c is not None:
        notes.append(f"{task.highest_c:g} °C at most")
    return ", ".join(notes)
