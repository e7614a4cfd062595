"""What holds for every file: size, names, leases, and nothing of the machine it was written on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
KEPT = ("prep", "tests", "fixtures", "recipes", "benchmarks", ".ci")
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "pyproject.toml", ".gitignore", ".git", *KEPT}
TEXT = {".py", ".md", ".toml", ".yaml", ".yml", ".csv", ".json", ".css", ".j2", ".svg", ".html", ".txt", ""}
MADE = {"__pycache__", "build", "test-output"}

SLASH = "/"
PLACES = [
    re.compile(rf"{SLASH}(work|home|Users|root){SLASH}\w"),
    re.compile(rf"{SLASH}tmp{SLASH}\w"),
    re.compile(r"[A-Z]:\\\\?Users"),
    re.compile(r"https?://[\w.-]*(" + "|".join(["pypi", "pythonhosted", "artifactory", "nexus", "mirror"]) + ")"),
]


def files() -> Iterator[Path]:
    """Every text file that belongs to the project."""
    for path in sorted(ROOT.iterdir()):
        if path.is_file() and path.name in TOP:
            yield path
    for folder in KEPT:
        for path in sorted((ROOT / folder).rglob("*")):
            inside = path.relative_to(ROOT)
            if path.is_file() and path.suffix in TEXT and not MADE & set(inside.parts[:-1]):
                yield path


def test_no_machine_paths() -> None:
    """No file names a place of the machine it was written on, nor a host that packages come from."""
    found = [
        f"{path.relative_to(ROOT)}: {line.strip()[:80]}"
        for path in files()
        for line in path.read_text(encoding="utf-8", errors="replace").splitlines()
        if any(place.search(line) for place in PLACES)
    ]
    assert found == []


@pytest.mark.parametrize("folder", ["prep", "tests", "fixtures", "benchmarks"])
def test_no_file_over_400_lines(folder: str) -> None:
    """A file that needs more lines holds more than one idea."""
    long = {
        path.relative_to(ROOT).as_posix(): count
        for path in (ROOT / folder).rglob("*.py")
        if (count := len(path.read_text(encoding="utf-8").splitlines())) > 400
    }
    assert long == {}


def test_no_junk_rooms() -> None:
    """No file is named for holding whatever found no place."""
    names = {"utils", "util", "helpers", "helper", "common", "manager", "misc", "tools", "stuff"}
    assert [path.name for path in (ROOT / "prep").rglob("*.py") if path.stem.strip("_") in names] == []


def test_leases() -> None:
    """Each room's first page says its floor, what lives there, what it may import, and what must not come in."""
    for page in sorted((ROOT / "prep").glob("*/__init__.py")):
        text = page.read_text(encoding="utf-8")
        assert re.match(r'"""Floor \d+\. ', text), page.parent.name
        for line in ("What lives here:", "What may be imported:", "What must not come in:"):
            assert line in text, (page.parent.name, line)


def test_every_test_says_what_it_holds() -> None:
    """Each test has a docstring of the behaviour."""
    silent = []
    for path in sorted((ROOT / "tests").rglob("test_*.py")):
        lines = path.read_text(encoding="utf-8").splitlines()
        for number, line in enumerate(lines):
            if line.startswith("def test_"):
                end = next(n for n in range(number, len(lines)) if lines[n].rstrip().endswith(":"))
                if not lines[end + 1].strip().startswith('"""'):
                    silent.append(f"{path.relative_to(ROOT)}:{number + 1}")
    assert silent == []


def test_tests_mirror_rooms() -> None:
    """Each folder of tests is named as a room, or is the house's own."""
    rooms = {path.name for path in (ROOT / "prep").iterdir() if path.is_dir()} | {"house", "fixtures", "recipes"}
    folders = {path.name for path in (ROOT / "tests").iterdir() if path.is_dir()} - MADE
    assert folders <= rooms
