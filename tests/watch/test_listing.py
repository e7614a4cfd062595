"""Listings, and what to believe of them."""

from __future__ import annotations

import time
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from prep.watch.listing import BELIEVED_AFTER, GONE_AFTER, Listing, Presence, Seen


def names_of(*numbers: int) -> dict[str, Seen]:
    """A listing of so many files."""
    return {f"{number}.stl": Seen(f"{number}.stl", "file", "s") for number in numbers}


def test_stamp_tells_a_change(tmp_path: Path) -> None:
    """Another content of the same length and date has another stamp; a file left alone keeps its own."""
    import os

    path = tmp_path / "a.stl"
    path.write_bytes(b"one")
    first = Listing(tmp_path).look()["a.stl"]
    assert Listing(tmp_path).look()["a.stl"] == first
    time.sleep(0.02)
    path.write_bytes(b"two")
    facts = path.stat()
    os.utime(path, ns=(facts.st_atime_ns, int(first.stamp.split("-")[1])))
    assert path.stat().st_mtime_ns == int(first.stamp.split("-")[1])
    assert Listing(tmp_path).look()["a.stl"].stamp != first.stamp


def test_only_drops_are_listed(tmp_path: Path) -> None:
    """Meshes, YAML and gate.yaml are seen; what is ours, hidden or of no interest is not, nor what lies below."""
    for name in ("a.STL", "b.yaml", "gate.yaml", "board.html", ".x.stl", "notes.txt", "~$a.stl"):
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "verdicts").mkdir()
    (tmp_path / "below").mkdir()
    (tmp_path / "below" / "c.stl").write_bytes(b"x")
    assert sorted(Listing(tmp_path).look()) == ["a.STL", "b.yaml", "gate.yaml"]


def test_one_file_gone_is_believed_after_three_looks() -> None:
    """A file that a listing leaves out once or twice is still there; after the third look it is gone."""
    presence = Presence()
    presence.take(names_of(*range(10)))
    for look in range(1, GONE_AFTER + 1):
        assert presence.take(names_of(*range(9)))
        assert ("9.stl" in presence.present) == (look < GONE_AFTER)


def test_most_files_gone_is_a_hiccup_at_first() -> None:
    """A listing that loses most entries is not believed until several in a row agree; what it shows still counts."""
    presence = Presence()
    presence.take(names_of(*range(10)))
    for _ in range(BELIEVED_AFTER - 1):
        assert not presence.take(names_of(0, 20))
        assert "2 of" in presence.hiccup
        assert len(presence.present) == 11
    assert presence.take(names_of(0, 20))
    assert sorted(presence.present) == ["0.stl", "20.stl"]


@given(st.lists(st.sets(st.integers(0, 11)), max_size=40))
def test_what_is_listed_is_believed(looks: list[set[int]]) -> None:
    """Whatever a share shows, hides and shows again, every file in a listing is believed to be there."""
    presence = Presence()
    for look in looks:
        presence.take(names_of(*look))
        assert set(names_of(*look)) <= set(presence.present)


@given(st.sets(st.integers(0, 30), min_size=1), st.lists(st.sets(st.integers(0, 30)), max_size=GONE_AFTER - 1))
def test_two_bad_looks_delete_nothing(first: set[int], bad: list[set[int]]) -> None:
    """No two listings, however wrong, make a file count as gone."""
    presence = Presence()
    presence.take(names_of(*first))
    for look in bad:
        presence.take(names_of(*look))
    assert set(names_of(*first)) <= set(presence.present)
