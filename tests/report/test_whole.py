"""Files that appear complete or not at all."""

from __future__ import annotations

import os

import pytest

from prep.report.whole import write_whole


def test_a_file_is_written_with_its_folder(tmp_path):
    """Folders are made, the bytes are there, nothing else is left."""
    path = write_whole(tmp_path / "a" / "b.txt", b"new")
    assert path.read_bytes() == b"new"
    assert os.listdir(path.parent) == ["b.txt"]  # noqa: PTH208  hidden files count too


def test_a_disk_that_fails_leaves_the_old_file_whole(tmp_path, monkeypatch):
    """Until the last move the old bytes stand, and the half-written ones are taken away."""
    path = tmp_path / "r.json"
    path.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "no space left")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="no space"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert os.listdir(tmp_path) == ["r.json"]  # noqa: PTH208
