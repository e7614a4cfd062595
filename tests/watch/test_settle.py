"""Settling: whose turn it is, and who waits for whom."""

from __future__ import annotations

from itertools import pairwise

from prep.build.checked import FaultRecord
from prep.watch.listing import Seen
from prep.watch.settle import Settling
from tests.watch.entries import entry


def files(*names: str) -> Settling:
    """Files that came together, and have settled by the time 10."""
    settling = Settling(quiet_s=2.0)
    settling.take({name: Seen(name, "file", "1") for name in names}, 1.0, {})
    return settling


def due(settling: Settling) -> list[str]:
    """Names in their turn."""
    return [one.file for one in settling.due(10.0)]


def test_earlier_revisions_come_first() -> None:
    """Of files that came together version 9 comes before version 10, whatever the alphabet says."""
    assert due(files("lid v10.stl", "lid v9.stl", "arm.stl")) == ["arm.stl", "lid v9.stl", "lid v10.stl"]


def test_longest_waiting_comes_first() -> None:
    """A file that came earlier is looked at earlier, whatever its name."""
    settling = files("b.stl")
    settling.take({name: Seen(name, "file", "1") for name in ("a.stl", "b.stl")}, 2.0, {})
    assert due(settling) == ["b.stl", "a.stl"]


def test_families_in_hand() -> None:
    """What a worker or another gate has stands for its family, whatever its mark of revision; a recipe has none."""
    settling = files("lid v9.stl", "lid v10.stl", "arm.stl", "lid.yaml")
    first, recipe = settling.files["lid v9.stl"], settling.files["lid.yaml"]
    assert settling.in_hand() == {}
    first.phase = recipe.phase = "working"
    assert settling.in_hand() == {settling.files["lid v10.stl"].family: first}
    first.leave("f" * 64, 11.0)
    assert list(settling.in_hand().values()) == [first]
    first.know(entry(0, file="lid v9.stl"))
    assert settling.in_hand() == {}


def test_waiting_is_no_hold_on_others() -> None:
    """A file that waits for one of its family is not in hand itself, and a change of the file ends the wait."""
    settling = files("lid v1.stl", "lid v2.stl", "lid v3.stl")
    first, second = (settling.files[f"lid v{number}.stl"] for number in (1, 2))
    first.phase = "working"
    second.wait_for(first, 12.0)
    first.know(entry(0, file="lid v1.stl"))
    assert settling.in_hand() == {}
    assert (second.phase, second.wants) == ("settling", first.turn)
    settling.take({name: Seen(name, "file", "2" if "v2" in name else "1") for name in settling.files}, 11.0, {})
    assert (second.wants, second.due) == ("", 13.0)


def test_changed_file_is_new_again() -> None:
    """What is judged again by other rules comes last; once its content changes it takes its turn as what is new."""
    settling = files("arm.stl", "lid.stl")
    settling.files["arm.stl"].judge_again(1.0)
    assert due(settling) == ["lid.stl", "arm.stl"]
    settling.take({"arm.stl": Seen("arm.stl", "file", "2"), "lid.stl": Seen("lid.stl", "file", "1")}, 2.0, {})
    settling.take({"arm.stl": Seen("arm.stl", "file", "2"), "lid.stl": Seen("lid.stl", "file", "2")}, 3.0, {})
    assert due(settling) == ["arm.stl", "lid.stl"]


def looks(settling: Settling, count: int, stuck: float) -> list[float]:
    """When an unfinished file is looked at, time after time, from the time 3 on."""
    (one,) = settling.files.values()
    found = [3.0]
    for _ in range(count):
        one.unfinish(FaultRecord(code="file-cut-short", what="ends early", found=""), found[-1], 2.0, stuck)
        found.append(one.due)
    return found


def test_unfinished_file_is_looked_at_ever_more_seldom() -> None:
    """Each wait is twice the one before, up to 64 times the first; a change of the file begins anew."""
    settling = files("arm.stl")
    found = looks(settling, 9, 1e6)
    waits = [then - before for before, then in pairwise(found)]
    assert waits == [2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 128.0, 128.0]
    settling.take({"arm.stl": Seen("arm.stl", "file", "2")}, 1.0, {})
    assert looks(settling, 2, 1e6) == [3.0, 5.0, 9.0]


def test_unfinished_file_is_looked_at_when_it_is_stuck() -> None:
    """No wait leads past the moment at which the file has stood still for `stuck`, and after it each is short."""
    assert looks(files("arm.stl"), 6, 20.0) == [3.0, 5.0, 9.0, 17.0, 21.0, 23.0, 25.0]
