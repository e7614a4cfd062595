"""`check_files`: meshes and recipes examined before a print, each by itself; a file that is refused stops no other."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

import prep
from prep.build.against import compare
from prep.build.checked import CheckedFile, CheckedPart, CheckReport, FaultRecord, heaviest
from prep.build.parts import input_record, read_bench, repair_findings
from prep.build.record import AcceptedRecord, InputRecord
from prep.checks import all_checks
from prep.contract import Bench, Check, Finding, Ledger, Part, worst
from prep.errors import BadValue, Faults, PrepError, WrongUnit
from prep.geometry.mend import mend
from prep.geometry.raw_mesh import MILLIMETRES
from prep.geometry.read_mesh import read_mesh
from prep.geometry.shape_fingerprint import shape_fingerprint
from prep.geometry.solid import Solid
from prep.places.place import Triple
from prep.recipe import read_recipe
from prep.recipe.models import CheckWanted
from prep.tables import ProcessRow, Tables
from prep.units import Band, show_mm
from prep.units.band import UNSTATED

Tell = Callable[[str, float], None]

RECIPES = (".yaml", ".yml")
SMALLEST_MM, LARGEST_MM = 8.0, 1000.0
"""A longest side outside these is hardly a part in mm."""

LIKELY = ("inch", "cm", "mm", "m", "micron")
"""Units a person may have exported in, the likeliest first."""

USUAL_MM = (15.0, 500.0)
"""Where the longest side of a part lies if another unit is to be named as likely."""


@dataclass(frozen=True)
class Asked:
    """What a person asks of every bare mesh; a recipe brings its own process, limits and directions.

    Attributes
    ----------
    longest : the longest side that the mesh must have
    wall_mm : wall and web limit instead of the process's
    unit : of files that name none
    against : an older mesh, or a folder that holds one of the same name
    fine : measure at half the spacing
    """

    process: ProcessRow
    tables: Tables
    longest: Band | None = None
    wall_mm: float | None = None
    unit: str | None = None
    up: Triple = (0.0, 0.0, 1.0)
    against: Path | None = None
    fine: bool = False


@dataclass(frozen=True)
class Checked:
    """What was found, and the solids it was found on, by file and part."""

    report: CheckReport
    solids: Mapping[tuple[str, str], Solid] = field(default_factory=dict)


def check_files(
    paths: Sequence[Path], asked: Asked, *, keep_solids: bool = False, tell: Tell = lambda *_: None
) -> Checked:
    """Examine every file: read it, mend it, run every check on it, compare it with an older one if asked.

    Parameters
    ----------
    paths : sequence of Path
        Meshes of any format, or recipes (`.yaml`).
    keep_solids : bool
        Hand the solids back as well, for a map; else only one file's are in memory at a time.

    Raises
    ------
    BadValue
        One old mesh is to be compared with several files.

    Notes
    -----
    A bare mesh is laid on a bench of its own, with no steps and an empty ledger, so every finding is about the mesh as
    it came. A build calls such findings warnings, because there the question is what the steps did to a mesh that its
    maker has accepted. Here the mesh itself is asked about, so the checks that say so (`Check.fails_input`: walls and
    webs, which break) fail it when it is under a limit; what only costs looks or work stays a warning.

    The parts of a recipe are read, placed and checked by the recipe's own process and limits, and what it accepts is
    kept as a warning. Its steps are not run: they can take minutes, and `prep build` runs every check on their result.
    """
    if asked.against is not None and len(paths) > 1 and not asked.against.is_dir():
        raise BadValue(
            "one older mesh cannot be compared with several files",
            found=f"{len(paths)} files against {asked.against}",
            fix="name one file, or a folder that holds older ones of the same names",
        )
    begun = time.perf_counter()
    files: list[CheckedFile] = []
    solids: dict[tuple[str, str], Solid] = {}
    for turn, path in enumerate(paths):
        told = _within(tell, path.name, turn, len(paths))
        try:
            file, kept = _recipe(path, asked, told) if _is_recipe(path) else _mesh(path, asked, told)
        except PrepError as fault:
            files.append(_refused(path, fault, asked))
            continue
        files.append(file)
        if keep_solids:
            solids |= {(str(path), name): solid for name, solid in kept.items()}
    report = CheckReport(
        prep=prep.__version__,
        verdict=heaviest([file.verdict for file in files]),
        files=tuple(files),
        timing_s={"whole": round(time.perf_counter() - begun, 3)},
    )
    return Checked(report, solids)


def _mesh(path: Path, asked: Asked, tell: Tell) -> tuple[CheckedFile, dict[str, Solid]]:
    name = path.stem or path.name
    tell("reading", 0.0)
    raw = read_mesh(path, unit=asked.unit)
    band = asked.longest.or_within(UNSTATED) if asked.longest is not None else None
    longest = (band.value, (band.high - band.low) / 2.0) if band is not None else None
    try:
        mended = mend(raw, longest=longest)
    except WrongUnit as fault:
        fault.fix = fault.fix.replace("`unit: ", "`--unit ").replace("`longest`", "`--longest`")
        raise fault.at(str(path)) from None
    except PrepError as fault:
        raise fault.at(str(path)) from None
    record, notes = input_record(str(path), raw, mended), raw.notes
    solid, findings = mended.solid, [_unit(name, mended.solid, raw.unit, band), *repair_findings(name, mended)]
    del raw, mended
    bench, checks = bare_bench(name, solid, asked, tell), bare_checks(asked)
    findings += _examine(checks, bench, tell)[0]
    checked = _part(bench, name, record, notes, findings)
    if asked.against is not None:
        old = asked.against / path.name if asked.against.is_dir() else asked.against
        tell(f"comparing with {old.name}", 0.95)
        against = compare(old, bench, name, checks, unit=asked.unit)
        checked = checked.model_copy(update={"against": against})
    file = CheckedFile(
        path=str(path), kind="mesh", verdict=checked.verdict, process=asdict(asked.process), parts={name: checked}
    )
    return file, {name: solid}


def bare_bench(name: str, solid: Solid, asked: Asked, tell: Tell = lambda *_: None) -> Bench:
    """The bench on which a bare mesh is examined: one part as it came, no steps, an empty ledger."""
    return Bench(
        parts={name: Part(name, solid, solid, asked.tables.materials.rows[0], up=asked.up)},
        ledger=Ledger(),
        process=asked.process,
        tables=asked.tables,
        wall_limit_mm=asked.wall_mm or asked.process.wall_limit_mm,
        fine=asked.fine,
        tell=tell,
    )


def bare_checks(asked: Asked) -> dict[str, CheckWanted]:
    """Every check at the limits asked of a bare mesh."""
    checks = {word: CheckWanted(check=kind()) for word, kind in all_checks().items()}
    if asked.wall_mm is not None:
        tighter = {"limit": f"{asked.wall_mm!r} mm"}
        checks |= {w: CheckWanted(check=all_checks()[w].model_validate(tighter)) for w in ("wall", "web")}
    return checks


def _recipe(path: Path, asked: Asked, tell: Tell) -> tuple[CheckedFile, dict[str, Solid]]:
    recipe = read_recipe(path)
    if asked.against is not None:
        raise BadValue(
            "a recipe is compared by its meshes",
            where=str(path),
            found="a recipe and `--against`",
            fix="check its meshes against the older ones, or use `prep diff` on two reports",
        )
    laid = read_bench(recipe, tell)
    bench = replace(laid.bench, fine=asked.fine, tell=tell)
    examined, accepted = _examine(recipe.all_checks(), bench, tell)
    findings = [*laid.findings, *examined]
    parts = {
        name: _part(bench, name, laid.inputs[name], (), [f for f in findings if f.part == name]) for name in bench.parts
    }
    file = CheckedFile(
        path=str(path),
        kind="recipe",
        verdict=heaviest([part.verdict for part in parts.values()]),
        process=asdict(bench.process),
        parts=parts,
        accepted=tuple(accepted),
    )
    return file, {name: part.solid for name, part in bench.parts.items()}


def _examine(checks: Mapping[str, CheckWanted], bench: Bench, tell: Tell) -> tuple[list[Finding], list[AcceptedRecord]]:
    """What every check finds, at the weight it has where the mesh itself is asked about."""
    findings: list[Finding] = []
    accepted: list[AcceptedRecord] = []
    for turn, (word, wanted) in enumerate(checks.items()):
        tell(f"checking {word}", 0.1 + 0.8 * turn / len(checks))
        found = [judged(wanted.check, finding) for finding in wanted.check.examine(bench)]
        if wanted.accept and any(finding.verdict == "fail" for finding in found):
            found = [f.model_copy(update={"verdict": "warn"}) if f.verdict == "fail" else f for f in found]
            accepted.append(AcceptedRecord(check=word, reason=wanted.accept))
        findings += found
    return findings, accepted


def judged(check: Check, finding: Finding) -> Finding:
    """The finding as it weighs on a bare mesh: what is under a limit fails there, if the check says so."""
    raised = check.fails_input and finding.verdict == "warn" and finding.made_by == "input"
    return finding.model_copy(update={"verdict": "fail"}) if raised and finding.limit is not None else finding


def _part(
    bench: Bench, name: str, record: InputRecord, notes: tuple[str, ...], findings: Sequence[Finding]
) -> CheckedPart:
    verdict = worst(tuple(findings))
    return CheckedPart(
        input=record,
        fingerprint=shape_fingerprint(bench.parts[name].solid),
        notes=notes,
        verdict=verdict,
        worst=next((f for f in findings if f.verdict == verdict), None) if verdict != "pass" else None,
        checks=tuple(findings),
    )


def _unit(name: str, solid: Solid, unit: str, stated: Band | None) -> Finding:
    """The longest side, as stated; or a hint where it is hardly that of a part in this unit."""
    found = float(solid.extents_mm.max())
    if stated is not None:
        says = f"longest side {show_mm(found)}, as stated"
        return Finding(check="unit", part=name, verdict="pass", value=found, limit=stated.value, unit="mm", says=says)
    says = f"longest side {show_mm(found)} if the file is in {unit}"
    if SMALLEST_MM <= found <= LARGEST_MM:
        fix = f"give `--longest '{found:.0f} mm'` if that is right"
        return Finding(check="unit", part=name, verdict="pass", value=found, unit="mm", says=says, fix=fix)
    readings = [(other, found / MILLIMETRES[unit] * MILLIMETRES[other]) for other in LIKELY if other != unit]
    likely = [f"{show_mm(size)} if {other}" for other, size in readings if USUAL_MM[0] <= size <= USUAL_MM[1]]
    first = next((other for other, size in readings if USUAL_MM[0] <= size <= USUAL_MM[1]), None)
    small = "small" if found < SMALLEST_MM else "large"
    return Finding(
        check="unit",
        part=name,
        verdict="warn",
        value=found,
        limit=SMALLEST_MM if found < SMALLEST_MM else LARGEST_MM,
        unit="mm",
        says=f"{says}: {small} for a part" + (f"; {', '.join(likely)}" if likely else ""),
        fix=(f"read it with `--unit {first}`, or " if first else "")
        + "state its size with `--longest` if that is right",
    )


def _refused(path: Path, fault: PrepError, asked: Asked) -> CheckedFile:
    held = fault.faults if isinstance(fault, Faults) else (fault,)
    return CheckedFile(
        path=str(path),
        kind="recipe" if _is_recipe(path) else "mesh",
        verdict="refused",
        process=asdict(asked.process),
        faults=tuple(FaultRecord.of(one) for one in held),
    )


def _is_recipe(path: Path) -> bool:
    return path.suffix.lower() in RECIPES


def _within(tell: Tell, name: str, turn: int, count: int) -> Tell:
    return lambda phase, share: tell(f"{name}: {phase}", (turn + share) / max(count, 1))
