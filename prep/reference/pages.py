"""The generated pages: where each stands in the repository, and its text."""

from __future__ import annotations

import json
import os
import re
import subprocess  # the command line's own help is asked for as a person would ask
import sys
from pathlib import Path

from pydantic import BaseModel

from prep.checks import all_checks
from prep.errors import MissingFile
from prep.recipe.overrides import column_notes
from prep.reference.explain import all_faults, all_laws, gate_owners, recipe_owners, row_types
from prep.reference.schema import gate_schema, recipe_schema
from prep.reference.setting import docstring, first_line, settings_of
from prep.steps import all_steps
from prep.tables import Tables

ROOM = "recipes/reference"
SCHEMA = "recipes/recipe.schema.json"
GATE_SCHEMA = "recipes/gate.schema.json"
README = "README.md"
BEGIN, END = "<!-- commands: made by `python -m prep.reference` -->", "<!-- end of commands -->"
_MADE = "<!-- made by `python -m prep.reference` from models and docstrings; edit those -->"


def all_pages() -> dict[str, str]:
    """Every page by its path in the repository, README apart."""
    schemas = {SCHEMA: recipe_schema(), GATE_SCHEMA: gate_schema()}
    pages = {path: json.dumps(schema, indent=2, ensure_ascii=False) + "\n" for path, schema in schemas.items()}
    pages[f"{ROOM}/README.md"] = _index()
    pages[f"{ROOM}/recipe.md"] = _recipe_page()
    pages[f"{ROOM}/gate.md"] = _gate_page()
    pages[f"{ROOM}/faults.md"] = _faults_page()
    pages |= {f"{ROOM}/steps/{word}.md": _model_page(word, step) for word, step in all_steps().items()}
    pages |= {f"{ROOM}/checks/{word}.md": _model_page(word, check) for word, check in all_checks().items()}
    tables = Tables.load()
    pages |= {f"{ROOM}/tables/{name}.md": _table_page(name, tables) for name in row_types()}
    return pages


def stale_pages(root: Path) -> list[str]:
    """Paths of pages that are missing, out of date, or left over, and README where its commands are out of date."""
    wanted = all_pages()
    stale = [path for path, text in wanted.items() if _read(root / path) != text]
    room = root / ROOM
    there = [path.relative_to(root).as_posix() for path in sorted(room.rglob("*.md"))] if room.is_dir() else []
    stale += [path for path in there if path not in wanted]
    readme = _read(root / README) or ""
    if BEGIN not in readme or with_commands(readme) != readme:
        stale.append(README)
    return stale


def write_pages(root: Path) -> list[str]:
    """Bring every page up to date; the paths of those that were changed.

    Raises
    ------
    MissingFile
        The folder is not a checkout of the repository.
    """
    if not (root / "pyproject.toml").is_file():
        raise MissingFile(
            "pages are written in a checkout only", found=f"no pyproject.toml in {root}", fix="clone first"
        )
    wanted = all_pages()
    changed = stale_pages(root)
    for path in changed:
        if path == README:
            readme = _read(root / README) or ""
            if BEGIN in readme:
                (root / README).write_text(with_commands(readme), encoding="utf-8", newline="\n")
        elif path in wanted:
            (root / path).parent.mkdir(parents=True, exist_ok=True)
            (root / path).write_text(wanted[path], encoding="utf-8", newline="\n")
        else:
            (root / path).unlink()
    return changed


def with_commands(readme: str) -> str:
    """README's text with the help of every command between the two markers."""
    if BEGIN not in readme or END not in readme:
        return readme
    before, _, rest = readme.partition(BEGIN)
    _, _, after = rest.partition(END)
    whole = _help()
    words = re.findall(r"^  (\w+)", whole.partition("Commands:\n")[2], flags=re.MULTILINE)
    texts = [whole, *(_help(word) for word in words)]
    return f"{before}{BEGIN}\n\n" + "\n".join(f"```text\n{text.strip()}\n```\n" for text in texts) + f"\n{END}{after}"


def _help(*words: str) -> str:
    environment = os.environ | {"COLUMNS": "110", "PYTHONIOENCODING": "utf-8"}
    command = [sys.executable, "-m", "prep", *words, "--help"]
    run = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", env=environment, check=True)  # noqa: S603  # our own module
    return run.stdout


def _index() -> str:
    lines = [
        "# Reference",
        "",
        _MADE,
        "",
        "[The recipe](recipe.md) and its [schema](../recipe.schema.json);",
        "[the gate](gate.md) on a shared folder, and the [schema](../gate.schema.json) of its `gate.yaml`;",
        "[faults](faults.md).",
    ]
    for title, folder, things in (
        ("Steps", "steps", {word: first_line(step) for word, step in all_steps().items()}),
        ("Checks", "checks", {word: first_line(check) for word, check in all_checks().items()}),
        ("Tables", "tables", {name: first_line(kind) for name, kind in row_types().items()}),
    ):
        lines += ["", f"## {title}", ""]
        lines += [f"- [`{word}`]({folder}/{word}.md): {says}" for word, says in things.items()]
    lines += ["", "## Laws and measures", "", "`prep explain WORD` prints each with its formula and source.", ""]
    lines += [f"- `{word}`: {first_line(law)}" for word, law in all_laws().items()]
    return "\n".join(lines) + "\n"


def _recipe_page() -> str:
    rest = {word: model for word, model in recipe_owners().items() if word not in {*all_steps(), *all_checks()}}
    lines = ["# The recipe", "", _MADE]
    for word, model in rest.items():
        lines += ["", f"## `{word}`", "", docstring(model), "", *_settings_table(model)]
    return "\n".join(lines) + "\n"


def _gate_page() -> str:
    lines = ["# The gate", "", _MADE]
    for word, model in gate_owners().items():
        head = [] if word == "gate" else ["", f"## In each of `{word}`"]
        keys = ["", "## Keys of `gate.yaml`"] if word == "gate" else []
        lines += [*head, "", _fenced(docstring(model)), *keys, "", *_settings_table(model)]
    return "\n".join(lines) + "\n"


def _faults_page() -> str:
    lines = ["# Faults", "", _MADE, "", "| code | exit | what it means |", "|---|---|---|"]
    lines += [f"| `{code}` | {fault.exit_status} | {_cell(docstring(fault))} |" for code, fault in all_faults().items()]
    return "\n".join(lines) + "\n"


def _model_page(word: str, model: type[BaseModel]) -> str:
    return "\n".join([f"# `{word}`", "", _MADE, "", _fenced(docstring(model)), "", *_settings_table(model)]) + "\n"


def _table_page(name: str, tables: Tables) -> str:
    table = tables.named(name)
    lines = [
        f"# Table `{name}`",
        "",
        _MADE,
        "",
        first_line(row_types()[name]),
        "",
        "| column | what it says |",
        "|---|---|",
    ]
    lines += [f"| `{column}` | {_cell(note)} |" for column, note in column_notes(row_types()[name]).items()]
    lines += ["", "| row | status | source |", "|---|---|---|"]
    lines += [f"| `{row.name}` | {row.status} | {_cell(row.source)} |" for row in table.rows]
    return "\n".join(lines) + "\n"


def _settings_table(model: type[BaseModel]) -> list[str]:
    settings = settings_of(model)
    if not settings:
        return ["No settings."]
    rows = [
        f"| `{one.word}` | {_cell(one.form)} | {_default_cell(one.default)} | {_cell(one.says)} |" for one in settings
    ]
    return ["| key | what may stand there | default | what it is for |", "|---|---|---|---|", *rows]


def _default_cell(default: str) -> str:
    return {"": "**must be given**", "-": "none"}.get(default, f"`{default}`")


def _cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").split())


def _fenced(text: str) -> str:
    """A docstring as Markdown: its underlined sections become headings, indented blocks stay as they are."""
    lines = text.splitlines()
    out: list[str] = []
    for index, line in enumerate(lines):
        under = lines[index + 1] if index + 1 < len(lines) else ""
        if line and len(under) >= 3 and not under.strip("-"):
            out.append(f"## {line}")
        elif not (len(line) >= 3 and not line.strip("-")):
            out.append(line)
    return "\n".join(out)


def _read(path: Path) -> str | None:
    return path.read_text(encoding="utf-8") if path.is_file() else None
