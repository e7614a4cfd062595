"""`settle`: plan pockets, cut and weigh them for real, and correct their depths until mass and balance come true."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from prep.geometry.solid import Array
from prep.physics.balance import Lump
from prep.physics.pocket_plan import Wanted, correct_depths, plan_pockets
from prep.places.pocket_choice import PocketChoice, PocketCut

PLANS = 4
CLOSER_PLANS = 2
FIRMINGS = 12
"""Plans that may fail because a pocket, measured finely, turned out shallower."""

CORRECTIONS = 4
CLOSE_G = 0.01
FEW = 3
"""With more pockets than this, more places are looked at, to do with fewer."""

FREE_G = 0.05
"""A miss within tolerance above which another plan is tried."""

STILL_MM = 1e-4
TRIED_MM = 0.1


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
    best = _plan_and_cut(choice, standing, wanted, most, weigh, PLANS)
    met = _met(best, wanted, choice.about)
    if (met and len(best.cuts) <= FEW) or not choice.look_closer():
        return best
    fewer = len(best.cuts) - 1 if met else most
    again = _plan_and_cut(choice, standing, wanted, fewer, weigh, CLOSER_PLANS)
    if met:
        return again if _met(again, wanted, choice.about) else best
    return min(best, again, key=lambda settled: _worth(settled, wanted, choice.about))


def _plan_and_cut(
    choice: PocketChoice,
    standing: Lump,
    wanted: Wanted,
    most: int,
    weigh: Callable[[tuple[PocketCut, ...]], Lump],
    plans: int,
) -> Settled:
    """The best of so many plans, each made with what the one before it taught."""
    best = Settled((), standing)
    off_g, off_gmm = 0.0, np.zeros(3)
    start_gmm = standing.mass_g * (np.asarray(standing.centre_mm) - choice.about)
    seen: list[tuple[PocketCut, ...]] = []
    for _ in range(plans):
        cuts, reaches = _firm_plan(choice, standing.mass_g + off_g, start_gmm + off_gmm, wanted, most)
        if not cuts or _same(cuts, seen):
            break
        seen.append(cuts)
        found = _correct(choice, cuts, wanted, weigh)
        if _worth(found, wanted, choice.about) < _worth(best, wanted, choice.about):
            best = found
        close = abs(found.lump.mass_g - wanted.mass_g) <= FREE_G
        if not reaches or (close and _met(found, wanted, choice.about)):
            break
        choice.learn(found.cuts)
        mass, moment = choice.change(found.cuts)
        off_g = found.lump.mass_g - standing.mass_g - mass
        off_gmm = found.lump.mass_g * (found.lump.centre_mm - choice.about) - start_gmm - moment
    return best


def _firm_plan(
    choice: PocketChoice, mass_g: float, moment_gmm: Array, wanted: Wanted, most: int
) -> tuple[tuple[PocketCut, ...], bool]:
    """A plan all of whose pockets were measured finely, and whether it reaches; none where all proved too shallow."""
    for _ in range(FIRMINGS):
        plan = plan_pockets(choice.options, choice.apart, mass_g, moment_gmm, wanted, most)
        if not choice.firm_up(plan.options, plan.depths_mm):
            cuts = tuple(choice.cut(j, depth) for j, depth in zip(plan.options, plan.depths_mm, strict=True))
            return cuts, wanted.misses(plan.mass_g, plan.moment_gmm) == (0.0, 0.0)
    return (), False


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


def _same(cuts: tuple[PocketCut, ...], seen: list[tuple[PocketCut, ...]]) -> bool:
    """Whether these pockets, filled so, were tried at about these depths."""
    return any(
        len(cuts) == len(others)
        and all(
            a.pocket is b.pocket and a.filling == b.filling and abs(a.depth_mm - b.depth_mm) < TRIED_MM
            for a, b in zip(cuts, others, strict=True)
        )
        for others in seen
    )


def _met(settled: Settled, wanted: Wanted, about: Array) -> bool:
    return _worth(settled, wanted, about)[:2] == (0.0, 0.0)


def _worth(settled: Settled, wanted: Wanted, about: Array) -> tuple[float, float, float]:
    """What is missed: mass and balance in tolerances beyond what is allowed, then the mass itself; less is better."""
    lump = settled.lump
    mass, balance = wanted.misses(lump.mass_g, lump.mass_g * (lump.centre_mm - about))
    return round(mass, 9), round(balance, 9), abs(lump.mass_g - wanted.mass_g)
