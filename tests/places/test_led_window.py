"""`window_wall`: the light wall's thickness, snapped, and the light it passes."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.benches import shipped_tables
from prep.errors import DoesNotFit, NoTransmission, UnknownRow, WindowTooBright
from prep.places.led_wanted import WindowWanted
from prep.places.led_window import WindowWall, window_wall

TABLES = shipped_tables()
FDM, JET = TABLES.processes.get("extrusion-0.4"), TABLES.processes.get("jetting-0.027")
UP, SIDE = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])


def wall(words: dict[str, str], out: np.ndarray = SIDE, process=FDM, material: str = "pla") -> WindowWall:
    """The window as asked in words."""
    return window_wall(WindowWanted.model_validate(words), material, TABLES, process, out, UP)


def test_a_standing_wall_is_whole_beads() -> None:
    """1.0 mm at beads of 0.45 would leave a streak (one page): it becomes 0.9 mm, two beads."""
    found = wall({"wall": "1.0 mm"})
    assert found.wall_mm == pytest.approx(0.9)
    assert found.snapped == "2 beads"


def test_a_lying_wall_is_whole_layers() -> None:
    """Under a level skin 1.1 mm is five or six layers of 0.2; in material jetting layers are 0.027."""
    assert wall({"wall": "1.15 mm"}, UP).wall_mm == pytest.approx(1.2)
    jetted = wall({"wall": "1.2 mm"}, UP, JET, "jetted-rigid")
    assert jetted.wall_mm == pytest.approx(44 * 0.027)
    assert jetted.snapped == "44 layers"


def test_a_slanted_wall_is_left_as_asked() -> None:
    """At 45 degrees it is neither beads nor layers, and says so."""
    found = wall({"wall": "1.0 mm"}, np.array([1.0, 0.0, 1.0]) / math.sqrt(2.0))
    assert found.wall_mm == 1.0
    assert "leans 45 deg" in found.snapped
    assert wall({"wall": "1.0 mm"}, SIDE, JET, "jetted-rigid").count == 0


def test_snapping_never_goes_under_what_prints() -> None:
    """0.8 mm asked is printable, 0.45 would not be: two beads, not one."""
    assert wall({"wall": "0.8 mm"}).count == 2
    assert wall({"wall": "0.8 mm"}, process=replace(FDM, bead_mm=0.55)).wall_mm == pytest.approx(1.1)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.1, 0.5))
def test_light_solves_thickness_by_the_closed_form(share: float) -> None:
    """The wall asked for by light is ln(surface / share) / loss, Beer-Lambert turned round, before it is snapped."""
    found = wall({"transmit": f"{share * 100:.6f} %"}, np.array([0.6, 0.0, 0.8]))
    dark, bright = wall({"wall": "1 mm"}), wall({"wall": "2 mm"})
    loss = math.log(dark.asked_passes / bright.asked_passes)
    assert found.asked_mm == pytest.approx(1.0 + math.log(dark.asked_passes / share) / loss, rel=0.005)
    assert found.asked_passes == pytest.approx(share, rel=1e-6)


def test_light_as_made_and_as_asked_are_both_told() -> None:
    """Snapping changes the light, and both figures are kept."""
    found = wall({"transmit": "40 %"})
    assert found.asked_passes == pytest.approx(0.4)
    assert found.passes == pytest.approx(wall({"wall": f"{found.wall_mm} mm"}).passes)
    assert not found.verified


def test_an_insert_passes_what_a_clear_slab_does() -> None:
    """PMMA of index 1.4914: 92.5 % by 2n / (n^2 + 1) (Kasarova 2007 for n), less a little absorption."""
    found = wall({"insert": "pmma rod", "thick": "2 mm"})
    assert found.passes == pytest.approx(0.925107 * 0.9995**2, abs=1e-6)
    assert found.wall_mm == 2.0
    assert wall({"insert": "pmma rod"}).wall_mm == 1.5


def test_a_wall_thinner_than_prints_is_refused() -> None:
    """0.3 mm is one bead, under the process's 0.8 mm."""
    with pytest.raises(DoesNotFit, match="thinner than the process prints") as fault:
        wall({"wall": "0.3 mm"})
    assert "0.45 mm" in fault.value.found


def test_an_insert_of_a_material_that_is_not_clear_is_refused() -> None:
    """PLA has no index; the clear ones are named."""
    with pytest.raises(UnknownRow, match="not a clear material") as fault:
        wall({"insert": "pla"})
    assert "pmma rod" in fault.value.fix


def test_light_nobody_measured_is_refused() -> None:
    """No curve, no share."""
    with pytest.raises(NoTransmission):
        wall({"wall": "1.2 mm"}, material="chalk")
    with pytest.raises(WindowTooBright):
        wall({"transmit": "99 %"})
