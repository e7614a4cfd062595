"""Settling: whose turn it is, and who waits for whom."""

from __future__ import annotations

from prep.watch.listing import Seen
from prep.watch.settle import Settling, Tracked
from tests.watch.entries import entry


def files(*names: str) -> Settling:
    """Files that came together, and have settled by the time 10."""
    settling = Settling(quiet_s=2.0)
    settling.take({name: Seen(name, "file", "1") for name in names}, 1.0, {})
    return settling


def due(settling: Settling) -> list[str]:
    """Names in their turn."""
    return [one.file for one in settling.due(10.0)]


def held(settling: Settling, name: str) -> Tracked | None:
    """What a file waits for."""
    return settling.held_by(settling.files[name])


def test_earlier_revisions_come_first() -> None:
    """Of files that came together version 9 comes before version 10, whatever the alphabet says."""
    assert due(files("lid v10.stl", "lid v9.stl", "arm.stl")) == ["arm.stl", "lid v9.stl", "lid v10.stl"]


def test_longest_waiting_comes_first() -> None:
    """A file that came earlier is looked at earlier, whatever its name."""
    settling = files("b.stl")
    settling.take({name: Seen(name, "file", "1") for name in ("a.stl", "b.stl")}, 2.0, {})
    assert due(settling) == ["b.stl", "a.stl"]


def test_family_waits_while_one_is_in_hand() -> None:
    """A revision waits for another of its family that a worker or another gate has, and for nothing else."""
    settling = files("lid v9.stl", "lid v10.stl", "arm.stl", "lid.yaml")
    first = settling.files["lid v9.stl"]
    assert held(settling, "lid v10.stl") is None
    first.phase = "working"
    assert held(settling, "lid v10.stl") is first
    assert held(settling, "lid v9.stl") is None
    assert held(settling, "arm.stl") is None
    assert held(settling, "lid.yaml") is None
    first.leave("f" * 64, 11.0)
    assert held(settling, "lid v10.stl") is first
    first.know(entry(0, file="lid v9.stl"))
    assert held(settling, "lid v10.stl") is None


def test_waiting_is_no_hold_on_others() -> None:
    """Those that wait for one do not hold one another, and a change of the file ends the wait."""
    settling = files("lid v1.stl", "lid v2.stl", "lid v3.stl")
    first, second = (settling.files[f"lid v{number}.stl"] for number in (1, 2))
    first.phase = "working"
    second.wait_for(first, 12.0)
    first.know(entry(0, file="lid v1.stl"))
    assert held(settling, "lid v3.stl") is None
    assert (second.phase, second.wants) == ("settling", first.turn)
    settling.take({name: Seen(name, "file", "2" if "v2" in name else "1") for name in settling.files}, 11.0, {})
    assert (second.wants, second.due) == ("", 13.0)
