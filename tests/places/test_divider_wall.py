"""The thickness of a wall between two lights."""

from __future__ import annotations

import math

import pytest

from fixtures.benches import shipped_tables
from prep.errors import DoesNotFit
from prep.places.divider_wall import divider_wall

TABLES = shipped_tables()
EXTRUSION = TABLES.processes.get("extrusion-0.4")


def test_default_is_the_next_bead_above_what_light_needs() -> None:
    """White at 0.65 exp(-0.8 d) needs 4.35 mm for 2 %: ten beads of 0.45 mm."""
    wall = divider_wall(None, "pla white", TABLES, EXTRUSION, stands=True)
    assert wall.asked_mm == pytest.approx(math.log(0.65 / 0.02) / 0.8, rel=1e-3)
    assert (wall.wall_mm, wall.snapped) == (pytest.approx(4.5), "10 beads")
    assert wall.passes <= 0.02
    assert not wall.verified


def test_dark_plastic_is_held_to_the_process() -> None:
    """Black is dark enough at 0.54 mm already; the thinnest wall of the process, in whole beads, is what is made."""
    assert divider_wall(None, "pla black", TABLES, EXTRUSION, stands=True).wall_mm == pytest.approx(0.9)


def test_asked_wall_is_snapped_to_the_nearest_bead_where_it_stands() -> None:
    """1.2 mm is three beads standing, and as asked lying or where no beads are laid."""
    jetting = TABLES.processes.get("jetting-0.027")
    assert divider_wall(1.2, "pla", TABLES, EXTRUSION, stands=True).wall_mm == pytest.approx(1.35)
    assert divider_wall(1.2, "pla", TABLES, EXTRUSION, stands=False).wall_mm == 1.2
    assert divider_wall(1.2, "pla", TABLES, jetting, stands=True).wall_mm == 1.2


def test_too_thin_is_refused() -> None:
    """One bead stays below the thinnest wall of the process."""
    with pytest.raises(DoesNotFit) as caught:
        divider_wall(0.5, "pla", TABLES, EXTRUSION, stands=True)
    assert "0.45 mm (1 bead), limit 0.8 mm" in caught.value.found
