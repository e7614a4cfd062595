"""Lamps on a supply: resistor, current, light and time, against Ohm's law and worked examples."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import BadQuantity, BadValue, CurrentTooHigh, SupplyTooHigh, SupplyTooLow, UnknownRow
from prep.physics.led_circuit import forward_at, led_circuit, series_ohm, supply_of
from prep.tables import Tables

TABLES = Tables.load()
RED, WHITE = TABLES.leds.get("round 5 mm red"), TABLES.leds.get("round 5 mm white")
STRIP = TABLES.leds.get("strip 8 mm white 12 V")


def lamp(forward_v, current_ma=20.0):
    """A lamp of one forward voltage at its usual current."""
    return replace(WHITE, forward_v=forward_v, forward_low_v=forward_v, forward_high_v=forward_v, current_ma=current_ma)


@pytest.mark.parametrize(
    ("volts", "forward", "ma", "count", "exact", "made"),
    [
        # worked examples of (V - n Vf) / I with the next E24 value up
        ("5 V", 2.0, 20.0, 1, 150.0, 150.0),
        ("12 V", 3.2, 20.0, 3, 120.0, 120.0),
        ("9 V", 3.2, 10.0, 1, 580.0, 620.0),
        ("4.5 V", 3.2, 20.0, 1, 65.0, 68.0),
    ],
)
def test_worked_resistors(volts, forward, ma, count, exact, made):
    """Common circuits get the resistor everybody works out by hand."""
    supply = supply_of(volts, TABLES)
    assert series_ohm(supply.volts, forward, ma, count) == pytest.approx(exact)
    for series in ("E24", "E12"):
        circuit = led_circuit(lamp(forward, ma), supply, ma, in_series=count, series=series)
        assert circuit.exact_ohm == pytest.approx(exact)
        assert circuit.resistor_ohm == (made if series == "E24" else {620.0: 680.0}.get(made, made))


@pytest.mark.parametrize(("volts", "forward", "count", "mw"), [("5 V", 2.0, 1, 60.0), ("12 V", 3.2, 3, 48.0)])
def test_worked_powers(volts, forward, count, mw):
    """Where the value made is the exact one, the current is the one asked for and the heat as worked out."""
    circuit = led_circuit(lamp(forward), supply_of(volts, TABLES), in_series=count)
    assert circuit.current_ma == pytest.approx(20.0, rel=1e-9)
    assert circuit.resistor_mw == pytest.approx(mw, rel=1e-9)
    assert circuit.rating_w == 0.125
    assert circuit.lamps_mw == pytest.approx(count * forward * 20.0)
    assert circuit.relative_intensity == pytest.approx(1.0)
    assert circuit.run_h == 0.0


@settings(max_examples=60, deadline=None)
@given(st.floats(4.0, 24.0), st.floats(1.5, 3.6), st.floats(1.0, 30.0), st.integers(1, 3), st.integers(1, 4))
def test_volts_and_energy_add_up(volts, forward, ma, in_series, in_parallel):
    """Round the circuit the volts sum to the supply's, and what lamps and resistors burn is what the supply gives."""
    supply = supply_of(f"{volts} V", TABLES)
    led = lamp(forward)
    try:
        circuit = led_circuit(led, supply, ma, in_series, in_parallel)
    except SupplyTooLow:
        assert in_series * forward_at(led, ma) >= volts - 1e-9
        return
    drop = in_series * forward_at(led, circuit.current_ma) + circuit.current_ma * circuit.resistor_ohm / 1000.0
    assert drop == pytest.approx(volts, abs=1e-6)
    assert circuit.heat_mw == pytest.approx(volts * circuit.supply_ma, rel=1e-6)
    assert circuit.supply_ma == pytest.approx(in_parallel * circuit.current_ma)
    assert circuit.current_ma <= ma * (1.0 + 1e-9)


def test_forward_voltage_over_current():
    """The forward voltage passes through the row's figure, and falls as white lamps' datasheets show."""
    assert forward_at(WHITE, 20.0) == WHITE.forward_v
    # a decade of current moves an ideal diode of factor 2 by 2 ln(10) kT/q = 0.118 V at 25 C
    ideal = replace(WHITE, slope_ohm=0.0)
    assert forward_at(ideal, 20.0) - forward_at(ideal, 2.0) == pytest.approx(0.118, abs=1e-3)
    assert 2.7 < forward_at(WHITE, 2.0) < 3.0


def test_one_white_lamp_on_one_coin_cell():
    """No volts are left for a resistor: the cell's own resistance and the lamp's law set a current of a few mA."""
    supply = supply_of("CR2032", TABLES)
    circuit = led_circuit(WHITE, supply, 5.0)
    assert circuit.resistor_ohm == 0.0
    assert circuit.rating_w == 0.0
    by_hand = (3.0 - forward_at(WHITE, circuit.current_ma)) / 15.0 * 1000.0
    assert circuit.current_ma == pytest.approx(by_hand, rel=1e-6)
    assert 1.0 < circuit.current_ma < 5.0
    assert circuit.current_low_ma < circuit.current_ma < circuit.current_high_ma < WHITE.current_max_ma
    assert circuit.run_h == pytest.approx(220.0 / circuit.current_ma)
    assert "no resistor" in circuit.says[1]


def test_a_stiff_supply_below_the_lamp_is_refused():
    """Two fresh rod cells hold a lamp of low forward voltage back by almost nothing, so they are refused."""
    stiff = replace(supply_of("2 x AA", TABLES), internal_ohm=0.05)
    with pytest.raises(CurrentTooHigh, match="holds the current") as caught:
        led_circuit(WHITE, stiff)
    assert "2.8 V" in caught.value.found


def test_a_coin_cell_counts_its_own_resistance():
    """A red lamp on a coin cell gets the resistor less the cell's own ohms."""
    circuit = led_circuit(RED, supply_of("CR2032", TABLES), 20.0)
    assert circuit.exact_ohm == pytest.approx(1000.0 * (3.0 - 2.0) / 20.0 - 15.0)
    assert circuit.resistor_ohm == 36.0


def test_rows_side_by_side_share_the_supply():
    """Each row has its own resistor; the cells' own resistance carries them all."""
    supply = supply_of("3 x AAA", TABLES)
    one, two = (led_circuit(RED, supply, 10.0, in_parallel=n) for n in (1, 2))
    assert one.exact_ohm - two.exact_ohm == pytest.approx(3 * 0.25)
    assert two.supply_ma == pytest.approx(2 * two.current_ma)
    assert two.run_h < one.run_h
    assert "in each row" in two.says[1]


@pytest.mark.parametrize(
    ("led", "supply", "in_series", "says", "fix"),
    [
        (WHITE, "5 V", 2, "6.66 V", "put 1 in a row"),
        (WHITE, "12 V", 4, "13.32 V", "put 3 in a row"),
        (WHITE, "3 V", 1, "3.33 V", "4 V or more"),
        (WHITE, "AA", 1, "1.5 V", "4 V or more"),
        (RED, "CR2032", 2, "4.00 V", "put 1 in a row"),
    ],
)
def test_a_supply_too_low_is_refused(led, supply, in_series, says, fix):
    """Lamps in a row that need more volts than there are are refused with both figures and what would work."""
    with pytest.raises(SupplyTooLow, match="cannot drive") as caught:
        led_circuit(led, supply_of(supply, TABLES), in_series=in_series)
    assert says in caught.value.found
    assert fix in caught.value.fix


def test_more_than_the_lamp_bears_is_refused():
    """A current above the absolute limit, pulsed or not, is refused."""
    with pytest.raises(CurrentTooHigh, match="does not bear") as caught:
        led_circuit(RED, supply_of("5 V", TABLES), 31.0)
    assert "absolute limit 30 mA" in caught.value.found


@pytest.mark.parametrize(("ma", "in_series", "in_parallel"), [(0.0, 1, 1), (-5.0, 1, 1), (5.0, 0, 1), (5.0, 1, 0)])
def test_no_lamp_or_no_current_is_refused(ma, in_series, in_parallel):
    """A circuit without lamps or current is refused."""
    with pytest.raises(BadValue, match="at least one lamp"):
        led_circuit(RED, supply_of("5 V", TABLES), ma, in_series, in_parallel)


def test_a_strip_takes_its_own_volts():
    """A strip brings its resistors: fed with its volts it draws its usual current, with fewer it is dimmer."""
    full = led_circuit(STRIP, supply_of("12 V", TABLES), in_parallel=4)
    assert (full.resistor_ohm, full.current_ma, full.supply_ma) == (0.0, 20.0, 80.0)
    assert full.heat_mw == pytest.approx(12.0 * 80.0)
    assert led_circuit(STRIP, supply_of("11 V", TABLES)).relative_intensity < 0.7


@pytest.mark.parametrize(
    ("volts", "in_series", "fault"), [("9 V", 1, SupplyTooLow), ("12 V", 2, SupplyTooLow), ("24 V", 1, SupplyTooHigh)]
)
def test_a_strip_is_not_fed_with_anything_else(volts, in_series, fault):
    """Too few volts, strips in a row, and too many volts are refused."""
    with pytest.raises(fault) as caught:
        led_circuit(STRIP, supply_of(volts, TABLES), in_series=in_series)
    assert "feed it with 12 V" in caught.value.fix


@pytest.mark.parametrize(
    ("text", "volts", "count", "says"),
    [
        ("CR2032", 3.0, 1, "CR2032"),
        ("2 x cr2032", 6.0, 2, "2 x CR2032"),
        ("3×AAA", 4.5, 3, "3 x AAA"),
        ("5 V", 5.0, 0, "5 V"),
        ("4500 mV", 4.5, 0, "4500 mV"),
        ("23A", 12.0, 1, "23A"),
    ],
)
def test_supplies(text, volts, count, says):
    """Cells by name and number, and volts with a unit, are read."""
    supply = supply_of(text, TABLES)
    assert (supply.volts, supply.count, supply.says) == (pytest.approx(volts), count, says)
    assert (supply.cell is None) == (count == 0)
    assert supply.internal_ohm == pytest.approx(count * (supply.cell.internal_ohm if supply.cell else 0.0))


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("CR2023", UnknownRow),
        ("0 V", BadValue),
        ("0 x AAA", BadValue),
        ("230 V", SupplyTooHigh),
        ("9 x CR2032", SupplyTooHigh),
        ("five volts", UnknownRow),
        ("-5 V", BadValue),
        ("5..0 V", BadQuantity),
    ],
)
def test_supplies_that_are_none(text, fault):
    """Unknown cells, no volts, and the mains are refused with what to write."""
    with pytest.raises(fault) as caught:
        supply_of(text, TABLES)
    assert caught.value.fix


def test_a_resistor_too_hot_is_refused():
    """A lamp of large current on many volts would make a resistor glow; the circuit is refused."""
    from prep.errors import ResistorTooHot

    strong = replace(lamp(3.0, 300.0), current_max_ma=350.0, slope_ohm=0.0)
    with pytest.raises(ResistorTooHot):
        led_circuit(strong, supply_of("12 V", TABLES))
    assert math.isclose(led_circuit(strong, supply_of("5 V", TABLES)).rating_w, 2.0)


def test_lamps_at_the_low_end_are_told():
    """Where a lamp of low forward voltage would draw more than it bears, the words say so."""
    loose = led_circuit(WHITE, supply_of("4 V", TABLES), 30.0)
    assert loose.current_high_ma > WHITE.current_max_ma
    assert any("measure before" in line for line in loose.says)
