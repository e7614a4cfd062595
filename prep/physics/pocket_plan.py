"""`plan_pockets`: which pockets, filled with what and how deep, bring a model to a mass and a balance point."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy.sparse
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

Array = NDArray[np.float64]

OUTSIDE = 10000.0
"""Cost of missing the mass by one tolerance beyond it; the balance costs a tenth, the mass within a hundredth."""

OFF_BALANCE = 1000.0
INSIDE = 100.0
CENTRED = 1.0
"""Cost of standing at the edge of a balance's tolerance instead of in its middle."""

BULK = 1.0
"""Cost of the greatest volume one pocket could take: of two plans that do, the smaller is taken."""

EACH = 2.0
"""Cost of one more pocket, so that none is cut for next to nothing."""

NODES = 200
GAP = 0.1
"""Where mass and balance are met, how far the volume may be from the least."""

NEAREST_GAP = 1e-4
RESERVE = 0.8
"""Share of each tolerance that is planned with."""

MET = 0.1
MOVED = 1e-3


@dataclass(frozen=True)
class Option:
    """One pocket with one filling, its depth free between two ends; mass and moment run straight between them.

    Attributes
    ----------
    pocket : row of the pocket it takes; of options on one pocket at most one is used
    filling : number of the filling, for the caller
    depth_mm, mass_g, volume_mm3 : (2,) at the shallow and the deep end
    moment_gmm : (2, 3) likewise
    """

    pocket: int
    filling: int
    depth_mm: Array
    mass_g: Array
    moment_gmm: Array
    volume_mm3: Array


@dataclass(frozen=True)
class Wanted:
    """The mass and balance asked for.

    Attributes
    ----------
    mass_g, low_g, high_g : float
    centre_low_mm, centre_high_mm : (3,) about the same point as all moments; infinite along a free axis
    """

    mass_g: float
    low_g: float
    high_g: float
    centre_low_mm: Array
    centre_high_mm: Array

    @property
    def bounded(self) -> list[int]:
        """Axes along which the balance is asked for."""
        return [int(axis) for axis in np.flatnonzero(np.isfinite(self.centre_low_mm))]

    def misses(self, mass_g: float, moment_gmm: Array) -> tuple[float, float]:
        """How far mass and the worst axis lie outside what is allowed, in tolerances; 0 where they do not."""
        half = (self.high_g - self.low_g) / 2.0
        mass = max(self.low_g - mass_g, mass_g - self.high_g, 0.0) / half
        worst = 0.0
        for axis in self.bounded:
            low, high = float(self.centre_low_mm[axis]), float(self.centre_high_mm[axis])
            centre = float(moment_gmm[axis]) / mass_g
            worst = max(worst, max(low - centre, centre - high, 0.0) / ((high - low) / 2.0))
        return mass, worst


@dataclass(frozen=True)
class Plan:
    """The options taken and the depth of each, with the mass and moment that come of them.

    Attributes
    ----------
    options : rows of the options given
    depths_mm : (k,)
    """

    options: tuple[int, ...]
    depths_mm: Array
    mass_g: float
    moment_gmm: Array


def plan_pockets(
    options: Sequence[Option],
    apart: NDArray[np.bool_],
    standing_g: float,
    standing_gmm: Array,
    wanted: Wanted,
    most: int,
) -> Plan:
    """The fewest pockets that bring mass and balance where they are wanted; else what comes nearest.

    Parameters
    ----------
    apart : (p, p)
        Whether two pockets may both be cut.
    standing_g, standing_gmm : float, (3,)
        Mass and first moment before.
    most : int
        Most pockets allowed.

    Notes
    -----
    One mixed-integer linear programme a number of pockets, from one upward; numbers whose relaxation already misses
    are passed over. The mass counts for more than the balance, both for more than the volume cut. Deterministic: the
    search is bounded by nodes, not by time.

    References
    ----------
    Q. Huangfu, J. A. J. Hall, Parallelizing the dual revised simplex method, Math. Prog. Comp. 10 (2018) 119, the
    solver's.
    """
    empty = Plan((), np.empty(0), standing_g, np.asarray(standing_gmm, dtype=np.float64))
    if wanted.misses(standing_g, standing_gmm) == (0.0, 0.0) or not options or most < 1:
        return empty
    system = _System(options, apart, standing_g, standing_gmm, wanted)
    for count in range(1, most + 1):
        least, _ = system.solve(count, whole=False)
        out_of_reach = least > MET
        if out_of_reach and count < most:
            continue
        cost, solution = system.solve(count, whole=True, gap=NEAREST_GAP if out_of_reach else GAP)
        if solution is not None and (cost <= MET or count == most):
            return system.plan(solution)
    return empty


@dataclass(frozen=True)
class Slope:
    """How one pocket answers to its depth where it stands: range left, and change a millimetre."""

    low_mm: float
    high_mm: float
    mass_g: float
    moment_gmm: Array


def correct_depths(
    depths_mm: Array, slopes: Sequence[Slope], mass_g: float, moment_gmm: Array, wanted: Wanted
) -> Array:
    """Depths that take up what mass and balance, as measured, still miss; the least movement that does it.

    Parameters
    ----------
    depths_mm : (k,)
        As they stand.
    mass_g, moment_gmm : float, (3,)
        As measured at those depths.

    Returns
    -------
    (k,) mm
    """
    slack = _Slack(wanted)
    k = len(slopes)
    mass_row = np.array([slope.mass_g for slope in slopes])
    moments = np.array([slope.moment_gmm for slope in slopes])
    rows, low, high = slack.rows(
        np.concatenate([mass_row, -mass_row]), np.concatenate([moments, -moments]), mass_g, moment_gmm
    )
    cost = np.concatenate([np.full(2 * k, MOVED), slack.cost])
    room_up = np.array([max(slope.high_mm - depth, 0.0) for slope, depth in zip(slopes, depths_mm, strict=True)])
    room_down = np.array([max(depth - slope.low_mm, 0.0) for slope, depth in zip(slopes, depths_mm, strict=True)])
    found = milp(
        cost,
        constraints=LinearConstraint(rows, low, high),
        bounds=Bounds(0.0, np.concatenate([room_up, room_down, slack.upper])),
    )
    if found.x is None:
        return np.asarray(depths_mm, dtype=np.float64)
    return np.asarray(depths_mm + found.x[:k] - found.x[k : 2 * k])


class _Slack:
    """What mass and balance may miss, within their tolerances and beyond, and what that costs."""

    def __init__(self, wanted: Wanted) -> None:
        self.wanted = wanted
        half = max((wanted.high_g - wanted.low_g) / 2.0, 1e-9)
        axes = wanted.bounded
        widths = [max(float(wanted.centre_high_mm[a] - wanted.centre_low_mm[a]) / 2.0, 1e-9) for a in axes]
        moments = np.array([width * wanted.mass_g for width in widths])
        mass = [INSIDE / half] * 2 + [OUTSIDE / half] * 2
        self.cost = np.array([*mass, *(CENTRED / moments), *(OFF_BALANCE / moments)])
        self.unmissed = np.array([0.0] * 4 + [1.0] * len(axes) + [0.0] * len(axes))
        within = [RESERVE * (wanted.high_g - wanted.mass_g), RESERVE * (wanted.mass_g - wanted.low_g)]
        self.upper = np.array([*within, np.inf, np.inf, *(RESERVE * moments), *([np.inf] * len(axes))])

    def rows(self, mass: Array, moments: Array, standing_g: float, standing_gmm: Array) -> tuple[Array, Array, Array]:
        """Rows of the constraints, with the slack's own columns last, and their bounds.

        Parameters
        ----------
        mass, moments : (n,), (n, 3)
            What each variable brings.
        """
        wanted, width = self.wanted, len(mass) + len(self.cost)
        sums = np.concatenate([mass, [-1.0, 1.0, -1.0, 1.0], np.zeros(len(self.cost) - 4)])
        rows, low, high = [sums], [wanted.mass_g - standing_g], [wanted.mass_g - standing_g]
        for place, axis in enumerate(wanted.bounded):
            middle = (wanted.centre_low_mm[axis] + wanted.centre_high_mm[axis]) / 2.0
            for sense in (1.0, -1.0):
                row = np.zeros(width)
                row[: len(mass)] = sense * (moments[:, axis] - middle * mass)
                row[[len(mass) + 4 + place, len(mass) + 4 + len(wanted.bounded) + place]] = 1.0
                rows.append(row)
                low.append(-sense * (standing_gmm[axis] - middle * standing_g))
                high.append(np.inf)
        return np.array(rows), np.array(low), np.array(high)


class _System:
    """The mixed-integer programme: a switch and a share of the depth for every option, and the slack."""

    def __init__(
        self,
        options: Sequence[Option],
        apart: NDArray[np.bool_],
        standing_g: float,
        standing_gmm: Array,
        wanted: Wanted,
    ) -> None:
        self.options = options
        self.standing = standing_g, np.asarray(standing_gmm, dtype=np.float64)
        mass = np.array([option.mass_g for option in options])
        self.moments = np.array([option.moment_gmm for option in options])
        volume = np.array([option.volume_mm3 for option in options])
        self.mass = np.concatenate([mass[:, 0], mass[:, 1] - mass[:, 0]])
        self.moment = np.concatenate([self.moments[:, 0], self.moments[:, 1] - self.moments[:, 0]])
        slack = _Slack(wanted)
        n, more = len(options), len(slack.cost)
        self.n = n
        bulk = np.concatenate([volume[:, 0], volume[:, 1] - volume[:, 0]]) * (BULK / volume.max())
        bulk[:n] += EACH
        self.cost = np.concatenate([bulk, slack.cost])
        self.upper = np.concatenate([np.ones(2 * n), slack.upper])
        rows, low, high = slack.rows(self.mass, self.moment, *self.standing)
        tie = scipy.sparse.hstack([-scipy.sparse.eye(n), scipy.sparse.eye(n), scipy.sparse.csr_matrix((n, more))])
        of_pocket = np.array([option.pocket for option in options])
        cliques = [np.isin(of_pocket, clique) for clique in _cliques(apart)]
        one = scipy.sparse.csr_matrix(
            np.array([np.concatenate([clique, np.zeros(n + more)]) for clique in cliques], dtype=np.float64)
        )
        self.fixed = [
            LinearConstraint(scipy.sparse.csr_matrix(rows), low, high),
            LinearConstraint(tie, -np.inf, 0.0),
            LinearConstraint(one, -np.inf, 1.0),
        ]
        self.unmissed = np.concatenate([bulk, slack.cost * slack.unmissed])
        self.switches = np.concatenate([np.ones(n), np.zeros(n + more)])

    def solve(self, count: int, *, whole: bool, gap: float = GAP) -> tuple[float, Array | None]:
        """Cost of what is missed with so many pockets, all else left out, and the solution."""
        kind = np.zeros(len(self.cost), dtype=np.uint8)
        if whole:
            kind[: self.n] = 1
        found = milp(
            self.cost,
            integrality=kind,
            bounds=Bounds(0.0, self.upper),
            constraints=[*self.fixed, LinearConstraint(self.switches[None], -np.inf, count)],
            options={"node_limit": NODES, "mip_rel_gap": gap},
        )
        if found.x is None:
            return np.inf, None
        return float((self.cost - self.unmissed) @ found.x), np.asarray(found.x)

    def plan(self, solution: Array) -> Plan:
        """The options switched on, deepest share first told in order, and what they come to."""
        used = [int(j) for j in np.flatnonzero(solution[: self.n] > 0.5)]
        share = np.clip(solution[self.n : 2 * self.n][used], 0.0, 1.0)
        depths = np.array([self.options[j].depth_mm @ (1.0 - s, s) for j, s in zip(used, share, strict=True)])
        columns = [*used, *(self.n + j for j in used)]
        weights = np.concatenate([np.ones(len(used)), share])
        mass, moment = self.standing
        return Plan(
            tuple(used),
            depths,
            mass + float(self.mass[columns] @ weights),
            np.asarray(moment + weights @ self.moment[columns]),
        )


def _cliques(apart: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Sets of pockets of which at most one may be cut; together they hold every pair that may not be cut together."""
    together = apart.copy()
    np.fill_diagonal(together, True)
    left = ~together
    cliques = [np.array([k]) for k in range(len(apart)) if not left[k].any()]
    for first in range(len(apart)):
        while left[first].any():
            second = int(np.argmax(left[first]))
            members = [first, second]
            open_ = ~together[first] & ~together[second]
            while open_.any():
                new = left[members].sum(axis=0) * open_
                third = int(np.argmax(new)) if new.any() else int(np.argmax(open_))
                members.append(third)
                open_ = open_ & ~together[third]
            chosen = np.array(sorted(members))
            left[np.ix_(chosen, chosen)] = False
            cliques.append(chosen)
    return cliques
