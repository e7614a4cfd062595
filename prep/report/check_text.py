"""`check_text`: what a check comes to, one line a file, and every finding on request."""

from __future__ import annotations

from prep.build.checked import CheckedFile, CheckedPart, CheckReport, FaultRecord
from prep.contract import Finding
from prep.report.wording import ORDER, by_weight, figure, place

INDENT = "    "


def check_text(report: CheckReport, *, every: bool = False) -> str:
    """One line a file: its verdict and its worst finding with place, number, limit and action.

    Parameters
    ----------
    every : bool
        Below each line, everything that was read, mended and found.

    Notes
    -----
    Plain text without markup; names are printed as they are, control characters left out.
    """
    lines = [line for file in report.files for line in _file(file, every=every)]
    if len(report.files) > 1:
        counts = [(word, sum(file.verdict == word for file in report.files)) for word in ("fail", "refused", "warn")]
        told = ", ".join(f"{count} {word}" for word, count in counts if count)
        lines.append(f"{len(report.files)} files: {told or 'all passed'}")
    return "".join(letter for letter in "\n".join(lines) if letter.isprintable() or letter == "\n")


def _file(file: CheckedFile, *, every: bool) -> list[str]:
    lines = [f"{file.verdict:7} {file.path}: {_headline(file, every=every)}"]
    for fault in file.faults:
        lines += fault_lines(fault)
    for name, part in file.parts.items():
        if part.against is not None:
            lines.append(f"{INDENT}{part.against.says}")
            lines += [f"{INDENT}new: {_finding(finding)}" for finding in part.against.new_thin]
        if every:
            lines += _everything(part, name if file.kind == "recipe" else "")
    lines += [f"{INDENT}accepted {held.check}: {held.reason}" for held in file.accepted]
    return lines


def _headline(file: CheckedFile, *, every: bool) -> str:
    if file.faults:
        return "it cannot be checked" + (f", {len(file.faults)} faults" if len(file.faults) > 1 else "")
    if file.verdict == "pass":
        return "; ".join(_passed(part) for part in file.parts.values())
    named = [(name, finding) for name, part in file.parts.items() for finding in part.checks]
    others = sum(finding.verdict != "pass" for _, finding in named) - 1
    name, first = min(named, key=lambda pair: (pair[1].verdict == "pass" or pair[1].check != "unit", _rank(pair[1])))
    more = f" (and {others} more: --all)" if others and not every else ""
    return (f"{name}: " if file.kind == "recipe" else "") + _finding(first) + more


def _rank(finding: Finding) -> int:
    """A doubtful unit is said before all else, for it makes every other number doubtful; then the heaviest."""
    return ORDER[finding.verdict]


def _passed(part: CheckedPart) -> str:
    wall = next((f for f in part.checks if f.check == "wall" and f.value is not None), None)
    thinnest = "" if wall is None else f", thinnest wall {wall.value:.2f} mm at {place(wall.at_mm)}"
    x, y, z = part.input.extents_mm
    return f"{x:.1f} x {y:.1f} x {z:.1f} mm{thinnest}"


def _finding(finding: Finding) -> str:
    spot = place(finding.at_mm)
    at = f", at {spot}" if spot and spot not in finding.says else ""
    unit = f" {finding.unit}" if finding.unit else ""
    limit = "" if finding.limit is None else f", limit {figure(finding.limit)}{unit}"
    return f"{finding.check}: {finding.says}{at}{limit}" + (f"; {finding.fix}" if finding.fix else "")


def _everything(part: CheckedPart, name: str) -> list[str]:
    read = part.input
    x, y, z = read.extents_mm
    lines = [f"{INDENT}part {name}"] if name else []
    lines.append(
        f"{INDENT}read: {read.triangles} triangles, {read.shells} shells, {x:.2f} x {y:.2f} x {z:.2f} mm, "
        f"{figure(read.volume_mm3)} mm³, in {read.unit}"
    )
    lines += [f"{INDENT}note: {note}" for note in part.notes]
    lines += [f"{INDENT}mended: {repair.says}" for repair in read.repairs]
    lines += [f"{INDENT}{finding.verdict:4} {_finding(finding)}" for finding in by_weight(part.checks)]
    return lines


def fault_lines(fault: FaultRecord, indent: str = INDENT) -> list[str]:
    """A fault in its four parts, indented."""
    named = (("where", fault.where), ("found", fault.found), ("fix", fault.fix))
    lines = [f"{indent}error[{fault.code}]: {fault.what}"]
    return [*lines, *(f"{indent}  {word + ':':6} {text}" for word, text in named if text)]
