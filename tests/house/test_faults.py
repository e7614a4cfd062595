"""Every fault: a code of its own, a meaning, a place that raises it, and a test that meets it."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import pytest

from prep.errors import Faults, PrepError
from prep.reference.explain import all_faults

ROOT = Path(__file__).resolve().parents[2]
FAULTS = sorted(all_faults().items())


def texts(folder: str) -> list[str]:
    """The text of every Python file in a folder, this one left out."""
    here = Path(__file__).resolve()
    return [path.read_text(encoding="utf-8") for path in sorted((ROOT / folder).rglob("*.py")) if path != here]


def subclasses() -> list[type[PrepError]]:
    """Every fault class of prep."""
    found, waiting = [], list(PrepError.__subclasses__())
    while waiting:
        kind = waiting.pop()
        waiting += kind.__subclasses__()
        found += [kind] if kind.__module__.startswith("prep.") else []
    return found


def test_codes_are_unique() -> None:
    """No two faults share a code, and none keeps its parent's."""
    counts = Counter(kind.code for kind in subclasses())
    assert [code for code, count in counts.items() if count > 1] == []
    assert PrepError.code not in counts


def test_all_on_one_floor() -> None:
    """Every fault is in `prep.errors`."""
    assert [kind.__name__ for kind in subclasses() if not kind.__module__.startswith("prep.errors")] == []


@pytest.mark.parametrize(("code", "fault"), FAULTS)
def test_code_and_meaning(code: str, fault: type[PrepError]) -> None:
    """A code is lower-case words joined by hyphens, that of the class; the meaning is a sentence of its own."""
    assert re.fullmatch(r"[a-z]+(-[a-z]+)*", code)
    assert code == re.sub(r"(?<!^)(?=[A-Z])", "-", fault.__name__).lower()
    assert len((fault.__doc__ or "").split()) >= 6
    assert fault.__doc__ != PrepError.__doc__


@pytest.mark.parametrize(("code", "fault"), FAULTS)
def test_raised_and_met(code: str, fault: type[PrepError]) -> None:
    """The fault is made somewhere in prep, and met in at least one test."""
    name = fault.__name__
    assert any(re.search(rf"\b{name}\(", text.replace(f"class {name}(", "")) for text in texts("prep"))
    if fault is not Faults:
        assert any(re.search(rf"\b{name}\b|error\[{code}\]|[\"']{code}[\"']", text) for text in texts("tests"))


@pytest.mark.parametrize(("code", "fault"), FAULTS)
def test_exit_status(code: str, fault: type[PrepError]) -> None:
    """A fault is wrong input, a failed check, or our bug."""
    assert fault.exit_status in {1, 2, 70}, code
