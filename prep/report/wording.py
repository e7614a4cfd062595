"""How the report says numbers, places, verdicts and the facts of a step."""

from __future__ import annotations

from collections.abc import Mapping

from prep.contract import Finding, Verdict

UNITS = {
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
"""The last word of a fact's key, and how the unit is printed."""
ORDER: dict[Verdict, int] = {"fail": 0, "warn": 1, "pass": 2}
SIGNS: dict[Verdict, str] = {"pass": "✓", "warn": "!", "fail": "✕"}
LONGEST = 12
"""Lists of more entries are shown by their first ones and how many there are."""


def figure(value: float) -> str:
    """A number for reading: four significant digits, more only before the point."""
    if value == 0.0:
        return "0"
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.4g}"


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


def facts_in_words(facts: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    """Pairs of what a fact is and what it says: "seat_depth_mm": 2.4 is ("seat depth", "2.4 mm")."""
    return tuple(_fact(key, value) for key, value in facts.items() if value not in (None, "", [], (), {}))


def _fact(key: str, value: object) -> tuple[str, str]:
    stem, _, last = key.rpartition("_")
    unit = UNITS.get(last, "") if stem else ""
    name = (stem if unit else key).replace("_", " ")
    return name, f"{_value(value)} {unit}".strip()


def _value(value: object) -> str:
    match value:
        case bool():
            said = "yes" if value else "no"
        case float():
            said = figure(value)
        case Mapping():
            said = ", ".join(f"{str(key).replace('_', ' ')} {_value(inner)}" for key, inner in value.items())
        case list() | tuple():
            said = ", ".join(_value(inner) for inner in value[:LONGEST])
            said += f" … {len(value)} in all" if len(value) > LONGEST else ""
        case _:
            said = str(value)
    return said
