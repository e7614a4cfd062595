"""A step is held to what it predicted."""

from __future__ import annotations

import numpy as np
import pytest

from fixtures.drawn import box
from prep.build.verify import differences, hold_to
from prep.contract import Bench, Ledger, Outcome, Part, Prediction
from prep.errors import ContractBroken
from prep.geometry.solid import Solid, subtract, unite
from prep.tables import Tables

HOST = Solid.of(*box((40.0, 30.0, 20.0)))


def cut(low_z: float, high_z: float) -> Solid:
    """The host with a 10 x 9 mm pocket from low_z to high_z taken out; its top face is at z = 10."""
    return subtract(HOST, [Solid.of(*box((10.0, 9.0, high_z - low_z), (0.0, 0.0, (low_z + high_z) / 2.0)))])


POCKET = Prediction(part="host", volume_mm3=-450.0, volume_tolerance_mm3=0.1)


def bench() -> Bench:
    """The host alone."""
    tables = Tables.load()
    part = Part("host", HOST, HOST, tables.materials.get("pla"))
    return Bench({"host": part}, Ledger(), tables.processes.get("extrusion-0.4"), tables, 0.8)


def test_a_pocket_as_predicted_passes() -> None:
    """A blind pocket changes neither shells nor genus, and takes its closed-form volume."""
    assert differences(HOST, cut(5.0, 11.0), POCKET) == []


@pytest.mark.parametrize("short", [1e-3, 1e-6])
def test_a_cutter_that_stops_short_is_caught(short: float) -> None:
    """A cutter a micron, or a nanometre, under the face leaves a sealed void that volume alone does not show."""
    wrong = differences(HOST, cut(5.0, 10.0 - short), POCKET)
    assert any("sealed voids +1" in one for one in wrong)
    assert not any(one.startswith("volume") for one in wrong)


def test_a_hole_that_goes_through_is_caught() -> None:
    """A pocket that breaks out at the bottom is a handle more."""
    assert any("genus +1" in one for one in differences(HOST, cut(-11.0, 11.0), POCKET))


def test_a_wrong_volume_is_caught() -> None:
    """A pocket a tenth of a millimetre too deep is outside the tolerance."""
    assert any(one.startswith("volume") for one in differences(HOST, cut(4.9, 11.0), POCKET))


def test_growth_is_caught_unless_declared() -> None:
    """A part may outgrow its bounds only where the step says so."""
    grown = unite([HOST, Solid.of(*box((4.0, 4.0, 10.0), (0.0, 0.0, 10.0)))])
    says = Prediction(part="host", volume_mm3=80.0, volume_tolerance_mm3=0.1)
    assert any("bounds grew by 5" in one for one in differences(HOST, grown, says))
    assert differences(HOST, grown, says.model_copy(update={"grows": True})) == []


def test_a_loose_body_is_caught() -> None:
    """A second shell that was not predicted is named."""
    halves = subtract(HOST, [Solid.of(*box((2.0, 40.0, 40.0)))])
    wrong = differences(HOST, halves, Prediction(part="host", volume_mm3=-1200.0, volume_tolerance_mm3=0.1))
    assert any("shells +1" in one for one in wrong)


def test_hold_to_raises_with_the_part_and_the_numbers() -> None:
    """The build stops with the part's name and every difference."""
    with pytest.raises(ContractBroken, match="host") as caught:
        hold_to(bench(), Outcome(solids={"host": cut(-11.0, 11.0)}, predictions=(POCKET,)))
    assert "genus +1" in caught.value.found
    assert "volume" in caught.value.found


def test_a_part_without_a_prediction_is_refused() -> None:
    """A step cannot change a part in silence."""
    with pytest.raises(ContractBroken, match="without saying"):
        hold_to(bench(), Outcome(solids={"host": HOST}, predictions=()))


def test_an_unchanged_part_meets_an_empty_prediction() -> None:
    """Nothing done, nothing predicted."""
    nothing = Prediction(part="host", volume_mm3=0.0, volume_tolerance_mm3=0.0)
    hold_to(bench(), Outcome(solids={"host": HOST}, predictions=(nothing,)))
    assert np.isfinite(HOST.volume_mm3)
