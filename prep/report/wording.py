"""How the report says numbers, places, verdicts and the facts of a step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from prep.contract import Finding, Verdict

UNITS = {
    "g_cm3": "g/cm³",
    "mm": "mm",
    "mm2": "mm²",
    "mm3": "mm³",
    "cm3": "cm³",
    "g": "g",
    "n": "N",
    "deg": "°",
    "c": "°C",
    "s": "s",
    "h": "h",
    "ma": "mA",
    "v": "V",
    "ohm": "Ω",
    "t": "T",
    "mt": "mT",
    "ml": "ml",
    "kg2mm2": "kG²mm²",
}
"""What a fact's key ends in, and how the unit is printed; the longer ending stands before the shorter."""
ORDER: dict[Verdict, int] = {"fail": 0, "warn": 1, "pass": 2}
SIGNS: dict[Verdict, str] = {"pass": "✓", "warn": "!", "fail": "✕"}
DUST = 5e-5
"""A fact smaller than this is what is left of a rounding and is said as 0."""
LONGEST = 12
"""Lists of more entries are shown by their first ones and how many there are."""


def figure(value: float) -> str:
    """A number for reading: four significant digits, more only before the point."""
    if value == 0.0:
        return "0"
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.4g}"


def minutes(count: float) -> str:
    """A span for reading: minutes, or hours from an hour and a half on."""
    return f"{count / 60.0:g} h" if count >= 90.0 else f"{count:g} min"


def place(at_mm: tuple[float, float, float] | None) -> str:
    """A place for reading, to a tenth of a millimetre; empty for none."""
    if at_mm is None:
        return ""
    x, y, z = (round(value, 1) + 0.0 for value in at_mm)
    return f"({x:.1f}, {y:.1f}, {z:.1f}) mm"


def measured(finding: Finding) -> str:
    """The number found and its limit; empty where the finding has none."""
    if finding.value is None:
        return ""
    unit = f" {finding.unit}" if finding.unit else ""
    limit = "" if finding.limit is None else f", limit {figure(finding.limit)}{unit}"
    return f"{figure(finding.value)}{unit}{limit}"


def by_weight(findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings, the worst first, otherwise in their order."""
    return tuple(sorted(findings, key=lambda finding: ORDER[finding.verdict]))


@dataclass(frozen=True)
class FactTable:
    """A fact that is a list of like things: its heads, and a row of words for each."""

    name: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def facts_in_words(facts: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    """Pairs of what a fact is and what it says: "seat_depth_mm": 2.4 is ("seat depth", "2.4 mm").

    Empty facts are left out, and so are lists of mappings, which `facts_in_tables` says.
    """
    told = [(key, value) for key, value in facts.items() if value not in (None, "", [], (), {}) and not _rows(value)]
    return tuple((name, f"{_value(value)} {unit}".strip()) for key, value in told for name, unit in (_head(key),))


def facts_in_tables(facts: Mapping[str, object]) -> tuple[FactTable, ...]:
    """The facts that are lists of mappings, as tables; a column for every key of the first."""
    return tuple(
        FactTable(
            name=key.replace("_", " "),
            heads=tuple(f"{name}, {unit}" if unit else name for name, unit in map(_head, map(str, rows[0]))),
            rows=tuple(tuple(_value(row.get(column, "")) for column in rows[0]) for row in rows),
        )
        for key, value in facts.items()
        if (rows := _rows(value))
    )


def _rows(value: object) -> list[Mapping[object, object]]:
    if not isinstance(value, list | tuple):
        return []
    rows = [row for row in value if isinstance(row, Mapping)]
    return rows if len(rows) == len(value) else []


def _head(key: str) -> tuple[str, str]:
    """The name of a fact, and the unit its key ends in."""
    for ending, unit in UNITS.items():
        if key.endswith(f"_{ending}"):
            return key.removesuffix(f"_{ending}").replace("_", " "), unit
    return key.replace("_", " "), ""


def _value(value: object) -> str:
    match value:
        case bool():
            said = "yes" if value else "no"
        case float():
            said = figure(value) if abs(value) >= DUST else "0"
        case Mapping():
            said = ", ".join(f"{str(key).replace('_', ' ')} {_value(inner)}" for key, inner in value.items())
        case list() | tuple():
            said = ", ".join(_value(inner) for inner in value[:LONGEST])
            said += f" … {len(value)} in all" if len(value) > LONGEST else ""
        case _:
            said = str(value)
    return said
