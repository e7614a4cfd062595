"""`spraying`: the passes that paint a window past its mask, as facts, findings and words for the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from prep.contract import Finding
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from prep.geometry.spray_reach import Spot
from prep.places.place import triple
from prep.places.spray_passes import SprayPasses, spray_passes

SPACING_SHARE = 1.0 / 60.0
"""Distance of the points looked at, as a share of the root of the window's area, within the limits below."""
CLOSEST_MM, WIDEST_MM = 0.3, 1.5
LEAST_ADDS = 0.01
"""A pass that adds less than this share is not worth a turn of the wrist; what it would reach is said."""
DRY_SHARE = 0.01
"""Share of the window that may stay dry before it is a warning: a touch with the brush."""
MOST_NAMED = 4


@dataclass(frozen=True)
class Spraying:
    """How a window is sprayed.

    Attributes
    ----------
    facts : for the step's own facts
    says : where the gun stands, in words
    findings : places that stay dry, or one that says none does
    """

    facts: dict[str, object]
    says: str
    findings: tuple[Finding, ...]


def spraying(part_name: str, step: str, patch: Patch, obstacles: Sequence[Solid]) -> Spraying:
    """Find the passes and say what no pass reaches.

    Parameters
    ----------
    obstacles : the part and the pieces of its mask, seated
    """
    spacing = float(min(max(SPACING_SHARE * patch.area_mm2**0.5, CLOSEST_MM), WIDEST_MM))
    found = spray_passes(patch, obstacles, spacing_mm=spacing, least_adds=LEAST_ADDS)
    left = sum(spot.area_mm2 for spot in found.left)
    dry = (found.unreachable_mm2 + left) / found.area_mm2
    facts: dict[str, object] = {
        "passes": [{"gun": one.says, "adds": f"{one.adds:.0%}"} for one in found.passes],
        "fewest_passes_proven": found.fewest,
        "stays_dry_cm2": (found.unreachable_mm2 + left) / 100.0,
    }
    says = "; ".join(one.says for one in found.passes) or "from nowhere"
    return Spraying(facts, says, tuple(_findings(part_name, step, found, dry)))


def _findings(part: str, step: str, found: SprayPasses, dry: float) -> list[Finding]:
    spots: list[Spot] = [*found.unreachable, *found.left]
    if not spots:
        says = f"{len(found.passes)} passes reach the whole window past the lip"
        return [_finding(part, step, "pass", dry, says, None)]
    named = ", ".join(f"{spot.area_mm2:.1f} mm2 at {_at(spot)}" for spot in spots[:MOST_NAMED])
    more = f" and {len(spots) - MOST_NAMED} more" if len(spots) > MOST_NAMED else ""
    says = f"{len(found.passes)} passes leave {dry:.1%} of the window dry: {named}{more}"
    return [_finding(part, step, "warn" if dry > DRY_SHARE else "pass", dry, says, spots[0])]


def _finding(part: str, step: str, verdict: str, dry: float, says: str, spot: Spot | None) -> Finding:
    return Finding.model_validate(
        {
            "check": "spray",
            "part": part,
            "verdict": verdict,
            "value": 100.0 * dry,
            "limit": 100.0 * DRY_SHARE,
            "unit": "%",
            "at_mm": None if spot is None else triple(spot.at_mm),
            "says": says,
            "fix": "touch it in with a brush, or leave it out of the region" if verdict != "pass" else "",
            "made_by": step,
        }
    )


def _at(spot: Spot) -> str:
    x, y, z = spot.at_mm
    return f"({x:.1f}, {y:.1f}, {z:.1f})"
