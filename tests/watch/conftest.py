"""What every test of the gate may ask for."""

from __future__ import annotations

from tests.watch.here import here

__all__ = ["here"]
