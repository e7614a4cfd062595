"""What is no ordinary file, or has no ordinary name: each has a plain outcome."""

from __future__ import annotations

import errno
import json
import os
import socket
from pathlib import Path

import pytest

from prep.watch.tasks import Hash, Judge
from tests.watch.here import BOX, OTHER, THIN, BlindListing, Turns, kinds, put

pytestmark = pytest.mark.usefixtures("here")


def test_link_inside_is_followed_and_outside_is_not(tmp_path: Path, here) -> None:
    """A link to a file below the folder is judged; one that leads out is refused, and what it points to never read."""
    inbox, secret = tmp_path / "inbox", put(tmp_path / "secret.stl", BOX)
    (inbox / "kept").mkdir(parents=True)
    put(inbox / "kept" / "part.stl", OTHER)
    (inbox / "in.stl").symlink_to("kept/part.stl")
    (inbox / "out.stl").symlink_to(secret)
    (inbox / "nowhere.stl").symlink_to("no such file")
    (inbox / "round.stl").symlink_to("round.stl")
    lines = {line.file: line for line in Turns(inbox).go(5.0).lines}
    assert {name: line.verdict for name, line in lines.items()} == {
        "in.stl": "pass",
        "out.stl": "refused",
        "nowhere.stl": "refused",
        "round.stl": "refused",
    }
    assert "leads out" in lines["out.stl"].reason
    assert "link to nothing" in lines["nowhere.stl"].reason
    assert {task.path.name for task in here if isinstance(task, Hash)} == {"in.stl"}


def test_link_changed_after_the_listing_is_not_followed(tmp_path: Path, here) -> None:
    """A link that is put in the place of a file between listing and reading is refused by the reader too."""
    inbox, secret = tmp_path / "inbox", put(tmp_path / "secret.stl", BOX)
    inbox.mkdir()
    put(inbox / "part.stl", OTHER)
    turns = Turns(inbox, BlindListing(inbox)).go(1.0)
    (inbox / "part.stl").unlink()
    (inbox / "part.stl").symlink_to(secret)
    turns.go(4.0)
    (line,) = turns.lines
    assert line.verdict == "refused"
    assert "leads out" in line.reason
    assert kinds(here) == ["Hash"]


def test_folder_and_pipe_named_as_meshes(tmp_path: Path) -> None:
    """A folder called x.stl and a pipe get a plain refusal, and nothing waits on them."""
    (tmp_path / "x.stl").mkdir()
    os.mkfifo(tmp_path / "pipe.stl")
    with socket.socket(socket.AF_UNIX) as sock:
        cwd = Path.cwd()
        os.chdir(tmp_path)
        sock.bind("plug.stl")
        os.chdir(cwd)
    lines = {line.file: line for line in Turns(tmp_path).go(5.0).lines}
    assert {line.verdict for line in lines.values()} == {"refused"}
    assert "a folder" in lines["x.stl"].reason
    assert set(lines) == {"x.stl", "pipe.stl", "plug.stl"}


@pytest.mark.parametrize(
    "name",
    [
        "кораблик.stl",
        "船 模型.stl",
        "سفينة.stl",
        "Zoë’s ‘boat’.stl",
        'say "hello".stl',
        "two\nlines.stl",
        "tab\tand\x7f.stl",
        "<script>alert(1)<!--.stl",
        "a" * 251 + ".stl",
        "é" * 125 + ".stl",
        "back\\slash:colon*?.stl",
        os.fsdecode(b"latin-\xe9.stl"),
        " .stl",
    ],
)
def test_any_name(tmp_path: Path, name: str) -> None:
    """A file of any name the system allows gets its verdict, under a name that every system allows."""
    put(tmp_path / name, THIN)
    turns = Turns(tmp_path).go(4.0)
    (line,) = turns.lines
    assert line.verdict == "fail"
    path = tmp_path / line.json_path
    assert path.is_file()
    assert len(path.name.encode()) <= 255
    assert not set(path.name) & set('\n\r\t"<>|*?:\\')
    board = (tmp_path / "board.html").read_text(encoding="utf-8")
    assert "<script>alert" not in board
    assert json.loads((tmp_path / "verdicts/ledger.jsonl").read_bytes())["file"] == line.file
    assert "\n" not in line.reason + line.action


def test_unreadable_file_waits_then_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that another program holds, or that we may not read, is waited for; in the end that is its verdict."""
    put(tmp_path / "gate.yaml", b"stuck: 20 s\n")
    locked = put(tmp_path / "locked.stl", BOX)
    real = os.open

    def refuse(path, *arguments, **more):
        if Path(path) == locked:
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path, *arguments, **more)

    monkeypatch.setattr("prep.watch.content.os.open", refuse)
    turns = Turns(tmp_path).go(10.0)
    assert turns.lines == []
    assert turns.gate.state().copying[0][0] == "locked.stl"
    turns.go(15.0)
    (line,) = turns.lines
    assert line.verdict == "refused"
    assert "cannot be read: Permission denied" in line.reason
    monkeypatch.undo()


def test_file_over_the_limit_is_not_read(tmp_path: Path, here) -> None:
    """A file longer than `largest` is refused by its size, with the limit and what to do."""
    put(tmp_path / "gate.yaml", b"largest: 1\n")
    with (tmp_path / "huge.stl").open("wb") as file:
        file.truncate(1_000_001)
    (line,) = Turns(tmp_path).go(4.0).lines
    assert line.verdict == "refused"
    assert "limit 1 MB" in line.reason
    assert not [task for task in here if isinstance(task, Judge)]


def test_other_formats_and_other_files(tmp_path: Path) -> None:
    """A shape in a format that is not read is refused with what to export; notes and hidden files are passed over."""
    put(tmp_path / "part.STEP", b"ISO-10303-21;")
    for name in ("notes.txt", ".hidden.stl", "~$open.stl", "photo.png", "settings.yaml"):
        put(tmp_path / name, b"a: 1\n")
    (line,) = Turns(tmp_path).go(5.0).lines
    assert (line.file, line.kind, line.verdict) == ("part.STEP", "other", "refused")
    assert "export" in line.action


def test_inputs_are_never_touched(tmp_path: Path) -> None:
    """Bytes, times and permissions of what was dropped are the same after its verdict."""
    path = put(tmp_path / "part.stl", THIN)
    path.chmod(0o444)
    os.utime(path, (1_500_000_000, 1_500_000_000))
    before = path.stat()
    Turns(tmp_path).go(4.0)
    after = path.stat()
    assert path.read_bytes() == THIN
    assert (before.st_mtime_ns, before.st_ctime_ns, before.st_mode) == (
        after.st_mtime_ns,
        after.st_ctime_ns,
        after.st_mode,
    )
