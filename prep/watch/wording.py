"""`one_reason`: a verdict's one reason and one action, each a line that a colleague understands."""

from __future__ import annotations

import glob
import json
import os
import re
from pathlib import Path

from prep.build.checked import CheckedFile, CheckedPart, FaultRecord
from prep.contract import Finding
from prep.errors import Faults, PrepError
from prep.recipe.gate_rules import GATE_FILE
from prep.report.wording import ORDER, figure, place
from prep.watch.names import one_line

IN_MM = "export it again in mm; if that size is right, add to gate.yaml, under `longest`: {}"
OF_UNIT = "export it again in mm, or add to gate.yaml, under `longest`: {}"
OTHER_FILE = "drop the right file, or correct `longest` in gate.yaml"

MAY_NOT = frozenset({"cannot-open-file", "missing-file"})
OF_RECIPES = (", or accept it with a reason", " (`up:`)")
"""What a recipe may do and a bare mesh cannot."""


def one_reason(file: CheckedFile) -> tuple[str, str]:
    """Reason and action of a checked file; the action of one that passed is empty."""
    if file.faults:
        reason, action = of_fault(file.faults[0], file.path)
        others = len(file.faults) - 1
        return f"{reason} (and {others} more)" if others else reason, action
    named = [(name, finding) for name, part in file.parts.items() for finding in part.checks]
    if file.verdict == "pass" or not named:
        return one_line("; ".join(_passed(part) for part in file.parts.values())), ""
    name, worst = min(named, key=lambda pair: (pair[1].verdict == "pass" or pair[1].check != "unit", _rank(pair[1])))
    before = f"{name}: " if file.kind == "recipe" else ""
    fix = worst.fix
    if worst.check == "unit":
        size = f"{worst.value:.4g} mm" if worst.value is not None else "92 mm"
        fix = _of_size(worst.fix, file.path, IN_MM.format(_line(file.path, f"longest: {size}")))
    elif worst.verdict == "warn" and not fix:
        fix = "see what was found on its page"
    others = sum(finding.verdict == worst.verdict for _, finding in named) - 1
    more = f" (and {others} more)" if others and worst.verdict != "pass" and worst.check != "unit" else ""
    return one_line(f"{before}{_says(worst)}{more}"), fix_of(fix)


def of_fault(fault: FaultRecord, file: str) -> tuple[str, str]:
    """Reason and action of a file that was refused."""
    found = f": {fault.found}" if fault.found else ""
    line = re.search(r"[^/\\]+\.ya?ml:\d+", fault.where)
    found += f" ({line[0]})" if line else ""
    fix = _of_size(fault.fix, file, OTHER_FILE) if fault.code == "wrong-unit" else fault.fix
    return one_line(f"{fault.what}{found}"), fix_of(fix)


def span(seconds: float) -> str:
    """A time for reading, in s or min."""
    return f"{seconds:g} s" if seconds < 90.0 else f"{seconds / 60.0:.3g} min"


def waiting_for(trouble: FaultRecord) -> str:
    """Why a file has no verdict yet."""
    if trouble.code in MAY_NOT:
        return one_line(": ".join(text for text in (trouble.what, trouble.found) if text))
    return one_line(f"still copying: {trouble.what}")


def of_rules(fault: PrepError, folder: Path) -> str:
    """What is wrong with gate.yaml or the shop's tables, for the board: the first fault, and how many more."""
    first, *more = fault.faults if isinstance(fault, Faults) else (fault,)
    where = first.where.replace(f"{folder}{os.sep}", "")
    others = f" (and {len(more)} more)" if more else ""
    kept = "the last good rules are kept" if where.startswith(GATE_FILE) else "files wait until it is mended"
    return one_line(f"{where}: {first.what}{others}: {first.fix or first.found}; {kept}")


def fix_of(fix: str) -> str:
    """What to do about a bare mesh in a folder: options become keys of gate.yaml; nothing is accepted there."""
    for words in OF_RECIPES:
        fix = fix.replace(words, "")
    return one_line(re.sub(r"`--(\w+)", r"`\1", fix))


def _of_size(fix: str, file: str, otherwise: str) -> str:
    """What to do about a size that is not right: by the unit that a fix names, if it names one."""
    unit = re.search(r"unit:? (\w+)", fix)
    return OF_UNIT.format(_line(file, f"unit: {unit[1]}")) if unit else otherwise


def _line(file: str, says: str) -> str:
    """An entry for gate.yaml on a file, as it has to be written."""
    return f"- {{match: {json.dumps(glob.escape(file), ensure_ascii=False)}, {says}}}"


def _rank(finding: Finding) -> int:
    return ORDER[finding.verdict]


def _says(finding: Finding) -> str:
    spot = place(finding.at_mm)
    at = f", at {spot}" if spot and spot not in finding.says else ""
    unit = f" {finding.unit}" if finding.unit else ""
    limit = "" if finding.limit is None else f", limit {figure(finding.limit)}{unit}"
    return f"{finding.says}{at}{limit}"


def _passed(part: CheckedPart) -> str:
    wall = next((f for f in part.checks if f.check == "wall" and f.value is not None), None)
    thinnest = "" if wall is None or wall.value is None else f", thinnest wall {wall.value:.2f} mm"
    if wall is not None and wall.value is not None and wall.limit is not None and round(wall.value, 2) < wall.limit:
        thinnest += f", as good as the limit of {wall.limit:.2f} mm"
    x, y, z = part.input.extents_mm
    return f"{x:.1f} x {y:.1f} x {z:.1f} mm{thinnest}"
