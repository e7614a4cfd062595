"""Every step and check found: named by one word, documented, tested, and its settings survive the round trip."""

from __future__ import annotations

import inspect
from pathlib import Path

import pytest

import prep.checks
import prep.steps
from prep.checks import all_checks
from prep.contract import Check, Step
from prep.steps import all_steps
from tests.house.examples import examples

ROOT = Path(__file__).resolve().parents[2]
STEPS = sorted(all_steps().items())
CHECKS = sorted(all_checks().items())
BOTH = [*STEPS, *CHECKS]


@pytest.mark.parametrize(("room", "things"), [(prep.steps, all_steps), (prep.checks, all_checks)])
def test_every_file_is_found(room, things) -> None:
    """Each file of the room holds one step or check, and no other file does."""
    files = {path.stem for path in Path(room.__file__).parent.glob("*.py")} - {"__init__"}
    assert files == set(things())


@pytest.mark.parametrize(("word", "kind"), BOTH)
def test_one_word(word: str, kind: type[Step | Check]) -> None:
    """File, recipe word and class are one word; a class may add to it where geometry has the bare word."""
    assert Path(inspect.getfile(kind)).stem == word == kind.word()
    assert kind.__name__.lower().startswith(word.replace("_", ""))


@pytest.mark.parametrize(("word", "kind"), BOTH)
def test_documented(word: str, kind: type[Step | Check]) -> None:
    """The class says what it does, every setting what it is for, and the file opens with its word."""
    assert len((kind.__doc__ or "").split()) >= 8
    assert [name for name, field in kind.model_fields.items() if not field.description and name != "step"] == []
    assert (inspect.getmodule(kind).__doc__ or "").startswith(f"`{word}`")


@pytest.mark.parametrize(("word", "kind"), STEPS)
def test_step_is_tested(word: str, kind: type[Step]) -> None:
    """A test file stands in its own name, and has tests."""
    assert issubclass(kind, Step)
    file = ROOT / "tests" / "steps" / f"test_{word}.py"
    assert file.is_file()
    assert "def test_" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(("word", "kind"), CHECKS)
def test_check_is_tested(word: str, kind: type[Check]) -> None:
    """A test file stands in its own name, and has tests."""
    assert issubclass(kind, Check)
    file = ROOT / "tests" / "checks" / f"test_{word}.py"
    assert file.is_file()
    assert "def test_" in file.read_text(encoding="utf-8")


@pytest.mark.parametrize(("word", "kind"), STEPS)
def test_step_settings_round_trip(word: str, kind: type[Step]) -> None:
    """A step's settings, written as text, read back as the same step; an example of it stands somewhere."""
    written = [example for example in examples() if example.get("step") == word]
    assert written, f"no example of {word}: put one in a recipe, or under `Examples` in its docstring"
    for example in written:
        step = kind.model_validate(example)
        text = step.model_dump(mode="json", by_alias=True, exclude_none=True)
        assert kind.model_validate(text) == step
        assert set(step.changes()) <= set(kind.model_validate(example).changes())
        assert step.changes() or step.reads()


@pytest.mark.parametrize(("word", "kind"), CHECKS)
def test_check_settings_round_trip(word: str, kind: type[Check]) -> None:
    """A check needs no settings; a limit, written as text, reads back as the same check."""
    assert word == kind.word()
    says = kind.model_json_schema()["properties"].get("limit")
    text = "1.5 %" if "%" in str(says) else "1.5 mm"
    checks = [kind()] + ([kind.model_validate({"limit": text})] if says else [])
    for check in checks:
        assert kind.model_validate(check.model_dump(mode="json", by_alias=True, exclude_none=True)) == check
