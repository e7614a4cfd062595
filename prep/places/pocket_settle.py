"""`settle`: plan pockets, cut and weigh them for real, and correct their depths until mass and balance come true."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from prep.geometry.solid import Array
from prep.physics.balance import Lump
from prep.physics.pocket_plan import Wanted, correct_depths, plan_pockets
from prep.places.pocket_choice import PocketChoice, PocketCut

PLANS = 3
FIRMINGS = 6
"""Plans that may fail because a pocket, measured finely, turned out shallower."""

CORRECTIONS = 4
CLOSE_G = 0.01
FREE_G = 0.05
"""A miss within tolerance above which another plan is tried."""

STILL_MM = 1e-4


@dataclass(frozen=True)
class Settled:
    """Pockets as they stand after the last correction, and what the model weighs with them.

    Attributes
    ----------
    cuts : in the order of the plan
    lump : as weighed with the pockets cut and filled
    """

    cuts: tuple[PocketCut, ...]
    lump: Lump


def settle(
    choice: PocketChoice,
    standing: Lump,
    wanted: Wanted,
    most: int,
    weigh: Callable[[tuple[PocketCut, ...]], Lump],
) -> Settled:
    """The fewest pockets that bring the model where it is wanted, or what comes nearest.

    Parameters
    ----------
    standing : Lump
        The model before.
    most : int
        Most pockets allowed.
    weigh : callable
        The model's mass and balance with these pockets cut out of the part itself.

    Notes
    -----
    A plan rests on estimates of each pocket's own mass; the set it chooses is cut and weighed, depths take up what is
    left, and where they cannot, the next plan knows by how much the estimate was off. At most a dozen weighings.
    """
    best = Settled((), standing)
    off_g, off_gmm = 0.0, np.zeros(3)
    start_gmm = standing.mass_g * (np.asarray(standing.centre_mm) - choice.about)
    seen: list[tuple[int, ...]] = []
    for _ in range(PLANS):
        for _ in range(FIRMINGS):
            plan = plan_pockets(
                choice.options, choice.apart, standing.mass_g + off_g, start_gmm + off_gmm, wanted, most
            )
            if not choice.firm_up(plan.options):
                break
        if not plan.options or plan.options in seen:
            break
        seen.append(plan.options)
        cuts = tuple(choice.cut(option, depth) for option, depth in zip(plan.options, plan.depths_mm, strict=True))
        found = _correct(choice, cuts, wanted, weigh)
        if _worth(found, wanted, choice.about) < _worth(best, wanted, choice.about):
            best = found
        missed = _worth(found, wanted, choice.about)
        if missed[:2] == (0.0, 0.0) and missed[2] <= FREE_G:
            break
        mass, moment = choice.change(found.cuts)
        off_g = found.lump.mass_g - standing.mass_g - mass
        off_gmm = found.lump.mass_g * (found.lump.centre_mm - choice.about) - start_gmm - moment
    return best


def _correct(
    choice: PocketChoice,
    cuts: tuple[PocketCut, ...],
    wanted: Wanted,
    weigh: Callable[[tuple[PocketCut, ...]], Lump],
) -> Settled:
    """The same pockets with the depths that weigh right."""
    best: Settled | None = None
    trust = 1.0
    last: tuple[float, float] | None = None
    for _ in range(CORRECTIONS):
        now = Settled(cuts, weigh(cuts))
        if best is not None and _worth(now, wanted, choice.about) >= _worth(best, wanted, choice.about):
            break
        if best is None or _worth(now, wanted, choice.about) < _worth(best, wanted, choice.about):
            best = now
        worth = _worth(now, wanted, choice.about)
        if worth[:2] == (0.0, 0.0) and worth[2] <= CLOSE_G:
            break
        if last is not None and abs(last[1]) > CLOSE_G:
            trust *= float(np.clip((now.lump.mass_g - last[0]) / last[1], 0.5, 2.0))
        slopes = [replace(slope, mass_g=slope.mass_g * trust) for slope in map(choice.slope, cuts)]
        depths = np.array([cut.depth_mm for cut in cuts])
        moment = now.lump.mass_g * (now.lump.centre_mm - choice.about)
        moved = correct_depths(depths, slopes, now.lump.mass_g, moment, wanted)
        if np.abs(moved - depths).max() < STILL_MM:
            break
        expected = sum(slope.mass_g * step for slope, step in zip(slopes, moved - depths, strict=True))
        last = (now.lump.mass_g, float(expected))
        cuts = tuple(replace(cut, depth_mm=float(depth)) for cut, depth in zip(cuts, moved, strict=True))
    return best or Settled(cuts, weigh(cuts))


def _worth(settled: Settled, wanted: Wanted, about: Array) -> tuple[float, float, float]:
    """What is missed: mass and balance in tolerances beyond what is allowed, then the mass itself; less is better."""
    lump = settled.lump
    mass, balance = wanted.misses(lump.mass_g, lump.mass_g * (lump.centre_mm - about))
    return round(mass, 9), round(balance, 9), abs(lump.mass_g - wanted.mass_g)
