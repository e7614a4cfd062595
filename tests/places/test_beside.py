"""What stands beside a point."""

from __future__ import annotations

from prep.places.beside import beside


def test_nearest_that_reaches_is_named() -> None:
    """The nearest place wins, its reach taken off; one that does not reach does not count."""
    named = [("near", (1.0, 0.0, 0.0), 2.0), ("far", (9.0, 0.0, 0.0), 3.0), ("wide", (5.0, 0.0, 0.0), 4.5)]
    assert beside((0.0, 0.0, 0.0), named) == "near"
    assert beside((7.0, 0.0, 0.0), named) == "wide"
    assert beside((30.0, 0.0, 0.0), named) == ""
    assert beside((0.0, 0.0, 0.0), []) == ""
