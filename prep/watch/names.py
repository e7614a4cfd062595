"""Names in the folder: how one is shown, what kind of file it says, and what its verdict is called."""

from __future__ import annotations

import functools
import hashlib
import re
import unicodedata

from prep.recipe.gate_rules import GATE_FILE
from prep.watch.entry import HASH_DIGITS, Kind

MESHES = frozenset({"stl", "3mf", "obj", "ply"})
RECIPES = frozenset({"yaml", "yml"})
OTHERS = frozenset({"amf", "brep", "dae", "fbx", "glb", "gltf", "iges", "igs", "off", "scad", "step", "stp", "zip"})
"""Shapes in formats that are not read: whoever drops one is told so. All else (notes, photographs) is passed over."""

MEANT = frozenset({"gate.yaml", "gate.yml", "gate.yaml.txt", "gate.yml.txt"})
"""How files are called that were meant to be gate.yaml, capitals aside; some desktops hide the last ending."""
BOARD = "board.html"
VERDICTS = "verdicts"
BUILDS = "builds"
"""Folder of the results of recipes, in `verdicts`."""
OURS = frozenset({GATE_FILE, BOARD, VERDICTS, "shop"})
MOST_BYTES = 200
"""Of a verdict's stem, so that stem, hash and suffix stay under the 255 that file systems allow."""

_UNSAFE = re.compile(r'[\x00-\x1f\x7f/\\:*?"<>|]')


def shown(name: str) -> str:
    """The name as text that every file can hold: bytes that are no UTF-8 are written as backslash, x and two digits."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def one_line(text: str) -> str:
    """The text on one line, without what cannot be printed."""
    kept = "".join(letter if letter.isprintable() else " " for letter in shown_text(text))
    return " ".join(kept.split())


def shown_text(text: str) -> str:
    """The text without halves of letters, which no UTF-8 file can hold."""
    return text.encode("utf-8", "backslashreplace").decode("utf-8")


@functools.lru_cache(maxsize=65536)
def kind_of(name: str) -> Kind | None:
    """What a file is taken for by its name; None for one that is passed over."""
    if name in OURS or name.startswith((".", "~$")):
        return None
    suffix = name.rpartition(".")[2].lower() if "." in name else ""
    if suffix in MESHES:
        return "mesh"
    if suffix in RECIPES:
        return "recipe"
    return "other" if suffix in OTHERS else None


def verdict_stem(file: str, sha256: str) -> str:
    """The name of a verdict's files without suffix: the file's name, made safe, and the first digits of its hash.

    Notes
    -----
    Where the name had to be changed or cut, eight digits of its own hash follow it, so that two names that become
    alike do not share a verdict.
    """
    safe = _UNSAFE.sub("_", file)
    if safe != file or len(safe.encode()) > MOST_BYTES:
        mark = hashlib.sha256(file.encode()).hexdigest()[:HASH_DIGITS]
        room = MOST_BYTES - len(mark) - 1
        safe = f"{safe.encode()[:room].decode('utf-8', 'ignore')}~{mark}"
    return f"{safe}.{sha256[:HASH_DIGITS]}"


@functools.lru_cache(maxsize=65536)
def plain_name(file: str) -> str:
    """What two names share that differ only by case, spaces, or the way a letter and its accent are stored."""
    return re.sub(r"[\s_]+", "", unicodedata.normalize("NFKC", file)).casefold()
