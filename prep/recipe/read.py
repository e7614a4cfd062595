"""`read_recipe`: a recipe file as models, or all its faults at once."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from prep.checks import all_checks
from prep.contract import Step
from prep.errors import (
    BadRecipe,
    BadValue,
    Faults,
    LooserLimit,
    MissingKey,
    PrepError,
    UnknownCheck,
    UnknownPart,
    UnknownStep,
)
from prep.recipe.faults import faults_of, keys_of, unknown_key
from prep.recipe.mesh_files import missing_bodies, missing_mesh
from prep.recipe.models import (
    Carried,
    CheckWanted,
    Outputs,
    PartWanted,
    Recipe,
    row_mass_g,
)
from prep.recipe.order import out_of_order
from prep.recipe.overrides import MaterialWanted, ProcessWanted, process_words
from prep.recipe.part_names import faulty_names
from prep.recipe.source import Keys, Source, read_source
from prep.steps import all_steps
from prep.tables import Tables
from prep.tables.table import nearest_word

Model = TypeVar("Model", bound=BaseModel)

VERSION = 1


def read_recipe(path: Path | str) -> Recipe:
    """The recipe in a file, its tables loaded and every name in it known.

    Raises
    ------
    PrepError, Faults
        Everything that is wrong with it, each with line, what was found and one thing to do.

    Notes
    -----
    Meshes are not opened; only whether their files are there is looked at.
    """
    source = read_source(Path(path))
    reading = _Reading(source)
    recipe = reading.run()
    if reading.faults or recipe is None:
        faults = sorted(reading.faults, key=_line_of)
        raise faults[0] if len(faults) == 1 else Faults(faults)
    return recipe


class _Reading:
    """One pass over a recipe's data that goes on after a fault."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.faults: list[PrepError] = []
        self.tables = self._load_tables()
        self.parts: dict[str, PartWanted] = {}

    def run(self) -> Recipe | None:
        data = self.source.data
        if not self._version_fits(data):
            return None
        for key in data:
            if key not in Recipe.model_fields:
                self._add(unknown_key(key, keys_of(Recipe), "a recipe"), (key,))
        listed = self._part_names()
        read: dict[str, Any] = {
            key: data[key] for key in ("recipe", "project", "revision") if key in data and data[key] is not None
        }
        process = self._process()
        self._read_parts()
        carries = tuple(self._each("carries", Carried))
        steps = self._steps()
        checks = self._checks(process)
        outputs = self._model(Outputs, ("outputs",)) if data.get("outputs") is not None else Outputs()
        self._know_parts(carries, steps, listed)
        self._head(read)
        if self.faults or process is None or outputs is None:
            return None
        read |= {
            "process": process,
            "parts": self.parts,
            "carries": carries,
            "steps": tuple(step for _, step in steps),
            "checks": checks,
            "outputs": outputs,
        }
        return Recipe(**read).with_source(self.source, self.tables)

    # --- sections ----------------------------------------------------------------------------

    def _version_fits(self, data: Mapping[str, Any]) -> bool:
        if "recipe" not in data:
            self._add(
                MissingKey("`recipe` is missing: the version of the language", fix=f"begin with `recipe: {VERSION}`"),
                (),
            )
        elif data["recipe"] != VERSION or isinstance(data["recipe"], bool):
            self._add(
                BadRecipe(
                    "the recipe is written in another version of the language",
                    found=f"`recipe: {data['recipe']}`, this prep reads version {VERSION}",
                    fix=f"write `recipe: {VERSION}`",
                ),
                ("recipe",),
            )
            return False
        return True

    def _head(self, read: Mapping[str, Any]) -> None:
        """Faults of the keys that hold one value each; the sections have been read on their own."""
        missing = [key for key in ("project", "process", "parts") if self.source.data.get(key) is None]
        for key in missing:
            field = Recipe.model_fields[key]
            example = {"parts": "{body: {mesh: body.stl, material: pla}}"}.get(key) or (field.examples or [""])[0]
            self._add(MissingKey(f"`{key}` is missing: {field.description}", fix=f"add `{key}: {example}`"), ())
        stand_in = {
            "process": ProcessWanted(based_on="-"),
            "parts": {"-": PartWanted(mesh="-", material=MaterialWanted(name="-"))},
        }
        try:
            Recipe(**{"recipe": VERSION, "project": "-"} | dict(read) | stand_in)
        except ValidationError as error:
            self.faults += faults_of(error, Recipe, self.source, ())

    def _process(self) -> ProcessWanted | None:
        given = self.source.data.get("process")
        if given is None:
            return None
        if isinstance(given, str):
            process: ProcessWanted | None = ProcessWanted(based_on=given)
        else:
            process = self._model(process_words(), ("process",))
        if process is not None:
            self._known_row(lambda: process.over(self.tables), ("process", "based_on"))
        return process

    def _part_names(self) -> list[str]:
        parts = self.source.data.get("parts")
        return list(parts) if isinstance(parts, Mapping) else []

    def _read_parts(self) -> None:
        given = self.source.data.get("parts")
        if given is None:
            return
        if not isinstance(given, Mapping) or not given:
            self._add(
                BadValue("`parts` is a mapping of names to parts", fix="write `body: {mesh: body.stl, material: pla}`"),
                ("parts",),
            )
            return
        for name, fault in faulty_names(given):
            self._add(fault, ("parts", name))
        for name in given:
            keys: Keys = ("parts", name)
            part = self._model(PartWanted, keys)
            if part is not None:
                self.parts[name] = part
                self._known_row(lambda part=part: part.material.over(self.tables), (*keys, "material"))
                missing = missing_mesh(self.source.path.parent, part.mesh)
                if missing is not None:
                    self._add(missing, (*keys, "mesh"))

    def _steps(self) -> list[tuple[int, Step]]:
        given = self.source.data.get("steps")
        known = all_steps()
        found: list[tuple[int, Step]] = []
        for index, one in enumerate(self._list("steps", given)):
            keys: Keys = ("steps", index)
            word = one.get("step") if isinstance(one, Mapping) else None
            if not isinstance(word, str):
                example = next(iter(known), "seat_magnets")
                self._add(
                    MissingKey("a step begins with its word", found=f"`{one}`"[:80], fix=f"write `- step: {example}`"),
                    keys,
                )
                continue
            if word not in known:
                near = nearest_word(word, known)
                fault = UnknownStep(
                    f"there is no step `{word}`",
                    found=f"`{word}`; steps are {', '.join(known)}",
                    fix=f"did you mean `{near}`?" if near else "`prep explain steps` lists them",
                )
                self._add(fault, (*keys, "step"))
                continue
            step = self._model(known[word], keys, step=_step_name(one))
            if step is not None:
                found.append((index, step))
        for late, wrong in out_of_order(found):
            self._add(wrong, ("steps", late))
        return self._titled(found)

    def _titled(self, found: list[tuple[int, Step]]) -> list[tuple[int, Step]]:
        """Steps of which no two share a title: unnamed ones are numbered, a name given twice is a fault."""
        taken: set[str] = set()
        for index, step in found:
            if step.name is not None and step.name in taken:
                fault = BadValue(
                    "two steps have the same name, so a report could not tell them apart",
                    found=f"`{step.name}` again",
                    fix="give one another name",
                )
                self._add(fault, ("steps", index, "name"))
            taken |= {step.name} if step.name is not None else set()
        titled = []
        for index, step in found:
            title, number = step.title, 1
            while step.name is None and title in taken:
                number += 1
                title = f"{step.title} {number}"
            taken.add(title)
            titled.append((index, step if title == step.title else step.model_copy(update={"name": title})))
        return titled

    def _checks(self, process: ProcessWanted | None) -> dict[str, CheckWanted]:
        given = self.source.data.get("checks") or {}
        if not isinstance(given, Mapping):
            self._add(
                BadValue("`checks` is a mapping", found=f"`{given}`"[:80], fix="write `checks: {wall: 1.2 mm}`"),
                ("checks",),
            )
            return {}
        known = all_checks()
        found: dict[str, CheckWanted] = {}
        for word, settings in given.items():
            keys: Keys = ("checks", word)
            if word not in known:
                near = nearest_word(word, known)
                fault = UnknownCheck(
                    f"there is no check `{word}`",
                    found=f"`{word}`; checks are {', '.join(known)}",
                    fix=f"did you mean `{near}`?" if near else "`prep explain checks` lists them",
                )
                self._add(fault, keys)
                continue
            wanted = self._check(word, settings, keys)
            if wanted is not None:
                found[word] = wanted
                self._not_looser(word, wanted, process, keys)
        return found

    def _check(self, word: str, settings: object, keys: Keys) -> CheckWanted | None:
        kind = all_checks()[word]
        accept = None
        if isinstance(settings, Mapping):
            accept = settings.get("accept")
            settings = {key: value for key, value in settings.items() if key != "accept"}
        elif "limit" in kind.model_fields:
            settings = {"limit": settings}
        else:
            fix = f'write `{word}: {{accept: "reason"}}` or one of: {", ".join(keys_of(kind)) or "no settings"}'
            self._add(BadValue(f"`{word}` has no single limit", found=f"`{settings}`"[:80], fix=fix), keys)
            return None
        try:
            check = kind.model_validate(settings)
            return CheckWanted(check=check, accept=accept)
        except ValidationError as error:
            self.faults += faults_of(error, _with_accept(kind), self.source, keys)
            return None

    # --- what must fit together -----------------------------------------------------------------

    def _know_parts(self, carries: tuple[Carried, ...], steps: list[tuple[int, Step]], listed: list[str]) -> None:
        for index, carried in enumerate(carries):
            self._known_part(carried.part, listed, ("carries", index, "part"))
            self._known_row(lambda carried=carried: row_mass_g(carried, self.tables), ("carries", index, "item"))
        for missing, keys in missing_bodies(self.source, steps):
            self._add(missing, keys)
        sound = dict(steps)
        for index, one in enumerate(self._list("steps", self.source.data.get("steps"), silent=True)):
            named = [*sound[index].changes(), *sound[index].reads()] if index in sound else []
            for key in ("part", "parts", "between"):
                value = one.get(key) if isinstance(one, Mapping) else None
                named += [value] if isinstance(value, str) else []
                named += [each for each in value if isinstance(each, str)] if isinstance(value, list) else []
            for name in dict.fromkeys(named):
                self._known_part(name, listed, ("steps", index), _step_name(one))

    def _known_part(self, name: str, listed: list[str], keys: Keys, step: str = "") -> None:
        if name in listed:
            return
        near = nearest_word(name, listed)
        fix = f"did you mean `{near}`?" if near else "list it under `parts`"
        where = f'step "{step}"' if step else ""
        found = f"`{name}`; parts are {', '.join(listed)}"
        self._add(UnknownPart(f"there is no part `{name}`", found=found, fix=fix, where=where), keys)

    def _known_row(self, look: Any, keys: Keys) -> None:  # noqa: ANN401  # any callable without arguments
        try:
            look()
        except PrepError as fault:
            self._add(fault, keys)

    def _not_looser(self, word: str, wanted: CheckWanted, process: ProcessWanted | None, keys: Keys) -> None:
        limit = getattr(wanted.check, "limit", None)
        if limit is None or wanted.accept is not None or process is None:
            return
        try:
            row = process.over(self.tables)
        except PrepError:
            return
        least = getattr(row, f"{word}_limit_mm", None)
        if least is not None and limit < least:
            fault = LooserLimit(
                f"the limit of `{word}` is looser than the process allows",
                found=f"{limit:g} mm, the process says {least:g} mm",
                fix=f'write `{word}: {{limit: {limit:g} mm, accept: "the reason"}}` or keep {least:g} mm',
            )
            self._add(fault, keys)

    # --- small steps -----------------------------------------------------------------------------

    def _model(self, model: type[Model], keys: Keys, step: str = "") -> Model | None:
        try:
            return model.model_validate(self.source.at(keys))
        except ValidationError as error:
            self.faults += faults_of(error, model, self.source, keys, step)
            return None

    def _each(self, key: str, model: type[Model]) -> list[Model]:
        made = [self._model(model, (key, index)) for index, _ in enumerate(self._list(key, self.source.data.get(key)))]
        return [one for one in made if one is not None]

    def _list(self, key: str, given: object, *, silent: bool = False) -> list[Any]:
        if given is None:
            return []
        if isinstance(given, list):
            return given
        if not silent:
            self._add(BadValue(f"`{key}` is a list", found=f"`{given}`"[:80], fix="begin each item with `- `"), (key,))
        return []

    def _load_tables(self) -> Tables:
        try:
            return Tables.load(self.source.path.parent / "shop")
        except Faults as several:
            self.faults += several.faults
        except PrepError as fault:
            self.faults.append(fault)
        return Tables.load()

    def _add(self, fault: PrepError, keys: Keys) -> None:
        self.faults.append(fault.at(self.source.where(keys)))


def _with_accept(kind: type[BaseModel]) -> type[BaseModel]:
    """A check's settings together with `accept`, so that a nearest word may be either."""
    from pydantic import create_model

    return create_model(kind.__name__, __base__=kind, accept=(str | None, CheckWanted.model_fields["accept"]))


def _step_name(one: object) -> str:
    """How reports would call a step, from its data; empty where it has no word."""
    if not isinstance(one, Mapping):
        return ""
    return str(one.get("name") or str(one.get("step", "")).replace("_", " "))


def _line_of(fault: PrepError) -> tuple[str, int]:
    found = re.match(r"(.*?):(\d+)", fault.where)
    return (found[1], int(found[2])) if found else (fault.where, 0)
