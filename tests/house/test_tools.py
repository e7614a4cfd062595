"""The tools that judge the whole tree: import contracts, lint, layout, types, generated pages."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LINT_IMPORTS = "import sys; from importlinter.cli import lint_imports; sys.exit(lint_imports())"


def judged(*arguments: str) -> str:
    """What a tool complains of; nothing where it is content."""
    command = [sys.executable, *arguments]
    done = subprocess.run(command, check=False, cwd=ROOT, capture_output=True, text=True, encoding="utf-8")
    return f"{done.stdout}\n{done.stderr}" if done.returncode else ""


def test_imports_run_downward() -> None:
    """Every floor imports floors below only; steps and checks do not know one another."""
    assert judged("-c", LINT_IMPORTS) == ""


def test_ruff() -> None:
    """Ruff finds nothing."""
    assert judged("-m", "ruff", "check", "--quiet") == ""


def test_ruff_format() -> None:
    """Every file is laid out as ruff lays it out."""
    assert judged("-m", "ruff", "format", "--check", "--quiet") == ""


@pytest.mark.slow
def test_mypy() -> None:
    """Every type holds, strictly."""
    assert judged("-m", "mypy", "-p", "prep") == ""


def test_generated_pages_are_fresh() -> None:
    """Pages, schema and the commands in README are what models and docstrings say now."""
    assert judged("-m", "prep.reference", "--check") == "", "run `python -m prep.reference`"
