"""`summary`: what a build comes to, as plain lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence

from prep.build.record import Record, TargetRecord
from prep.contract import Finding
from prep.report.wording import by_weight, figure, measured, place

WIDTH = 100
INDENT = "  "


def summary(record: Record) -> str:
    """Verdict, parts, items, mass and balance, findings that need a look, cautions, and where the pictures are.

    Plain text without markup: names are printed as they are, control characters left out.
    """
    blocks = [
        [f"{record.project} {record.revision}: {record.verdict.upper()}"],
        _parts(record),
        _items(record),
        _weight(record),
        _findings(record),
        _accepted(record),
        _listed("cautions", record.cautions),
        _listed("pictures", [picture.path for picture in record.pictures]),
    ]
    text = "\n\n".join("\n".join(block) for block in blocks if block)
    return "".join(letter for letter in text if letter.isprintable() or letter == "\n")


def _parts(record: Record) -> list[str]:
    rows = [("parts", "mass", "thinnest wall", "written to")]
    for name, part in record.parts.items():
        wall = "not measured"
        if part.wall is not None:
            wall = f"{part.wall.thinnest_mm:.2f} mm at {place(part.wall.at_mm)}, limit {part.wall.limit_mm:.2f}"
        rows.append((_line(name), f"{part.output.mass_g:.2f} g", wall, part.output.path))
    return _columns(rows)


def _items(record: Record) -> list[str]:
    if not record.items:
        return []
    rows = [("items", "", "in", "faces out", "at")]
    rows += [
        (item.id, _line(item.item), _line(item.part), item.pole_out or "", place(item.at_mm)) for item in record.items
    ]
    return _columns(rows)


def _weight(record: Record) -> list[str]:
    model = record.model
    low, high = model.mass_band_g
    lines = [f"mass    {model.mass_g:.2f} g, between {low:.2f} and {high:.2f} g"]
    x, y, z = (round(value, 2) + 0.0 for value in model.centre_mm)
    lines.append(f"centre  ({x:.2f}, {y:.2f}, {z:.2f}) mm")
    if model.target is not None:
        lines += _target(model.target)
    return lines


def _target(target: TargetRecord) -> list[str]:
    of = "" if target.of == "model" else f" of {_line(target.of)}"
    found = "" if target.of == "model" else f", found {target.found_g:.2f} g"
    met = "met" if abs(target.found_g - target.mass_g) <= target.tolerance_g else "NOT met"
    lines = [f"target  {target.mass_g:.2f} ± {figure(target.tolerance_g)} g{of}{found}: {met}"]
    for axis, wanted in target.balance.items():
        met = "met" if wanted.met else "NOT met"
        lines.append(
            f"target  {axis} {wanted.wanted_mm:.2f} ± {figure(wanted.tolerance_mm)} mm, "
            f"found {wanted.found_mm + 0.0:.2f} mm: {met}"
        )
    if target.says:
        lines += _wrapped(target.says, "        ")
    return lines


def _findings(record: Record) -> list[str]:
    open_ones = [finding for finding in by_weight(record.checks) if finding.verdict != "pass"]
    passed = sum(finding.verdict == "pass" for finding in record.checks)
    if not open_ones:
        return [f"checks  {passed} passed, nothing to look at"]
    lines = [f"checks  {len(open_ones)} to look at, {passed} passed"]
    for finding in open_ones:
        lines += _wrapped(finding_line(finding), INDENT * 2, first=INDENT)
    return lines


def finding_line(finding: Finding) -> str:
    """One finding in one line: verdict, check, part, what, place, number and limit, action."""
    parts = [f"{finding.verdict} {finding.check}"]
    if finding.part:
        parts.append(f", {_line(finding.part)}")
    parts.append(f": {finding.says}")
    facts = [text for text in (place(finding.at_mm), measured(finding)) if text]
    if facts:
        parts.append(f" [{'; '.join(facts)}]")
    if finding.made_by:
        parts.append(f", from {_line(finding.made_by)}")
    if finding.fix:
        parts.append(f"; {finding.fix}")
    return "".join(parts)


def _accepted(record: Record) -> list[str]:
    return _listed("accepted", [f"{entry.check}: {entry.reason}" for entry in record.accepted])


def _listed(head: str, entries: Iterable[str]) -> list[str]:
    lines = [line for entry in entries for line in _wrapped(_line(entry), INDENT * 2, first=INDENT)]
    return [head, *lines] if lines else []


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    """A head and rows set in under it, every column as wide as its widest cell."""
    set_in = [rows[0], *((INDENT + row[0], *row[1:]) for row in rows[1:])]
    widths = [max(len(row[column]) for row in set_in) for column in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in set_in]


def _wrapped(text: str, indent: str, first: str | None = None) -> list[str]:
    return textwrap.wrap(
        text,
        WIDTH,
        initial_indent=indent if first is None else first,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    )


def _line(text: str) -> str:
    return " ".join(text.split())
