"""`read_bench`: the parts of a recipe read, mended, put in the assembly's frame and laid on the bench."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from prep.build.bodies import read_bodies
from prep.build.carried import carried_cautions, carried_items
from prep.build.record import InputRecord, RepairRecord
from prep.contract import Bench, Finding, Ledger, Part, Work
from prep.errors import Faults, PrepError
from prep.geometry.mend import Mended, mend
from prep.geometry.raw_mesh import RawMesh
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Solid
from prep.geometry.with_colours import with_colours
from prep.places.place import triple
from prep.recipe import Recipe
from prep.units import show_mm


@dataclass(frozen=True)
class Laid:
    """The bench before the first step.

    Attributes
    ----------
    bench : Bench
    inputs : how each part was read, by name
    findings : what reading found: the unit, and bodies that were mended
    cautions : what a person must know of the bought things it carries
    """

    bench: Bench
    inputs: dict[str, InputRecord]
    findings: tuple[Finding, ...]
    cautions: tuple[str, ...] = ()


def read_bench(recipe: Recipe, tell: Callable[[str, float], None] = lambda *_: None) -> Laid:
    """Read every part of a recipe, and every body its steps name.

    Raises
    ------
    PrepError, Faults
        Every mesh that cannot be read or mended, each with the recipe's line.
    """
    parts: dict[str, Part] = {}
    inputs: dict[str, InputRecord] = {}
    findings: list[Finding] = []
    faults: list[PrepError] = []
    for turn, name in enumerate(recipe.parts):
        tell(f"reading {name}", turn / len(recipe.parts))
        try:
            part, record, found = _read_part(recipe, name)
        except PrepError as fault:
            faults.append(fault.at(f"{recipe.where('parts', name)}, part {name}"))
            continue
        parts[name], inputs[name] = part, record
        findings += found
    bodies, found, broken = read_bodies(recipe)
    findings += found
    faults += broken
    if len(faults) == 1:
        raise faults[0]
    if faults:
        raise Faults(faults)
    process = recipe.process_row
    bench = Bench(
        parts=parts,
        ledger=_first_ledger(recipe),
        process=process,
        tables=recipe.tables,
        wall_limit_mm=_wall_limit(recipe, process.wall_limit_mm),
        bodies=bodies,
        tell=tell,
    )
    return Laid(bench, inputs, tuple(findings), carried_cautions(recipe))


def _read_part(recipe: Recipe, name: str) -> tuple[Part, InputRecord, list[Finding]]:
    wanted = recipe.parts[name]
    raw = read_mesh(recipe.mesh_path(name), unit=wanted.unit, object_name=wanted.object)
    longest = wanted.longest
    mended = mend(raw, longest=(longest.value, (longest.high - longest.low) / 2.0) if longest is not None else None)
    solid = mended.solid
    findings = []
    if longest is not None:
        found = float(solid.extents_mm.max())
        says = f"longest side {show_mm(found)}, as stated"
        findings.append(
            Finding(check="unit", part=name, verdict="pass", value=found, limit=longest.value, unit="mm", says=says)
        )
    else:
        found = float(solid.extents_mm.max())
        says = f"longest side {show_mm(found)} if the file is in {raw.unit}; the recipe does not state it"
        fix = f"add `longest: {found:.0f} mm ± 1 mm` to the part if that is right"
        findings.append(Finding(check="unit", part=name, verdict="pass", value=found, unit="mm", says=says, fix=fix))
    record = input_record(wanted.mesh, raw, mended)
    findings += repair_findings(name, mended)
    solid, colours = with_colours(raw, solid)
    if wanted.place is not None:
        solid = solid.moved(np.array(wanted.place.matrix()))
    return _part(recipe, name, solid, colours), record, findings


def input_record(path: str, raw: RawMesh, mended: Mended) -> InputRecord:
    """How one mesh was read, and every repair made to it."""
    solid = mended.solid
    return InputRecord(
        path=path,
        sha256=raw.sha256,
        unit=raw.unit,
        triangles=len(solid.triangles),
        shells=solid.topology.shells,
        extents_mm=triple(solid.extents_mm),
        volume_mm3=solid.volume_mm3,
        repairs=tuple(
            RepairRecord(
                repair=repair.kind,
                says=repair.says,
                count=repair.count,
                moved_mm=repair.moved_mm,
                volume_change_mm3=repair.volume_change_mm3,
            )
            for repair in mended.repairs
        ),
    )


def repair_findings(name: str, mended: Mended) -> list[Finding]:
    """A warning for every repair that changed the volume by a thousandth or more, as doubled bodies do."""
    return [
        Finding(check="solid", part=name, verdict="warn", says=f"mended on the way in: {repair.says}", made_by="input")
        for repair in mended.repairs
        if abs(repair.volume_change_mm3) > 1e-3 * max(mended.solid.volume_mm3, 1.0)
    ]


def _part(recipe: Recipe, name: str, solid: Solid, colours: tuple[str, ...] | None) -> Part:
    wanted = recipe.parts[name]
    return Part(
        name=name,
        solid=solid,
        original=solid,
        material=recipe.material_row(name),
        up=wanted.up,
        weighed_g=wanted.weighed,
        colours=colours,
    )


def _first_ledger(recipe: Recipe) -> Ledger:
    work = tuple(
        Work(id=f"print {name}", step="print", verb="print", says=f"print {name} in {recipe.material_row(name).name}")
        for name in recipe.parts
    )
    return Ledger(items=carried_items(recipe), work=work)


def _wall_limit(recipe: Recipe, process_limit: float) -> float:
    """The wall that steps keep: the recipe's where it sets one, else the process's."""
    wanted = recipe.all_checks()["wall"].check
    return float(getattr(wanted, "limit", None) or process_limit)
