"""What a file's content is: one hash, of bytes inside the folder only."""

from __future__ import annotations

import hashlib
import os
from pathlib import Path

import pytest

from prep.errors import CannotOpenFile, FileTooLarge, LeadsOut, NotAFile
from prep.watch.content import content_of, hash_file
from prep.watch.tasks import Hash
from tests.watch.here import BOX, OTHER, put

MOST = 10**9


def content(path: Path, folder: Path) -> tuple[str, tuple[Path, ...] | None]:
    """Hash and meshes of what may be a recipe."""
    found = content_of(Hash(path, folder, recipe=True, most=MOST))
    assert found.trouble is None
    return found.sha256, found.meshes


def test_hash_is_that_of_the_bytes(tmp_path: Path) -> None:
    """The hash is SHA-256 of the bytes, whatever their number."""
    for count in (0, 1, (1 << 20) - 1, (1 << 20) + 1):
        path = put(tmp_path / "a.stl", b"x" * count)
        assert hash_file(path, tmp_path, MOST) == hashlib.sha256(b"x" * count).hexdigest()


def test_nothing_outside_is_opened(tmp_path: Path) -> None:
    """A path that leads out, by a link or by `..`, is a fault; one that stays inside by a link is read."""
    inbox = tmp_path / "inbox"
    (inbox / "below").mkdir(parents=True)
    secret, own = put(tmp_path / "secret.stl", BOX), put(inbox / "below" / "own.stl", OTHER)
    (inbox / "out.stl").symlink_to(secret)
    (inbox / "in.stl").symlink_to(own)
    for path in (inbox / "out.stl", inbox / "below" / ".." / ".." / "secret.stl", secret):
        with pytest.raises(LeadsOut, match="leads out"):
            hash_file(path, inbox, MOST)
    assert hash_file(inbox / "in.stl", inbox, MOST) == hashlib.sha256(OTHER).hexdigest()


def test_what_is_no_file(tmp_path: Path) -> None:
    """A folder and a pipe are told as such at once; the pipe is not waited on."""
    (tmp_path / "x.stl").mkdir()
    os.mkfifo(tmp_path / "pipe.stl")
    for name in ("x.stl", "pipe.stl"):
        with pytest.raises(NotAFile):
            hash_file(tmp_path / name, tmp_path, MOST)


def test_too_long_and_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file over the limit is not read; one that the system refuses is told with the system's own words."""
    path = put(tmp_path / "a.stl", BOX)
    with pytest.raises(FileTooLarge, match="longer than the gate reads"):
        hash_file(path, tmp_path, len(BOX) - 1)
    assert hash_file(path, tmp_path, len(BOX))
    monkeypatch.setattr("prep.watch.content.os.open", lambda *_: (_ for _ in ()).throw(PermissionError(13, "denied")))
    with pytest.raises(CannotOpenFile) as caught:
        hash_file(path, tmp_path, MOST)
    assert caught.value.found == "denied"


def test_recipe_counts_with_its_meshes(tmp_path: Path) -> None:
    """A recipe's content changes with its bytes, with a mesh it names, and when one comes or goes."""
    recipe = put(tmp_path / "r.yaml", b"recipe: 1\nparts: {a: {mesh: a.stl}, b: {mesh: b.stl}}\n")
    put(tmp_path / "a.stl", BOX)
    seen = [content(recipe, tmp_path)]
    assert seen[0][1] == (tmp_path / "a.stl", tmp_path / "b.stl")
    put(tmp_path / "b.stl", BOX)
    seen.append(content(recipe, tmp_path))
    put(tmp_path / "b.stl", OTHER)
    seen.append(content(recipe, tmp_path))
    put(tmp_path / "c.stl", OTHER)
    assert content(recipe, tmp_path) == seen[-1]
    put(recipe, recipe.read_bytes() + b"# end\n")
    seen.append(content(recipe, tmp_path))
    assert len({sha256 for sha256, _ in seen}) == 4


@pytest.mark.parametrize("text", [b"", b"a: 1\n", b"notes: [recipe, cake]\n", b"\xff\xfe", b"# recipe\n"])
def test_yaml_that_is_no_recipe(tmp_path: Path, text: bytes) -> None:
    """A YAML file without the key `recipe` at the start of a line has no meshes: it is passed over."""
    assert content(put(tmp_path / "r.yaml", text), tmp_path)[1] is None


@pytest.mark.parametrize(
    "text", [b"recipe: 1\nparts: [\n", b"recipe: 1\n", b"recipe: 1\nparts: [a]\n", b"recipe: 9\nparts: {a: 1}\n"]
)
def test_recipe_that_cannot_be_read(tmp_path: Path, text: bytes) -> None:
    """A recipe with faults is a recipe all the same, with no meshes that are known."""
    assert content(put(tmp_path / "r.yaml", text), tmp_path)[1] == ()
