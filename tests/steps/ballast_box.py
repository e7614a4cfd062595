"""The published ballast box, and the step as a recipe writes it, for the tests of `match_weight`."""

from __future__ import annotations

from dataclasses import replace

from prep.contract import Bench
from prep.steps.match_weight import MatchWeight

BOX = (100.0, 60.0, 40.0)


def resin(bench: Bench) -> Bench:
    """All parts in a resin of 1.18 g/cm3, as the published ballast box."""
    parts = {
        name: replace(part, material=replace(part.material, density_g_cm3=1.18, density_low=1.17, density_high=1.2))
        for name, part in bench.parts.items()
    }
    return replace(bench, parts=parts)


def step(**settings) -> MatchWeight:
    """The step as a recipe writes it."""
    return MatchWeight.model_validate({"step": "match_weight", "open": "-z", "part": "body"} | settings)


def verdicts(outcome) -> dict[str, str]:
    """Verdict by check, the worst where a check speaks twice."""
    order = ["pass", "warn", "fail"]
    found: dict[str, str] = {}
    for finding in outcome.findings:
        found[finding.check] = max(found.get(finding.check, "pass"), finding.verdict, key=order.index)
    return found
