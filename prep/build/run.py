"""`run`: from a recipe to finished parts in a folder, every step held to its prediction, every file read back."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, fields, replace
from functools import partial
from pathlib import Path

import prep
from prep.build.graph import running_order, step_graph
from prep.build.keys import StepKey, step_key
from prep.build.painting import in_order, paint_turns
from prep.build.parts import Laid, read_bench
from prep.build.record import (
    AcceptedRecord,
    Built,
    FileRecord,
    ModelRecord,
    OutputRecord,
    OverrideRecord,
    PartRecord,
    PlaceRecord,
    RecipeRecord,
    Record,
    StepRecord,
    TargetRecord,
    WallRecord,
    WrittenRecord,
)
from prep.build.store import Store
from prep.build.verify import hold_to
from prep.contract import Bench, Finding, Lift, Outcome, Step, View, weigh, weigh_part, worst
from prep.contract.lit import LEAK_LIMIT, REFLECTANCE, Glow, glowing
from prep.errors import PrepError
from prep.geometry.solid import Array, Solid
from prep.geometry.thickness_map import thickness_map
from prep.geometry.wall_thickness import wall_thickness
from prep.geometry.write_mesh import write_mesh
from prep.places.place import triple
from prep.recipe import CheckWanted, Recipe
from prep.units import show_mm

Tell = Callable[[str, float], None]


@dataclass
class _Diary:
    """What a build notes as it goes; turned into a frozen record at its end."""

    steps: list[StepRecord] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    cautions: dict[str, None] = field(default_factory=dict)
    views: list[View] = field(default_factory=list)
    lifts: list[Lift] = field(default_factory=list)
    extra: dict[str, Solid] = field(default_factory=dict)
    accepted: list[AcceptedRecord] = field(default_factory=list)
    keys: dict[str, StepKey] = field(default_factory=dict)
    timing: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class _Written:
    """Path beside the report, and hash, of every mesh written, by part (the 3MF last) and by extra piece."""

    parts: dict[str, tuple[WrittenRecord, ...]]
    extra: dict[str, tuple[str, str]]


def run(recipe: Recipe, out: Path, store: Store | None = None, tell: Tell = lambda *_: None) -> Built:
    """Run a recipe and write its parts into `out`.

    Parameters
    ----------
    out : Path
        An empty folder; gets `parts/` and `extra/`.
    store : Store, optional
        Outcomes of earlier builds, used where nothing they depend on has changed.

    Raises
    ------
    PrepError
        From reading, a step or writing, with the place in the recipe.
    """
    diary = _Diary()
    with _clock(diary, "read"):
        laid = read_bench(recipe, tell)
    diary.findings += laid.findings
    diary.cautions.update(dict.fromkeys(laid.cautions))
    with _clock(diary, "steps"):
        ahead = tuple(coat for step in recipe.steps for coat in step.coats())
        bench = _run_steps(recipe, replace(laid.bench, ahead=ahead), store, diary, tell)
    bench = replace(bench, ledger=in_order(bench.ledger, paint_turns(bench.ledger, bench.tables)))
    with _clock(diary, "check"):
        _run_checks(recipe, bench, diary, tell)
    with _clock(diary, "write"):
        written = _write(recipe, bench, out, diary, tell)
    if store is not None:
        store.keep_keys(recipe.path, diary.keys)
    return Built(
        record=_record(recipe, laid, bench, written, diary),
        before={name: part.original for name, part in bench.parts.items()},
        after={name: part.solid for name, part in bench.parts.items()},
        extra=diary.extra,
        views=tuple(diary.views),
        lifts=tuple(diary.lifts),
        ledger=bench.ledger,
        walls={name: partial(_walls, bench, name) for name in bench.parts},
        glow=partial(_glow, bench, recipe) if bench.ledger.lamps else None,
    )


def _glow(bench: Bench, recipe: Recipe) -> Glow:
    """What the lamps make glow, by the settings of the `leak` check."""
    asked = recipe.all_checks()["leak"].check
    return glowing(bench, getattr(asked, "limit", LEAK_LIMIT), getattr(asked, "reflectance", REFLECTANCE))


def _walls(bench: Bench, name: str) -> tuple[Solid, Array]:
    """Wall thickness over a finished part, from the measurement the checks have made."""
    limit = max(bench.wall_limit_mm, bench.process.web_limit_mm)
    solid = bench.parts[name].solid
    return thickness_map(solid, wall_thickness(solid, limit_mm=limit, fine=bench.fine))


def _run_steps(recipe: Recipe, bench: Bench, store: Store | None, diary: _Diary, tell: Tell) -> Bench:
    order = running_order(step_graph(recipe.steps))
    for turn, number in enumerate(order):
        step = recipe.steps[number]
        begun = time.perf_counter()
        asked = replace(bench, step_name=step.title, tell=_within(tell, step.title, turn, len(order)))
        try:
            key = step_key(step, asked)
            kept = store.get(key) if store is not None else None
            outcome = kept or _settled(step.apply(asked))
            hold_to(asked, outcome)
        except PrepError as fault:
            raise fault.at(recipe.step_where(number)) from None
        if kept is None and store is not None:
            store.put(key, outcome)
        diary.keys[step.title] = key
        _note(diary, step, outcome, kept is not None, time.perf_counter() - begun)
        bench = bench.after(outcome)
    return bench


def _settled(outcome: Outcome) -> Outcome:
    """The outcome with its solids numbered as the kernel numbers them on import.

    A solid fresh from a boolean and the same solid kept and loaded again would otherwise be numbered differently, and
    a build that reuses a step would write other bytes than one that runs it.
    """
    solids = {name: Solid.of(solid.vertices, solid.triangles) for name, solid in outcome.solids.items()}
    extra = {name: Solid.of(solid.vertices, solid.triangles) for name, solid in outcome.extra.items()}
    return replace(outcome, solids=solids, extra=extra)


def _note(diary: _Diary, step: Step, outcome: Outcome, reused: bool, seconds: float) -> None:
    diary.steps.append(
        StepRecord(
            step=step.word(),
            name=step.title,
            parts=step.changes(),
            reused=reused,
            seconds=round(seconds, 3),
            facts=dict(outcome.facts),
            places=tuple(PlaceRecord.of(placed) for placed in outcome.places),
        )
    )
    diary.findings += outcome.findings
    diary.cautions.update(dict.fromkeys(outcome.cautions))
    diary.views += outcome.views
    for lift in outcome.lifts:
        diary.lifts.append(lift.model_copy(update={"pieces": tuple(f"{step.title}-{piece}" for piece in lift.pieces)}))
    diary.extra.update({f"{step.title}-{piece}": solid for piece, solid in outcome.extra.items()})


def _run_checks(recipe: Recipe, bench: Bench, diary: _Diary, tell: Tell) -> None:
    wanted = recipe.all_checks()
    for turn, (word, setting) in enumerate(wanted.items()):
        tell(f"checking {word}", turn / len(wanted))
        diary.findings += setting.check.examine(bench)
    for word, setting in wanted.items():
        _note_looser(diary, bench, word, setting)
    _note_looser_process(diary, recipe)
    for number, finding in enumerate(diary.findings):
        reason = wanted[finding.check].accept if finding.check in wanted else None
        if reason and finding.verdict == "fail":
            diary.findings[number] = finding.model_copy(update={"verdict": "warn"})
            accepted = AcceptedRecord(check=finding.check, reason=reason)
            if accepted not in diary.accepted:
                diary.accepted.append(accepted)


def _note_looser(diary: _Diary, bench: Bench, word: str, setting: CheckWanted) -> None:
    """A limit looser than the process's stands in the report, with its reason, even where nothing falls under it."""
    limit, usual = getattr(setting.check, "limit", None), getattr(bench.process, f"{word}_limit_mm", None)
    if limit is None or usual is None or limit >= usual:
        return
    reason = setting.accept or ""
    diary.accepted.append(AcceptedRecord(check=word, reason=reason))
    diary.findings.append(
        Finding(
            check=word,
            part=None,
            verdict="warn",
            value=limit,
            limit=usual,
            unit="mm",
            says=f"the recipe allows {show_mm(limit)} where {bench.process.name} asks {show_mm(usual)}: {reason}",
            fix="look at every place thinner than the process asks before printing",
            made_by="recipe",
        )
    )


def _note_looser_process(diary: _Diary, recipe: Recipe) -> None:
    """A limit that the recipe lowers in its process is a loosened limit all the same."""
    usual = recipe.tables.processes.get(recipe.process.based_on)
    for column, value in recipe.process.changed_columns().items():
        if column.endswith("_limit_mm") and value < getattr(usual, column):
            diary.findings.append(
                Finding(
                    check=column.removesuffix("_limit_mm"),
                    part=None,
                    verdict="warn",
                    value=value,
                    limit=getattr(usual, column),
                    unit="mm",
                    says=f"the recipe's process allows {show_mm(value)} where {usual.name} asks "
                    f"{show_mm(getattr(usual, column))}",
                    fix="prove it with a gauge and put it in shop/processes.csv, or take it out",
                    made_by="recipe",
                )
            )


def _write(recipe: Recipe, bench: Bench, out: Path, diary: _Diary, tell: Tell) -> _Written:
    """Write every part and extra piece; each file is read back and compared with its solid."""
    inputs = [recipe.path, *(recipe.mesh_path(name) for name in recipe.parts), *map(recipe.body_path, recipe.bodies())]
    formats = {"3mf": ("3mf",), "stl": ("stl",), "both": ("stl", "3mf")}[recipe.outputs.format]
    parts: dict[str, tuple[WrittenRecord, ...]] = {}
    (out / "parts").mkdir(parents=True, exist_ok=True)
    for turn, (name, part) in enumerate(bench.parts.items()):
        tell(f"writing {name}", turn / len(bench.parts))
        paths = [f"parts/{name}.{suffix}" for suffix in formats]
        parts[name] = tuple(
            WrittenRecord(path=path, sha256=write_mesh(out / path, {name: part.solid}, inputs=inputs)) for path in paths
        )
    extra: dict[str, tuple[str, str]] = {}
    if diary.extra:
        (out / "extra").mkdir(exist_ok=True)
    for stem, solid in diary.extra.items():
        path = f"extra/{stem.replace(' ', '-')}.{formats[-1]}"
        extra[stem] = (path, write_mesh(out / path, {stem: solid}, inputs=inputs))
    return _Written(parts, extra)


def _record(recipe: Recipe, laid: Laid, bench: Bench, written: _Written, diary: _Diary) -> Record:
    whole = weigh(bench)
    target = next((s.facts["target"] for s in reversed(diary.steps) if s.facts.get("target")), None)
    return Record(
        prep=prep.__version__,
        verdict=worst(tuple(diary.findings)),
        project=recipe.project,
        revision=recipe.revision,
        recipe=RecipeRecord(path=recipe.path.name, sha256=recipe.sha256),
        process=asdict(bench.process),
        model=ModelRecord(
            mass_g=whole.mass_g,
            mass_band_g=(whole.low_g, whole.high_g),
            centre_mm=triple(whole.centre_mm),
            target=TargetRecord.model_validate(target) if target else None,
        ),
        parts={name: _part_record(laid, bench, name, written.parts[name], diary) for name in bench.parts},
        steps=tuple(diary.steps),
        items=bench.ledger.items,
        checks=tuple(diary.findings),
        cautions=tuple(diary.cautions),
        accepted=tuple(diary.accepted),
        work=bench.ledger.work,
        voids=bench.ledger.voids,
        films=bench.ledger.films,
        paint=paint_turns(bench.ledger, bench.tables),
        lamps=bench.ledger.lamps,
        windows=bench.ledger.windows,
        bare=bench.ledger.bare,
        overrides=_overrides(recipe),
        extra=tuple(
            FileRecord(
                path=path,
                sha256=sha256,
                name=stem,
                triangles=len(diary.extra[stem].triangles),
                volume_mm3=diary.extra[stem].volume_mm3,
            )
            for stem, (path, sha256) in written.extra.items()
        ),
        timing_s={phase: round(seconds, 3) for phase, seconds in diary.timing.items()},
    )


def _part_record(laid: Laid, bench: Bench, name: str, files: tuple[WrittenRecord, ...], diary: _Diary) -> PartRecord:
    solid, mass = bench.parts[name].solid, weigh_part(bench, name)
    walls = [f for f in diary.findings if f.check == "wall" and f.part == name and f.unit == "mm" and f.at_mm]
    thinnest = min(walls, key=lambda finding: finding.value or 0.0, default=None)
    return PartRecord(
        input=laid.inputs[name],
        output=OutputRecord(
            path=files[-1].path,
            sha256=files[-1].sha256,
            triangles=len(solid.triangles),
            shells=solid.topology.shells,
            genus=solid.topology.genus,
            extents_mm=triple(solid.extents_mm),
            volume_mm3=solid.volume_mm3,
            mass_g=mass.mass_g,
            centre_mm=triple(mass.centre_mm),
            files=files,
        ),
        wall=WallRecord(
            thinnest_mm=thinnest.value, at_mm=thinnest.at_mm, limit_mm=thinnest.limit or bench.wall_limit_mm
        )
        if thinnest is not None and thinnest.value is not None and thinnest.at_mm is not None
        else None,
        material=bench.parts[name].material.name,
    )


def _overrides(recipe: Recipe) -> tuple[OverrideRecord, ...]:
    rows = []
    for column in fields(recipe.tables):
        table = recipe.tables.named(column.name)
        rows += [
            OverrideRecord(table=table.name, row=one.row, says=f"{one.column}: {one.was or 'nothing'} -> {one.now}")
            for one in table.overrides
        ]
        rows += [OverrideRecord(table=table.name, row=row, says="the shop's own row") for row in table.added]
    changed = recipe.process.changed_columns()
    if changed:
        says = "the recipe sets " + ", ".join(f"{name} {value}" for name, value in changed.items())
        rows.append(OverrideRecord(table="processes", row=recipe.process.based_on, says=says))
    return tuple(rows)


def _within(tell: Tell, title: str, turn: int, count: int) -> Tell:
    return lambda phase, share: tell(f"{title}: {phase}", (turn + share) / max(count, 1))


class _clock:  # noqa: N801  reads as a word where it is used
    """Adds the seconds spent inside it to the diary."""

    def __init__(self, diary: _Diary, phase: str) -> None:
        self.diary, self.phase = diary, phase

    def __enter__(self) -> None:
        self.begun = time.perf_counter()

    def __exit__(self, *_: object) -> None:
        self.diary.timing[self.phase] = time.perf_counter() - self.begun
