"""`limits_of`: what stops a model from reaching its mass or balance, in numbers a person can act on."""

from __future__ import annotations

from dataclasses import dataclass, replace

from prep.geometry.solid import Array
from prep.physics.balance import Lump
from prep.physics.ballast_fill import is_piece, least_radius
from prep.physics.pocket_plan import Wanted, plan_pockets
from prep.places.pocket_choice import MAGNET_DIAMETERS, PocketChoice
from prep.places.pocket_settle import Settled
from prep.units import show_g, show_mm

AXES = "xyz"
Words = tuple[str, str]
"""What stops it, and what to do."""


@dataclass(frozen=True)
class Limits:
    """What stopped the search; empty words where nothing did.

    Attributes
    ----------
    missed : whether mass or balance lie outside what was asked for
    places : pockets that were found to fit
    """

    missed: bool
    places: int
    mass_says: str = ""
    mass_fix: str = ""
    balance_says: str = ""
    balance_fix: str = ""

    @property
    def says(self) -> str:
        """Both limits in one line."""
        return " ".join(word for word in (self.mass_says, self.balance_says) if word)


def limits_of(choice: PocketChoice, settled: Settled, before: Lump, wanted: Wanted, most: int) -> Limits:
    """Which limit stops the mass, and which the balance: walls, the number of pockets, magnets, or the ballast."""
    lump = settled.lump
    missed = wanted.misses(lump.mass_g, lump.mass_g * (lump.centre_mm - choice.about))
    if missed == (0.0, 0.0):
        return Limits(False, len(choice.pockets))
    more = _with_more(choice, settled, before, wanted, most)
    says, fix = _mass(choice, settled, before, wanted, most, more) if missed[0] > 0.0 else ("", "")
    balance, balance_fix = _balance(choice, settled, before, wanted, most, more) if missed[1] > 0.0 else ("", "")
    return Limits(True, len(choice.pockets), says, fix, balance, balance_fix)


def _with_more(choice: PocketChoice, settled: Settled, before: Lump, wanted: Wanted, most: int) -> bool:
    """Whether twice as many pockets would come clearly nearer."""
    if not choice.options or len(settled.cuts) < most:
        return False
    start = before.mass_g * (before.centre_mm - choice.about)
    plan = plan_pockets(choice.options, choice.apart, before.mass_g, start, wanted, 2 * most)
    lump = settled.lump
    now = wanted.misses(lump.mass_g, lump.mass_g * (lump.centre_mm - choice.about))
    then = wanted.misses(plan.mass_g, plan.moment_gmm)
    return then[0] < 0.9 * now[0] or (then[0] <= now[0] and then[1] < 0.9 * now[1])


def _with_any_mass(choice: PocketChoice, before: Lump, wanted: Wanted, most: int) -> float | None:
    """The mass nearest to the one asked for at which the balance could be met; None where no mass does it."""
    free = replace(wanted, low_g=wanted.mass_g * 0.5, high_g=wanted.mass_g * 2.0)
    start = before.mass_g * (before.centre_mm - choice.about)
    plan = plan_pockets(choice.options, choice.apart, before.mass_g, start, free, most)
    return plan.mass_g if free.misses(plan.mass_g, plan.moment_gmm)[1] == 0.0 else None


def _mass(choice: PocketChoice, settled: Settled, before: Lump, wanted: Wanted, most: int, more: bool) -> Words:
    mass = settled.lump.mass_g
    heavier = mass < wanted.mass_g
    used = sorted({cut.filling.row.name for cut in settled.cuts if cut.filling.row})
    volume = sum(cut.pocket.area_mm2 * cut.depth_mm for cut in settled.cuts) / 1000.0
    bound = f"{show_g(mass)} {'at most' if heavier else 'at least'}" + (f" with {', '.join(used)}" if used else "")
    if not choice.pockets:
        wide = 2.0 * choice.aim.smallest_mm
        return _no_room(choice), f"open on another face, or thicken the part: a pocket is {wide:.1f} mm wide"
    if more:
        says = f"{most} pockets of {volume:.1f} cm3 together: {bound}; more would come nearer."
        return says, f"allow more: `pockets: {2 * most}`"
    says = f"walls of {show_mm(choice.aim.wall_mm)} leave {volume:.1f} cm3 for pockets: {bound}."
    return _heavier(choice, says, before, used) if heavier else _lighter(choice, says, mass, volume)


def _heavier(choice: PocketChoice, says: str, before: Lump, used: list[str]) -> Words:
    if not choice.aim.rows:
        says = f"`fill: []` allows no ballast, and {show_g(before.mass_g)} is what the model weighs as it is."
        return says, "allow ballast: `fill: [steel shot 2 mm]`"
    if not used:
        return _unfilled(choice), "allow a finer or another ballast (`prep table ballast`)"
    says += _magnet_word(choice)
    return says, "a denser ballast (lead or tungsten, `prep table ballast`), or put some in another part"


def _lighter(choice: PocketChoice, says: str, mass_g: float, volume_cm3: float) -> Words:
    if choice.printed.core is None:
        return says, "hollow the part in the model, open on another face, or choose a lighter material"
    infill = f"In {choice.printed.infill:.0%} infill a pocket's own walls weigh about what it takes away"
    says = f"{says} {infill}." if volume_cm3 > 0.0 else f"{infill}, or more: {show_g(mass_g)} at least."
    return says, "less infill or fewer walls in the process, or hollow the part in the model"


def _balance(choice: PocketChoice, settled: Settled, before: Lump, wanted: Wanted, most: int, more: bool) -> Words:
    lump = settled.lump
    centre = lump.centre_mm - choice.about
    missed_mass, _ = wanted.misses(lump.mass_g, lump.mass_g * centre)
    worst = max(
        wanted.bounded,
        key=lambda a: max(wanted.centre_low_mm[a] - centre[a], centre[a] - wanted.centre_high_mm[a]),
    )
    axis, sign = AXES[worst], 1.0 if centre[worst] < wanted.centre_low_mm[worst] else -1.0
    ends = _reach(choice, worst)
    says = f"balance {axis} stops at {show_mm(lump.centre_mm[worst])}, from {show_mm(before.centre_mm[worst])} before"
    if not choice.pockets:
        return f"{says}. {_no_room(choice)}", "open on another face, or widen the tolerance"
    free = _with_any_mass(choice, before, wanted, most)
    if free is not None and missed_mass == 0.0:
        says += f": the mass asked for leaves too little weight to move. It would balance at {show_g(free)}."
        return says, f"`target: {free:.1f} g`, or a wider balance"
    far = ends[1] if sign > 0.0 else ends[0]
    side = ">" if sign > 0.0 else "<"
    says += f": no room for pockets at {axis} {side} {far:.0f}."
    says += _magnet_word(choice)
    if more:
        return f"{says} {most} pockets are allowed; more would come nearer.", f"allow more: `pockets: {2 * most}`"
    if not choice.aim.rows:
        return says, "allow ballast: `fill: [steel shot 2 mm]`"
    return says, f"open on another face, a denser ballast, or ask for {axis} nearer {show_mm(lump.centre_mm[worst])}"


def _reach(choice: PocketChoice, axis: int) -> tuple[float, float]:
    """Lowest and highest coordinate that any pocket's room reaches along an axis."""
    ends: list[float] = []
    for pocket in choice.pockets:
        toward: Array = pocket.axes[:2, axis]
        for end in pocket.ends:
            middle = end @ pocket.axes[:2] + pocket.out * pocket.rim_mm
            span = pocket.radius_mm * float((toward**2).sum()) ** 0.5
            levels = (middle[axis], middle[axis] - pocket.deepest_mm * pocket.out[axis])
            ends += [min(levels) - span, max(levels) + span]
    return min(ends), max(ends)


def _no_room(choice: PocketChoice) -> str:
    aim = choice.aim
    return (
        f"No pocket {2.0 * aim.smallest_mm:.1f} mm wide and {show_mm(choice.empty.least_mm)} deep keeps "
        f"{show_mm(aim.wall_mm)} of wall on the face it would open on; the deepest single place is "
        f"{show_mm(choice.deepest_mm)} deep."
    )


def _unfilled(choice: PocketChoice) -> str:
    if choice.beside_magnet:
        return f"No ballast goes in.{_magnet_word(choice)}"
    aim = choice.aim
    needs = [2.0 * least_radius(row, aim.smallest_mm, aim.process.slide_fit_mm) for row in aim.rows]
    kind = "piece with its play" if any(is_piece(row) for row in aim.rows) else "mouth of five beads"
    widest = 2.0 * max(pocket.radius_mm for pocket in choice.pockets)
    return f"No ballast goes in: the {kind} is {min(needs):.1f} mm across, the widest pocket {widest:.1f} mm."


def _magnet_word(choice: PocketChoice) -> str:
    if not choice.beside_magnet:
        return ""
    names = ", ".join(sorted(choice.beside_magnet))
    return f" {names} stays {MAGNET_DIAMETERS:g} diameters from every magnet."
