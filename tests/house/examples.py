"""Steps as they stand written somewhere: in a recipe of the repository, in that of a new project, or in a docstring."""

from __future__ import annotations

import inspect
import io
from pathlib import Path

from ruamel.yaml import YAML

from prep.cli.new import RECIPE
from prep.steps import all_steps

ROOT = Path(__file__).resolve().parents[2]


def examples() -> list[dict[str, object]]:
    """Every written step; those of docstrings stand under `Examples`, indented, for the sample of `prep new`."""
    texts = [path.read_text(encoding="utf-8") for path in sorted(ROOT.glob("recipes/*/*.yaml"))]
    found: list[dict[str, object]] = []
    for text in texts:
        found += YAML(typ="safe", pure=True).load(io.StringIO(text)).get("steps") or []
    return found + sample_examples()


def sample_examples() -> list[dict[str, object]]:
    """Those that are written for the round box of `prep new`."""
    texts = [RECIPE.format(name="sample")]
    for step in all_steps().values():
        _, _, section = inspect.cleandoc(step.__doc__ or "").partition("Examples\n--------\n")
        indented = [line for line in section.splitlines() if line.startswith("    ")]
        texts.append("steps:\n" + "\n".join(indented))
    found: list[dict[str, object]] = []
    for text in texts:
        found += YAML(typ="safe", pure=True).load(io.StringIO(text)).get("steps") or []
    return found
