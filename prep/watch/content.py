"""`content_of`: what a file's content is, as one hash; read in a worker process, never in the gate's own."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

from prep.build.checked import FaultRecord
from prep.errors import CannotOpenFile, FileTooLarge, LeadsOut, NotAFile, PrepError
from prep.recipe.source import LARGEST_BYTES, read_source
from prep.watch.tasks import Hash, Hashed

PIECE = 1 << 20
NOTHING_THERE = "-"


def content_of(task: Hash) -> Hashed:
    """The hash of a file; of a recipe: of its bytes and of every mesh it names, in the order of their names.

    A mesh that is not there counts by its absence, so that the recipe is looked at again when it comes.
    """
    try:
        sha256 = hash_file(task.path, task.folder, task.most)
        meshes = _meshes(task) if task.recipe else None
        if meshes:
            pieces = [sha256]
            for path in meshes:
                own = hash_file(path, task.folder, task.most) if path.exists() else NOTHING_THERE
                pieces.append(f"{os.fsencode(path.name)!r} {own}")
            sha256 = hashlib.sha256("\n".join(pieces).encode()).hexdigest()
    except FileNotFoundError:
        return Hashed(trouble=FaultRecord(code="missing-file", what="the file is gone"), waits=True)
    except CannotOpenFile as fault:
        return Hashed(trouble=FaultRecord.of(fault), waits=True)
    except OSError as error:
        return Hashed(trouble=FaultRecord.of(_unreadable(error)), waits=True)
    except PrepError as fault:
        return Hashed(trouble=FaultRecord.of(fault))
    return Hashed(sha256, meshes=meshes)


def hash_file(path: Path, folder: Path, most: int) -> str:
    """SHA-256 of a file's bytes, in 64 digits.

    Raises
    ------
    LeadsOut
        The file lies outside the folder, links followed.
    NotAFile, FileTooLarge, CannotOpenFile
        It is no ordinary file, too long, or the system refuses.
    FileNotFoundError
        It is gone.
    """
    refuse_outside(path, folder)
    try:
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0))
        with os.fdopen(handle, "rb") as file:
            facts = os.fstat(file.fileno())
            if not stat.S_ISREG(facts.st_mode):
                raise NotAFile(
                    "this is no ordinary file", found="a folder, device or pipe", fix="put the mesh itself here"
                )
            if facts.st_size > most:
                raise FileTooLarge(
                    "the file is longer than the gate reads",
                    found=f"{facts.st_size / 1e6:.1f} MB, limit {most / 1e6:g} MB",
                    fix="export with fewer triangles, or raise `largest` in gate.yaml",
                )
            digest = hashlib.sha256()
            while piece := os.read(file.fileno(), PIECE):  # a buffered read takes "try again" for the end
                digest.update(piece)
    except FileNotFoundError:
        raise
    except IsADirectoryError:
        raise NotAFile("this is a folder, not a file", found="a folder", fix="put the mesh itself here") from None
    except OSError as error:
        raise _unreadable(error) from None
    return digest.hexdigest()


def _unreadable(error: OSError) -> CannotOpenFile:
    return CannotOpenFile(
        "the file cannot be read",
        found=error.strerror or str(error),
        fix="close it in the program that holds it, or let everybody read it",
    )


def refuse_outside(path: Path, folder: Path) -> None:
    """Raise where a path, links followed, leads out of a folder."""
    root = folder.resolve()
    target = path.resolve()
    if target != root and root not in target.parents:
        raise LeadsOut(
            "this leads out of the folder, and is not followed",
            found="a path outside the folder that is watched",
            fix="copy the file itself here",
        )


def _meshes(task: Hash) -> tuple[Path, ...] | None:
    """The meshes that a recipe names, as paths; None where the file is no recipe, none where it cannot be read."""
    head = b""
    with task.path.open("rb", buffering=0) as file:
        while len(head) < LARGEST_BYTES and (piece := os.read(file.fileno(), LARGEST_BYTES - len(head))):
            head += piece
    if not any(line.startswith(b"recipe") for line in head.removeprefix(b"\xef\xbb\xbf").splitlines()):
        return None
    try:
        parts = read_source(task.path).data.get("parts")
    except CannotOpenFile:
        raise
    except PrepError:
        return ()
    named = [part.get("mesh") for part in parts.values() if isinstance(part, dict)] if isinstance(parts, dict) else []
    paths = [task.path.parent / mesh for mesh in named if isinstance(mesh, str) and "\0" not in mesh]
    for path in paths:
        refuse_outside(path, task.folder)
    return tuple(dict.fromkeys(paths))
