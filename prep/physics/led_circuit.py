"""`led_circuit`: the resistor, current, brightness, heat and run time of lamps on a supply."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from scipy.optimize import brentq

from prep.errors import BadValue, CurrentTooHigh, SupplyTooHigh, SupplyTooLow
from prep.physics.resistor import Series, next_up, rating_for
from prep.tables import CellRow, LedRow, Tables
from prep.units import VOLTAGE

HIGHEST_V = 24.0
"""Highest supply for a model wired by hand; a habit, well under the limits of extra-low voltage."""

DIODE_V = 0.0514
"""Volts by which the forward voltage rises with ln(current): 2 kT/q at 25 C."""

DIMMEST = 0.05
"""Share of the current asked for below which a lamp without a resistor counts as not driven."""


@dataclass(frozen=True)
class Supply:
    """What feeds the lamps.

    Attributes
    ----------
    says : as the recipe writes it, tidied
    volts : unloaded
    internal_ohm : of all cells in a row; 0 for a mains unit or where not known
    capacity_mah : of the row of cells; 0 for a mains unit
    cell, count : the cell and how many in a row; None and 0 for a mains unit
    """

    says: str
    volts: float
    internal_ohm: float = 0.0
    capacity_mah: float = 0.0
    cell: CellRow | None = None
    count: int = 0


@dataclass(frozen=True)
class LedCircuit:
    """What to solder, and what it does.

    Attributes
    ----------
    in_series, in_parallel : lamps in one row, and rows side by side
    exact_ohm : the resistor the sum asks for
    resistor_ohm : the next value up that is made, one for each row; 0 for none
    resistor_mw, rating_w : heat in one resistor, and the rating to buy
    current_ma : in one row, as it will be
    current_low_ma, current_high_ma : with lamps at the ends of their forward voltage
    supply_ma : drawn in all
    relative_intensity : brightness over that at the lamp's usual current
    intensity_cd : of one lamp, along its axis
    lamps_mw : power of all lamps, all of it counted as heat
    heat_mw : of lamps and resistors
    run_h : until the cells are spent, at most; 0 for a mains unit
    says : the circuit in words, one fact a line
    """

    led: LedRow
    supply: Supply
    in_series: int
    in_parallel: int
    exact_ohm: float
    resistor_ohm: float
    resistor_mw: float
    rating_w: float
    current_ma: float
    current_low_ma: float
    current_high_ma: float
    supply_ma: float
    relative_intensity: float
    intensity_cd: float
    lamps_mw: float
    heat_mw: float
    run_h: float
    says: tuple[str, ...]


def supply_of(text: str, tables: Tables) -> Supply:
    """The supply a recipe names: `CR2032`, `2 x CR2032`, `3 x AAA` or `5 V`.

    Raises
    ------
    UnknownRow
        The cells table has no such cell.
    BadQuantity, BadValue
        Neither volts nor a number of cells.
    SupplyTooHigh
        More volts than a model wired by hand should carry.
    """
    words = " ".join(text.split())
    counted = re.fullmatch(r"(\d+)\s*[x×]\s*(.+)", words)
    if counted is None and re.fullmatch(r"[-+.\d].*?\s*m?V", words):
        supply = Supply(words, VOLTAGE.read(words))
    else:
        count, name = (int(counted[1]), counted[2]) if counted else (1, words)
        cell = tables.cells.get(name)
        says = f"{count} x {cell.name}" if count > 1 else cell.name
        supply = Supply(says, count * cell.nominal_v, count * cell.internal_ohm, cell.capacity_mah, cell, count)
    if supply.volts <= 0.0:
        raise BadValue("a supply has more than 0 V", found=f"`{text}`", fix="write it as `CR2032`, `3 x AAA` or `5 V`")
    if supply.volts > HIGHEST_V:
        raise SupplyTooHigh(
            f"{supply.says} is too much for a circuit in a model",
            found=f"{supply.volts:g} V, limit {HIGHEST_V:g} V",
            fix="use a tested power unit of 5 or 12 V between the model and the mains",
        )
    return supply


def series_ohm(supply_v: float, forward_v: float, current_ma: float, in_series: int = 1) -> float:
    """The resistor that leaves a current for lamps in a row, ohm: (V - n Vf) / I."""
    return (supply_v - in_series * forward_v) / current_ma * 1000.0


def forward_at(led: LedRow, current_ma: float, forward_v: float | None = None) -> float:
    """Forward voltage at a current, V.

    Parameters
    ----------
    forward_v : float, optional
        At the usual current; default: the row's middle.

    Notes
    -----
    Vf + 2 kT/q ln(I / I0) + slope (I - I0): the diode's law and the straight part of the lamp. Good to about 0.1 V
    between a twentieth of the usual current and the absolute one.

    References
    ----------
    S. M. Sze, K. K. Ng, Physics of Semiconductor Devices, 3rd ed. (2007), section 2.3.
    """
    at_usual = led.forward_v if forward_v is None else forward_v
    rise = led.slope_ohm * (current_ma - led.current_ma) / 1000.0
    return at_usual + DIODE_V * math.log(current_ma / led.current_ma) + rise


def current_through(
    led: LedRow, volts: float, row_ohm: float, shared_ohm: float, in_series: int, in_parallel: int, forward_v: float
) -> float:
    """Current of one row of lamps, mA, where diode law and resistances share the volts.

    Parameters
    ----------
    row_ohm, shared_ohm : in each row, and in the supply that all rows share
    forward_v : of one lamp at its usual current

    Notes
    -----
    The one root of V = n Vf(I) + I (R + p Rs), to 1e-9 mA; the right side rises with the current.
    """

    def short_of(log_ma: float) -> float:
        ma = math.exp(log_ma)
        drop = (row_ohm + in_parallel * shared_ohm) * ma / 1000.0
        return volts - drop - in_series * forward_at(led, ma, forward_v)

    return math.exp(float(brentq(short_of, -200.0, math.log(1e6), xtol=1e-12)))


def led_circuit(
    led: LedRow,
    supply: Supply,
    current_ma: float | None = None,
    in_series: int = 1,
    in_parallel: int = 1,
    series: Series = "E24",
) -> LedCircuit:
    """Resistor, current, brightness, heat and run time of lamps on a supply.

    Parameters
    ----------
    current_ma : float, optional
        Wanted in one row; default: the lamp's usual current.
    in_series, in_parallel : int
        Lamps in one row, and rows side by side, each with its own resistor.
    series : "E12" or "E24"

    Raises
    ------
    BadValue
        A current or a count below what makes sense.
    SupplyTooLow
        The supply has not the volts for the lamps in a row, nor the push to make them glow without a resistor.
    SupplyTooHigh
        A strip or a module is given more volts than it takes.
    CurrentTooHigh
        More than the lamp bears: asked for, or what would flow without a resistor. Pulses are not planned here.
    ResistorTooHot
        No small resistor bears the heat.

    Notes
    -----
    Where volts are left the resistor is (V - n Vf) / I less the supply's own resistance, rounded up to a value made,
    and the current is solved again with it. Where none are left a cell's own resistance sets the current, as with one
    white lamp on one coin cell. Brightness is counted in proportion to the current. Run time is capacity over
    current, which is the most a fresh cell can do: coin cells give less above a few mA.

    References
    ----------
    IEC 60063:2015, Preferred number series for resistors and capacitors.
    """
    wanted = led.current_ma if current_ma is None else current_ma
    _refuse_nonsense(led, wanted, in_series, in_parallel)
    if led.shape in {"strip", "module"}:
        return _ready_made(led, supply, in_series, in_parallel)
    shared = supply.internal_ohm * in_parallel
    exact = series_ohm(supply.volts, forward_at(led, wanted), wanted, in_series) - shared
    if exact <= 0.0 and supply.internal_ohm <= 0.0:
        raise _too_low(led, supply, in_series, wanted)
    ohm = next_up(exact, series) if exact > 0.0 else 0.0

    def solved(forward_v: float) -> float:
        return current_through(led, supply.volts, ohm, supply.internal_ohm, in_series, in_parallel, forward_v)

    current, low, high = solved(led.forward_v), solved(led.forward_high_v), solved(led.forward_low_v)
    if ohm == 0.0:
        if current < DIMMEST * wanted:
            raise _too_low(led, supply, in_series, wanted)
        _refuse_unbridled(led, supply, high, in_series)
    burnt = current**2 * ohm / 1000.0
    return _circuit(
        led, supply, in_series, in_parallel, wanted, exact, ohm, burnt, rating_for(burnt), (current, low, high)
    )


def _refuse_nonsense(led: LedRow, wanted: float, in_series: int, in_parallel: int) -> None:
    if wanted <= 0.0 or in_series < 1 or in_parallel < 1:
        raise BadValue(
            "a circuit has at least one lamp and some current",
            found=f"{wanted:g} mA, {in_series} in a row, {in_parallel} rows",
            fix=f"ask for 1 or more lamps and up to {led.current_ma:g} mA",
        )
    if wanted > led.current_max_ma:
        raise CurrentTooHigh(
            f"{led.name} does not bear that current",
            found=f"{wanted:g} mA asked for, absolute limit {led.current_max_ma:g} mA",
            fix=f"ask for {led.current_ma:g} mA or less; pulses above the limit are not planned here",
        )


def _too_low(led: LedRow, supply: Supply, in_series: int, wanted: float) -> SupplyTooLow:
    needs = in_series * forward_at(led, wanted)
    fits = int((supply.volts - 1e-9) // forward_at(led, wanted))
    if fits >= 1:
        fix = f"put {fits} in a row and more rows side by side, each with its own resistor"
    else:
        fix = f"use a supply of {math.ceil(needs + 0.5):g} V or more, or a red lamp, which needs about 2 V"
    return SupplyTooLow(
        f"{supply.says} cannot drive {in_series} x {led.name} in a row",
        found=f"{supply.volts:g} V, the lamps need {needs:.2f} V at {wanted:g} mA",
        fix=fix,
    )


def _refuse_unbridled(led: LedRow, supply: Supply, high: float, in_series: int) -> None:
    if high > led.current_max_ma:
        more = math.ceil(in_series * led.forward_high_v + 1.0)
        raise CurrentTooHigh(
            f"nothing but {supply.says} itself holds the current of {led.name} back",
            found=f"up to {high:.0f} mA with a lamp at {led.forward_low_v:g} V, limit {led.current_max_ma:g} mA",
            fix=f"use a coin cell, or a supply of {more:g} V or more, which leaves room for a resistor",
        )


def _ready_made(led: LedRow, supply: Supply, in_series: int, in_parallel: int) -> LedCircuit:
    """A strip or a module takes volts as it is; its current follows them between the ends it is made for."""
    if in_series > 1 or supply.volts < led.forward_low_v:
        raise SupplyTooLow(
            f"{supply.says} cannot drive {led.name}",
            found=f"{supply.volts:g} V for {in_series} in a row, each takes {led.forward_low_v:g} V or more",
            fix=f"feed it with {led.forward_v:g} V, side by side",
        )
    if supply.volts > led.forward_high_v:
        raise SupplyTooHigh(
            f"{led.name} does not bear {supply.says}",
            found=f"{supply.volts:g} V, limit {led.forward_high_v:g} V",
            fix=f"feed it with {led.forward_v:g} V",
        )
    shift = (supply.volts - led.forward_v) / led.slope_ohm * 1000.0 if led.slope_ohm else 0.0
    current = max(led.current_ma + shift, DIMMEST * led.current_ma)
    return _circuit(led, supply, 1, in_parallel, current, 0.0, 0.0, 0.0, 0.0, (current, current, current))


def _circuit(
    led: LedRow,
    supply: Supply,
    in_series: int,
    in_parallel: int,
    wanted: float,
    exact: float,
    ohm: float,
    burnt: float,
    rating: float,
    currents: tuple[float, float, float],
) -> LedCircuit:
    current, low, high = currents
    total = in_parallel * current
    relative = current / led.current_ma
    ready = led.shape in {"strip", "module"}
    forward = supply.volts if ready else forward_at(led, current)
    lamps = forward * in_series * total
    run_h = supply.capacity_mah / total if supply.capacity_mah else 0.0
    says = [
        f"{in_series * in_parallel} x {led.name} on {supply.says}, {in_series} in a row, {in_parallel} side by side"
    ]
    if ohm:
        each = "in each row" if in_parallel > 1 else "in series"
        says.append(f"{ohm:g} ohm {each} ({exact:.4g} by the sum), {burnt:.3g} mW in it, {rating:g} W or more")
    elif ready:
        says.append("no resistor: it brings its own")
    else:
        own = f"{supply.internal_ohm:g} ohm of {supply.says}"
        says.append(f"no resistor: the {own} hold the current at {current:.2g} mA of the {wanted:g} mA asked for")
    says.append(f"{current:.3g} mA ({low:.2g} to {high:.2g} by lamp), {relative:.0%} of its usual brightness")
    if run_h:
        says.append(f"{run_h:.3g} h at most from a fresh {supply.says}")
    if high > led.current_max_ma:
        says.append(f"a lamp at {led.forward_low_v:g} V would draw {high:.0f} mA: measure before you close the pocket")
    return LedCircuit(
        led=led,
        supply=supply,
        in_series=in_series,
        in_parallel=in_parallel,
        exact_ohm=max(exact, 0.0),
        resistor_ohm=ohm,
        resistor_mw=burnt,
        rating_w=rating if ohm else 0.0,
        current_ma=current,
        current_low_ma=low,
        current_high_ma=high,
        supply_ma=total,
        relative_intensity=relative,
        intensity_cd=led.intensity_cd * relative,
        lamps_mw=lamps,
        heat_mw=lamps + burnt * in_parallel,
        run_h=run_h,
        says=tuple(says),
    )
