"""The generated pages: stale ones are found, and brought up to date."""

from __future__ import annotations

from pathlib import Path

import pytest

from prep.errors import MissingFile
from prep.reference import pages
from prep.reference.__main__ import run
from prep.reference.pages import BEGIN, END, README, all_pages, stale_pages, with_commands, write_pages


@pytest.fixture
def checkout(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty checkout whose README has room for the commands."""
    monkeypatch.setattr(pages, "_help", lambda *words: f"help of {' '.join(words)}\n\nCommands:\n  table  Look.\n")
    (tmp_path / "pyproject.toml").write_text("")
    (tmp_path / README).write_text(f"before\n{BEGIN}\n{END}\nafter\n")
    return tmp_path


def test_written_pages_are_fresh(checkout: Path) -> None:
    """What was written is not stale; README keeps what stands around the commands."""
    assert set(write_pages(checkout)) == {*all_pages(), README}
    assert stale_pages(checkout) == []
    readme = (checkout / README).read_text()
    assert readme.startswith("before\n")
    assert readme.endswith("after\n")
    assert "help of table" in readme


def test_changed_missing_and_left_over(checkout: Path) -> None:
    """A page that was edited, removed, or belongs to nothing is stale, and mended."""
    write_pages(checkout)
    faults = checkout / "recipes/reference/faults.md"
    schema = checkout / "recipes/gate.schema.json"
    left = checkout / "recipes/reference/steps/old_step.md"
    faults.write_text(faults.read_text() + "more\n")
    schema.unlink()
    left.write_text("gone\n")
    found = stale_pages(checkout)
    assert set(found) == {path.relative_to(checkout).as_posix() for path in (faults, schema, left)}
    write_pages(checkout)
    assert stale_pages(checkout) == []
    assert not left.exists()


def test_readme_without_room(checkout: Path) -> None:
    """A README without the markers is stale, and left as it is."""
    (checkout / README).write_text("no room\n")
    write_pages(checkout)
    assert stale_pages(checkout) == [README]
    assert with_commands("no room\n") == "no room\n"


def test_not_a_checkout(tmp_path: Path) -> None:
    """Pages are written nowhere but in a checkout."""
    with pytest.raises(MissingFile):
        write_pages(tmp_path)


def test_arguments() -> None:
    """Other arguments than `--check` are refused."""
    assert run(["--chekc"]) == 2


def test_gate_has_a_page_of_its_own() -> None:
    """The gate's keys stand on the gate's page, which the index links, and not on the recipe's."""
    made = all_pages()
    gate, recipe = made["recipes/reference/gate.md"], made["recipes/reference/recipe.md"]
    assert "| `quiet` | a time with its unit, as `5 s`" in gate
    assert "| `match` | text, as `body*` | **must be given** |" in gate
    assert "\n## Verdicts\n" in gate
    assert "quiet" not in recipe
    assert "(gate.md)" in made["recipes/reference/README.md"]


def test_pages_are_plain() -> None:
    """Every page ends with one line break and holds no machine's path."""
    for path, text in all_pages().items():
        assert text.endswith("\n"), path
        assert not text.endswith("\n\n"), path
        assert str(Path.cwd()) not in text, path
