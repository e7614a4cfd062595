"""`spray_passes`: the passes that paint a region, in words a person can follow at the bench."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from prep.geometry.patch import Patch
from prep.geometry.solid import Array, Solid
from prep.geometry.spray_reach import MOST_ANGLE_DEG, Spot, spray_reach
from prep.physics.fewest_passes import fewest_passes

STEP_DEG = 30
"""Turn between neighbouring directions a pass may come from; nobody holds a can more exactly."""

_AROUND = ("+x", "+y", "-x", "-y")


@dataclass(frozen=True, eq=False)
class SprayPass:
    """One pass of the gun.

    Attributes
    ----------
    says : where it comes from
    toward_gun : (3,) unit, from the part toward the gun
    adds : share of the reachable area that it adds to the passes before it
    """

    says: str
    toward_gun: Array
    adds: float


@dataclass(frozen=True, eq=False)
class SprayPasses:
    """How a region is sprayed.

    Attributes
    ----------
    passes : the one that adds most first
    fewest : whether fewer are proven not to reach all that can be reached
    left : places that no pass is made for, each adding less than was asked of one, largest first
    unreachable : places that no direction reaches, largest first
    unreachable_mm2 : their area
    area_mm2 : of the whole region
    """

    passes: tuple[SprayPass, ...]
    fewest: bool
    left: tuple[Spot, ...]
    unreachable: tuple[Spot, ...]
    unreachable_mm2: float
    area_mm2: float


def spray_passes(
    patch: Patch,
    obstacles: Sequence[Solid],
    *,
    spacing_mm: float,
    most_angle_deg: float = MOST_ANGLE_DEG,
    least_adds: float = 0.0,
) -> SprayPasses:
    """The fewest passes that reach all of a region that any direction reaches.

    Parameters
    ----------
    obstacles : the part and the seated mask
    spacing_mm : of the points looked at; below the height of the lip
    least_adds : share of the reachable area from which a pass is worth making; what others would add is left

    Notes
    -----
    Directions stand `STEP_DEG` apart in turn about z and in height over the xy plane. See `spray_reach` for what a
    direction reaches and `fewest_passes` for what is proven. Of directions that would do, the straightest is taken.
    """
    directions, words = pass_directions()
    reach = spray_reach(patch, obstacles, directions=directions, spacing_mm=spacing_mm, most_angle_deg=most_angle_deg)
    seen = reach.seen
    found = fewest_passes(seen, reach.areas, reach.straightness)
    made = [(one, add) for one, add in zip(found.chosen, found.adds, strict=True) if add >= least_adds]
    left = reach.reached & ~seen[:, [one for one, _ in made]].any(axis=1)
    return SprayPasses(
        tuple(SprayPass(words[one], directions[one], add) for one, add in made),
        found.proven,
        reach.spots(left),
        reach.unreachable(),
        reach.unreachable_mm2,
        patch.area_mm2,
    )


def pass_directions() -> tuple[Array, tuple[str, ...]]:
    """Every direction a pass may come from, (d, 3) unit, and each in words: `from +x turned 30° to +y, 30° up`."""
    directions, words = [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]], ["from +z", "from -z"]
    for height in sorted(range(STEP_DEG - 90, 90, STEP_DEG), key=abs):
        for turn in range(0, 360, STEP_DEG):
            up, around = np.radians(height), np.radians(turn)
            directions.append([np.cos(up) * np.cos(around), np.cos(up) * np.sin(around), np.sin(up)])
            words.append(
                f"from {_turned(turn)}" + (f", {abs(height)}° {'up' if height > 0 else 'down'}" if height else "")
            )
    made = np.array(directions)
    made[np.abs(made) < 1e-12] = 0.0
    return made, tuple(words)


def _turned(turn: int) -> str:
    quarter, rest = divmod(turn, 90)
    here, there = _AROUND[quarter], _AROUND[(quarter + 1) % 4]
    if rest == 0:
        return here
    return f"{here} turned {rest}° to {there}" if rest <= 45 else f"{there} turned {90 - rest}° to {here}"
