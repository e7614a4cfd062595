"""The shop sheet: one line an item, and work in an order that can be done."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from prep.contract import Work
from prep.report.shop_sheet import order_of_work, sheet_lines


def a_task(name, after=(), verb="seat", **more) -> Work:
    """A task by its name."""
    return Work(id=name, step="", verb=verb, says=name, after=tuple(after), **more)


def test_each_item_has_its_line_with_pole_seat_and_task(record, model):
    """Magnets carry pole, seat and fixing; ballast its band; both the number of their task."""
    lines = {line.id: line for line in sheet_lines(record)}
    assert list(lines) == ["M1", "M2", "M3", "M4", "B1"]
    assert (lines["M1"].pole, lines["M2"].pole) == ("N", "S")
    assert lines["M1"].seat == "Ø 6.20 × 2.40"
    assert lines["M1"].fixing == "glue"
    assert lines["M2"].part == model.LID
    assert lines["B1"].mass == "0.62 g (0.58 to 0.66)"
    turns = {task.id: task.turn for task in order_of_work(record.work)}
    assert lines["M1"].after == str(turns["seat"])
    assert lines["B1"].after == str(turns["fill"])


@settings(deadline=None)
@given(st.permutations(range(8)), st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), max_size=14))
def test_nothing_comes_before_what_it_waits_for(shuffled, pairs):
    """Whatever the order of the ledger, every task stands after all it waits for, and none is lost."""
    waits = {k: {str(low) for low, high in pairs if high == k and low < high} for k in range(8)}
    work = tuple(a_task(str(k), sorted(waits[k])) for k in shuffled)
    tasks = order_of_work(work)
    turn = {task.id: task.turn for task in tasks}
    assert sorted(turn.values()) == list(range(1, 9))
    for task in tasks:
        assert all(other < task.turn for other in task.after)
        assert {turn[other] for other in waits[int(task.id)]} == set(task.after)


def test_free_tasks_keep_the_order_of_the_ledger():
    """With nothing to wait for the order is as recorded; what nobody recorded is not waited for."""
    tasks = order_of_work((a_task("c", ["print c"]), a_task("a"), a_task("b")))
    assert [task.id for task in tasks] == ["c", "a", "b"]
    assert tasks[0].after == ()


def test_a_ring_of_tasks_is_still_listed():
    """Tasks that wait for one another come in the order of the ledger rather than not at all."""
    tasks = order_of_work((a_task("a", ["b"]), a_task("b", ["a"])))
    assert [task.id for task in tasks] == ["a", "b"]


def test_time_and_heat_are_said():
    """Minutes, hours and the temperature stand beside the task."""
    tasks = order_of_work((a_task("dry", minutes=240, highest_c=60.0), a_task("glue", minutes=30)))
    assert [task.note for task in tasks] == ["4 h, 60 °C at most", "30 min"]


def test_an_item_is_given_the_task_that_names_it(record):
    """Of several tasks of a step the one that names the pocket, or the part, is the item's; a cap goes with closing."""
    shot = record.items[4]
    magnet = record.items[1].model_copy(update={"part": "lid"})
    work = (
        Work(id="seat body: back magnets", step="back magnets", verb="seat", says="into body"),
        Work(id="seat lid: back magnets", step="back magnets", verb="seat", says="into lid"),
        Work(id="fill B1", step="weight", verb="fill", says="fill B1 with shot"),
        Work(id="fill B10", step="weight", verb="fill", says="fill B10 with shot"),
        Work(id="close", step="weight", verb="close", says="Close B1, B10"),
    )
    cap = shot.model_copy(update={"id": "B1 cap", "kind": "other"})
    changed = record.model_copy(update={"items": (magnet, shot, cap), "work": work})
    assert [line.after for line in sheet_lines(changed)] == ["2", "3", "5"]
    assert [task.says for task in order_of_work(work)][2:] == ["B1 with shot", "B10 with shot", "B1, B10"]
