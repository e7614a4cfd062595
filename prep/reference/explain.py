"""`explain`: what `prep` knows by a word, as plain text for a terminal."""

from __future__ import annotations

import difflib
import importlib
import pkgutil
import textwrap
from collections.abc import Callable, Iterator
from functools import cache
from inspect import isfunction

from pydantic import BaseModel

import prep.geometry
import prep.physics
from prep.checks import all_checks
from prep.errors import PrepError, UnknownWord
from prep.recipe import Recipe
from prep.recipe.gate_rules import GATE_FILE, Rules
from prep.recipe.overrides import column_notes, process_words
from prep.reference.setting import Setting, docstring, first_line, models_inside, settings_of
from prep.steps import all_steps
from prep.tables import TableRow, Tables

WIDTH = 100


def explain(word: str) -> str:
    """Everything known by a word: a step, a check, a setting, a fault, a table or one of its columns, a law.

    Parameters
    ----------
    word : str
        `seat_magnets`, `seat_magnets.fixing`, `fixing`, `too-weak`, `magnets`, `magnets.diameter_mm`, `pull_force`;
        `gate.quiet`; or one of the lists `steps`, `checks`, `tables`, `faults`, `laws`, `recipe`, `gate`.

    Raises
    ------
    UnknownWord
        Nothing is known by that word; the nearest known words are in the fix.
    """
    asked = word.strip()
    for key in (asked, asked.replace(" ", "_").replace("-", "_").lower(), asked.replace("_", "-").lower()):
        finders = (_lists,) if key in _LISTS else (_things, _settings)
        texts = [text for find in finders if (text := find(key))]
        if texts:
            return "\n\n".join(texts).rstrip() + "\n"
    near = difflib.get_close_matches(asked, all_words(), n=3, cutoff=0.5)
    listed = " or ".join(f"`{each}`" for each in near)
    raise UnknownWord(
        f"nothing is known by `{asked}`",
        found=f"`{asked}`",
        fix=f"did you mean {listed}?"
        if near
        else "`prep explain steps` (or checks, tables, faults, laws, recipe, gate) lists what is known",
    )


def all_words() -> list[str]:
    """Every word that `explain` answers to, settings of one owner included."""
    owned = [f"{owner}.{setting.word}" for owner, model in owners().items() for setting in settings_of(model)]
    bare = {name.partition(".")[2] for name in owned}
    things = [*_LISTS, *all_steps(), *all_checks(), *all_faults(), *row_types(), *all_laws()]
    return sorted({*things, *owned, *bare})


@cache
def all_faults() -> dict[str, type[PrepError]]:
    """Every fault by its code, in alphabetical order."""
    found: dict[str, type[PrepError]] = {}
    waiting = list(PrepError.__subclasses__())
    while waiting:
        kind = waiting.pop()
        waiting += kind.__subclasses__()
        if kind.__module__.startswith("prep."):
            found[kind.code] = kind
    return dict(sorted(found.items()))


@cache
def all_laws() -> dict[str, Callable[..., object]]:
    """Every law of physics and measure of geometry that stands in a file of its own name."""
    found: dict[str, Callable[..., object]] = {}
    for room in (prep.physics, prep.geometry):
        for module in sorted(pkgutil.iter_modules(room.__path__), key=lambda module: module.name):
            thing = getattr(importlib.import_module(f"{room.__name__}.{module.name}"), module.name, None)
            if isfunction(thing) and docstring(thing):
                found[module.name] = thing
    return found


@cache
def row_types() -> dict[str, type[TableRow]]:
    """The type of row of every table, by the table's name."""
    tables = Tables.load()
    return {name: type(tables.named(name).rows[0]) for name in Tables.__dataclass_fields__}


def owners() -> dict[str, type[BaseModel]]:
    """Every mapping that a recipe or `gate.yaml` can hold, by the word that leads to it."""
    return recipe_owners() | gate_owners()


@cache
def recipe_owners() -> dict[str, type[BaseModel]]:
    """Every mapping a recipe can hold, by the word that leads to it: steps, checks, and the rest."""
    return _reached({"recipe": Recipe, **all_steps(), **all_checks(), "process": process_words()})


@cache
def gate_owners() -> dict[str, type[BaseModel]]:
    """Every mapping that `gate.yaml` can hold, by the word that leads to it; `gate` for the whole."""
    return _reached({"gate": Rules})


# --- one word ---------------------------------------------------------------------------------------


def _reached(roots: dict[str, type[BaseModel]]) -> dict[str, type[BaseModel]]:
    """The roots, and every mapping that stands somewhere inside them."""
    found = dict(roots)
    waiting = list(found.values())
    while waiting:
        model = waiting.pop(0)
        for name, field in model.model_fields.items():
            for inner in models_inside(field):
                word = field.alias or name
                if word in {"steps", "checks", "process"} or inner in found.values() or word in found:
                    continue
                found[word] = inner
                waiting.append(inner)
    return found


def _lists(word: str) -> str:
    return _LISTS[word]() if word in _LISTS else ""


def _things(word: str) -> str:
    texts = []
    if word in all_steps():
        texts.append(_model_text(f"step {word}", all_steps()[word]))
    if word in all_checks():
        texts.append(_model_text(f"check {word}", all_checks()[word]))
    if word in all_faults():
        fault = all_faults()[word]
        texts.append(f"fault {word} (exit status {fault.exit_status})\n\n{docstring(fault)}")
    table, _, column = word.partition(".")
    if table in row_types():
        texts.append(_table_text(table, column))
    if word in all_laws():
        law = all_laws()[word]
        texts.append(f"law {word}\n\n{docstring(law)}")
    return "\n\n".join(text for text in texts if text)


def _settings(word: str) -> str:
    """Settings by `owner.setting` or by their bare word, those that say the same told once, then what they hold."""
    owner, _, bare = word.rpartition(".")
    told: dict[Setting, list[str]] = {}
    inside: dict[type[BaseModel], str] = {}
    for name, model in owners().items():
        if owner and name != owner:
            continue
        for setting in settings_of(model):
            if setting.word != bare:
                continue
            told.setdefault(setting, []).append(f"{name}.{bare}")
            field = next(each for key, each in model.model_fields.items() if (each.alias or key) == bare)
            inside |= {each: bare for each in models_inside(field) if each in owners().values()}
    texts = [
        f"setting {', '.join(names)}\n\n" + "\n".join(_setting_lines(setting, "  ")) for setting, names in told.items()
    ]
    if word in owners() and owners()[word] not in inside and word not in {*all_steps(), *all_checks()}:
        inside[owners()[word]] = word
    texts += [_model_text(f"mapping {name}", model) for model, name in inside.items()]
    return "\n\n".join(texts)


# --- text ---------------------------------------------------------------------------------------------


def _model_text(head: str, model: type[BaseModel]) -> str:
    settings = settings_of(model)
    lines = [head, "", docstring(model), "", "Settings" if settings else "No settings."]
    for setting in settings:
        lines += ["", f"  {setting.word}", *_setting_lines(setting, "    ")]
    return "\n".join(lines)


def _setting_lines(setting: Setting, indent: str) -> Iterator[str]:
    if setting.default == "":
        default = "must be given"
    else:
        default = "may be left out" if setting.default == "-" else f"default: {setting.default}"
    for text in (setting.says, f"{setting.form}; {default}"):
        if text:
            yield textwrap.fill(text, WIDTH, initial_indent=indent, subsequent_indent=indent, break_long_words=False)


def _table_text(name: str, column: str) -> str:
    row_type = row_types()[name]
    notes = column_notes(row_type)
    if column:
        return f"column {name}.{column}\n\n  {notes[column] or 'see the name'}" if column in notes else ""
    width = max(len(each) for each in notes)
    lines = [f"table {name} (`prep table {name}` lists its rows)", "", first_line(row_type), "", "Columns"]
    lines += [f"  {each:{width}}  {note}" for each, note in notes.items()]
    lines += ["", f"A shop adds or changes rows in shop/{name}.csv beside the recipe."]
    return "\n".join(lines)


def _gate_text() -> str:
    heads = {word: f"mapping {word}" for word in gate_owners()} | {"gate": f"gate, the file {GATE_FILE} in the folder"}
    return "\n\n".join(_model_text(heads[word], model) for word, model in gate_owners().items())


def _listing(title: str, entries: dict[str, str]) -> str:
    width = max((len(word) for word in entries), default=0)
    lines = [
        textwrap.fill(f"{word:{width}}  {says}", WIDTH, initial_indent="  ", subsequent_indent=" " * (width + 4))
        for word, says in entries.items()
    ]
    return "\n".join([title, "", *lines])


_LISTS: dict[str, Callable[[], str]] = {
    "steps": lambda: _listing("The steps a recipe may ask for", {w: first_line(s) for w, s in all_steps().items()}),
    "checks": lambda: _listing("The checks of every build", {w: first_line(c) for w, c in all_checks().items()}),
    "tables": lambda: _listing("The tables", {name: first_line(kind) for name, kind in row_types().items()}),
    "faults": lambda: _listing("The faults a person can meet", {c: first_line(f) for c, f in all_faults().items()}),
    "laws": lambda: _listing("The laws and measures used", {n: first_line(law) for n, law in all_laws().items()}),
    "recipe": lambda: _model_text("recipe, one YAML file per model", Recipe),
    "gate": _gate_text,
    GATE_FILE: _gate_text,
    "watch": _gate_text,
}
