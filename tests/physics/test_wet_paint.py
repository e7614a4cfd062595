"""How much paint a film takes."""

from __future__ import annotations

import pytest

from prep.physics.wet_paint import wet_paint_ml


def test_by_hand() -> None:
    """100 cm2 at 40 um dry are 0.4 ml; at 40 % solids 1 ml; with half of it sprayed past, 2 ml."""
    # worked by hand
    assert wet_paint_ml(10_000.0, 0.04, 0.4, 0.5) == pytest.approx(2.0, rel=1e-12)


def test_all_that_is_sprayed_stays() -> None:
    """Solid paint without overspray is the dry volume itself."""
    assert wet_paint_ml(1_000.0, 1.0, 1.0, 0.0) == pytest.approx(1.0)
