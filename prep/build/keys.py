"""`step_key`: a hash of all that decides what a step does, each piece under a name a person knows."""

from __future__ import annotations

import hashlib
import importlib.metadata
import json
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path

import prep
from prep.contract import Bench, Step

KERNELS = ("manifold3d", "libigl", "embreex", "numpy", "scipy")


@dataclass(frozen=True)
class StepKey:
    """Hashes of what a step depends on.

    Attributes
    ----------
    pieces : hash by name: "settings", "part case", "body band.stl", "ledger", "process", "tables", "version"
    """

    pieces: dict[str, str]

    @property
    def whole(self) -> str:
        """One hash of all pieces."""
        return _hash(self.pieces)

    def changed_since(self, other: dict[str, str]) -> tuple[str, ...]:
        """Names of pieces that differ from another key's."""
        names = sorted(self.pieces.keys() | other.keys())
        return tuple(name for name in names if self.pieces.get(name) != other.get(name))


def step_key(step: Step, bench: Bench) -> StepKey:
    """The key of a step on the bench it would be given."""
    names = tuple(bench.parts) if step.whole_model else (*step.changes(), *step.reads())
    pieces = {
        "version": versions(),
        "settings": _hash(step.model_dump(mode="json")),
        "process": _hash(asdict(bench.process)),
        "limits": _hash(bench.wall_limit_mm),
        "tables": _hash(asdict(bench.tables)),
        "ledger": _hash(bench.ledger.model_dump(mode="json")),
        "coats ahead": _hash([coat.model_dump(mode="json") for coat in bench.ahead if coat.part in names]),
    }
    for name in names:
        part = bench.parts[name]
        pieces[f"part {name}"] = _hash(
            [part.solid.sha256, part.original.sha256, asdict(part.material), part.up, part.weighed_g, part.colours]
        )
    for body in step.bodies():
        pieces[f"body {body}"] = bench.bodies[body].sha256
    return StepKey(pieces)


@cache
def versions() -> str:
    """Versions of `prep` and of the kernels, as one line.

    The version of `prep` is followed by a hash of its own source, so that nothing made by older code is reused while
    `prep` itself is being worked on.
    """
    digest = hashlib.sha256()
    for path in sorted(Path(prep.__file__).parent.rglob("*")):
        if path.suffix in {".py", ".csv"}:
            digest.update(path.read_bytes())
    own = f"prep {prep.__version__} {digest.hexdigest()[:12]}"
    return ", ".join([own, *(f"{name} {importlib.metadata.version(name)}" for name in KERNELS)])


def _hash(value: object) -> str:
    return hashlib.sha256(json.dumps(value, sort_keys=True, default=str).encode()).hexdigest()
