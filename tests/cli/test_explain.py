"""`prep explain`."""

from __future__ import annotations

import pytest

from prep.cli import run
from prep.reference import explain


def test_explain(capsys: pytest.CaptureFixture[str]) -> None:
    """It prints what is known by a word, several words read as one."""
    assert run(["explain", "seat", "magnets"]) == 0
    assert capsys.readouterr().out == explain("seat_magnets")


def test_unknown(capsys: pytest.CaptureFixture[str]) -> None:
    """A word that is not known is a fault with status 2."""
    assert run(["explain", "seat_magnet"]) == 2
    assert "did you mean `seat_magnets`" in capsys.readouterr().err
