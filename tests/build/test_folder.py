"""A build's folder appears whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from prep.build.folder import Staged
from prep.errors import FolderTaken


def build_into(out: Path, text: str) -> None:
    """A build that writes one file."""
    with Staged(out) as stage:
        (stage / "report.json").write_text(text)


def test_a_result_appears_at_the_end(tmp_path: Path) -> None:
    """Nothing is to be seen until the build is whole; then all of it, and nothing left over."""
    out = tmp_path / "new" / "build"
    with Staged(out) as stage:
        (stage / "report.json").write_text("one")
        assert not out.exists()
    assert (out / "report.json").read_text() == "one"
    assert list(out.parent.iterdir()) == [out]


def test_an_earlier_result_is_replaced_whole(tmp_path: Path) -> None:
    """Files of the earlier build do not linger beside those of the new one."""
    out = tmp_path / "build"
    build_into(out, "one")
    (out / "stale.png").write_text("")
    build_into(out, "two")
    assert [path.name for path in out.iterdir()] == ["report.json"]
    assert (out / "report.json").read_text() == "two"
    assert list(tmp_path.iterdir()) == [out]


def test_a_failed_build_leaves_the_earlier_result(tmp_path: Path) -> None:
    """A fault half way keeps what was there, and leaves no half result beside it."""
    out = tmp_path / "build"
    build_into(out, "one")
    with pytest.raises(RuntimeError), Staged(out) as stage:
        (stage / "half").write_text("")
        raise RuntimeError
    assert (out / "report.json").read_text() == "one"
    assert list(tmp_path.iterdir()) == [out]


def test_a_folder_with_other_things_is_refused(tmp_path: Path) -> None:
    """A folder that no build made is left alone."""
    (tmp_path / "thesis.txt").write_text("years of work")
    with pytest.raises(FolderTaken, match="something else"), Staged(tmp_path):
        pytest.fail("it began")
    assert (tmp_path / "thesis.txt").read_text() == "years of work"


def test_an_empty_folder_is_taken(tmp_path: Path) -> None:
    """An empty folder that is already there will do."""
    out = tmp_path / "empty"
    out.mkdir()
    build_into(out, "one")
    assert (out / "report.json").read_text() == "one"
