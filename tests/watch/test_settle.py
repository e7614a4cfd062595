"""Settling: whose turn it is, and who waits for whom."""

from __future__ import annotations

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
