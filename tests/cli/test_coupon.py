"""`prep coupon`."""

from __future__ import annotations

from pathlib import Path

import pytest

from prep.cli import run


def test_step_wedge(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The wedge of a material lands in a folder of its own, with its instructions on the terminal."""
    monkeypatch.chdir(tmp_path)
    assert run(["coupon", "step-wedge", "--material", "pla white", "--steps", "0.4, 0.8,1.6 mm"]) == 0
    out = capsys.readouterr().out
    assert "Step wedge of pla white, extrusion-0.4: 0.4, 0.8, 1.6 mm" in out
    assert "dark reading" in out
    folder = tmp_path / "coupon" / "step-wedge-pla-white"
    assert {path.name for path in folder.iterdir()} == {
        "step-wedge.3mf",
        "step-wedge.json",
        "how-to.txt",
        "transmission.csv",
    }
    assert all(f"wrote {path.relative_to(tmp_path)}" in out for path in folder.iterdir())


def test_standing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A standing wedge is made of whole beads and says how it is laid."""
    assert run(["coupon", "step-wedge", "--standing", "-o", str(tmp_path / "out")]) == 0
    assert "0.45, 0.9, 1.35, 1.8, 2.25, 3.15 mm" in capsys.readouterr().out


@pytest.mark.parametrize("steps", ["thin,thick", "0.4;0.8", "0.4,,0.8", "0.4 kg,1"])
def test_steps_that_are_no_lengths(steps: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Steps that are no lengths are refused with an example."""
    assert run(["coupon", "step-wedge", "--steps", steps, "-o", str(tmp_path / "out")]) == 2
    err = capsys.readouterr().err
    assert "error[bad-quantity]" in err
    assert "--steps 0.4,0.8,1.6" in err
    assert not (tmp_path / "out").exists()


def test_an_unknown_coupon(capsys: pytest.CaptureFixture[str]) -> None:
    """A coupon that is not there is refused as wrong use."""
    assert run(["coupon", "fog-wedge"]) == 2
    assert "fog-wedge" in capsys.readouterr().err


def test_the_curves_are_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`prep table transmission` ends with the fit of every material, its errors, and faults of bad readings."""
    text = "name,material,thickness_mm,share\na,pla,0.8,0.4\nb,pla,1.6,0.2\nc,pla,2.4,0.1\nd,fog,1,0.5\n"
    (tmp_path / "transmission.csv").write_text(text, encoding="utf-8")
    assert run(["table", "transmission", "--shop", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "shop: pla, every reading: 6 shipped -> 3 of the shop's own" in out
    assert "pla: 0.800 ± 0.0" in out
    assert "0.866 ± 0.0" in out
    assert "3 readings from 0.8 to 2.4 mm" in out
    assert "petg: 0.8 at the faces and 0.25 per mm are an unverified default" in out
    assert "error[bad-readings]" in out
