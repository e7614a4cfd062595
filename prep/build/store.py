"""`Store`: outcomes of steps kept between builds, so that a changed target does not cut the magnet seats again."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from prep.build.keys import StepKey
from prep.contract import Finding, Frozen, Ledger, Outcome, PlacedIn, Prediction, View
from prep.errors import PrepError
from prep.geometry.solid import Solid

MOST_KEPT = 48
KEPT_IN = ".prep-store"
"""Name of the folder of outcomes, in `build` beside the recipe."""
NAME_DIGITS = 16


class _Words(Frozen):
    """The part of an outcome that is not triangles."""

    solids: tuple[str, ...]
    extra: tuple[str, ...]
    predictions: tuple[Prediction, ...]
    ledger: Ledger
    facts: dict[str, object]
    places: tuple[PlacedIn, ...]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...]
    views: tuple[View, ...]


@dataclass(frozen=True)
class Store:
    """A folder of outcomes by key, and the keys of the last build of each recipe.

    Anything unreadable in it counts as not there; deleting the folder loses nothing but time.

    Attributes
    ----------
    folder : made when something is first kept
    fresh : whether nothing kept is used; outcomes are kept all the same
    """

    folder: Path
    fresh: bool = False

    @classmethod
    def beside(cls, recipe: Path, *, fresh: bool = False) -> Store:
        """The store of a recipe: `build/.prep-store` beside its file, wherever the result goes."""
        return cls(recipe.parent / "build" / KEPT_IN, fresh)

    def get(self, key: StepKey) -> Outcome | None:
        """The outcome kept under a key, or None."""
        if self.fresh:
            return None
        path = self._path(key)
        try:
            with path.open("rb") as file, np.load(file, allow_pickle=False) as arrays:
                words = _Words.model_validate_json(str(arrays["words"]))
                solids = {name: _solid(arrays, f"solid-{row}") for row, name in enumerate(words.solids)}
                extra = {name: _solid(arrays, f"extra-{row}") for row, name in enumerate(words.extra)}
            path.touch()
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile, PrepError):
            return None
        fields = {name: getattr(words, name) for name in _Words.model_fields if name not in {"solids", "extra"}}
        return Outcome(solids=solids, extra=extra, **fields)

    def put(self, key: StepKey, outcome: Outcome) -> None:
        """Keep an outcome; a full disk or a folder without permission is no fault of the build."""
        fields = {name: getattr(outcome, name) for name in _Words.model_fields if name not in {"solids", "extra"}}
        words = _Words(solids=tuple(outcome.solids), extra=tuple(outcome.extra), **fields)
        arrays: dict[str, Any] = {"words": np.array(words.model_dump_json())}
        for kind, solids in (("solid", outcome.solids), ("extra", outcome.extra)):
            for row, solid in enumerate(solids.values()):
                arrays[f"{kind}-{row}-v"], arrays[f"{kind}-{row}-t"] = solid.vertices, solid.triangles
        with contextlib.suppress(OSError):
            self._write(self._path(key), lambda file: np.savez(file, **arrays))
            self._prune()

    def last_keys(self, recipe: Path) -> dict[str, dict[str, str]]:
        """Keys of the last build of a recipe, by step title; empty for none."""
        try:
            kept = json.loads(self._keys_path(recipe).read_text("utf-8"))
        except (OSError, ValueError):
            return {}
        return kept if isinstance(kept, dict) else {}

    def keep_keys(self, recipe: Path, keys: dict[str, StepKey]) -> None:
        """Remember the keys of this build; a build without steps has none and makes no folder."""
        if not keys and not self.folder.is_dir():
            return
        text = json.dumps({title: key.pieces for title, key in keys.items()})
        with contextlib.suppress(OSError):
            self._write(self._keys_path(recipe), lambda file: file.write(text.encode()))

    def _path(self, key: StepKey) -> Path:
        return self.folder / f"{key.whole[:32]}.npz"

    def _keys_path(self, recipe: Path) -> Path:
        """Named by the whole path, so that two recipes of one name never share their keys."""
        name = hashlib.sha256(os.fsencode(recipe.resolve())).hexdigest()[:NAME_DIGITS]
        return self.folder / f"{name}.keys.json"

    def _write(self, path: Path, fill: Callable[[BinaryIO], object]) -> None:
        """A file that appears whole or not at all."""
        self.folder.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=self.folder, suffix=".part")
        try:
            with os.fdopen(handle, "wb") as file:
                fill(file)
            Path(name).replace(path)
        finally:
            Path(name).unlink(missing_ok=True)

    def _prune(self) -> None:
        kept = sorted(self.folder.glob("*.npz"), key=lambda path: path.stat().st_mtime, reverse=True)
        for path in kept[MOST_KEPT:]:
            path.unlink(missing_ok=True)


def _solid(arrays: np.lib.npyio.NpzFile, stem: str) -> Solid:
    return Solid.of(arrays[f"{stem}-v"], arrays[f"{stem}-t"])
