"""`prep table`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from prep.cli import run
from prep.tables import Tables


def test_list_of_tables(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a name it lists the tables."""
    assert run(["table"]) == 0
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == list(Tables.__dataclass_fields__)


def test_rows(capsys: pytest.CaptureFixture[str]) -> None:
    """With a name it lists every row."""
    assert run(["table", "materials"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[1:]] == [name.split()[0] for name in Tables.load().materials.names]


def test_one_row(capsys: pytest.CaptureFixture[str]) -> None:
    """With a row it shows every column, source included."""
    assert run(["table", "materials", "PLA"]) == 0
    out = capsys.readouterr().out
    assert ["density_g_cm3", "1.24"] in [line.split() for line in out.splitlines()]
    assert "source " in out


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    """As JSON, stdout is the rows and nothing else."""
    assert run(["table", "materials", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert rows[0]["name"] == "pla"
    assert rows[0]["density_g_cm3"] == 1.24


def test_like(capsys: pytest.CaptureFixture[str]) -> None:
    """Rows may be asked for by a part of their name."""
    assert run(["table", "magnets", "--like", "10x3 n42"]) == 0
    assert capsys.readouterr().out.splitlines()[1].startswith("disc 10x3 N42")


def test_narrow_terminal(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Columns that have no room are left out, and that is said."""
    monkeypatch.setenv("COLUMNS", "60")
    assert run(["table", "processes"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(map(len, lines[:-1])) <= 60
    assert "more columns" in lines[-1]


def test_holds(capsys: pytest.CaptureFixture[str]) -> None:
    """Stocked discs that hold a force at a gap are listed, the lightest first, with the share counted on."""
    assert run(["table", "magnets", "--holds", "8N", "--gap", "0.5mm", "--service", "100 %", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)
    assert all(row["holds_n"] >= 8.0 for row in rows)
    assert [row["mass_g"] for row in rows] == sorted(row["mass_g"] for row in rows)
    # disc 10x3 of Br 1.30 T at a gap of 0.5 mm: 15.8950 N, four independent routes (reference values, section 4)
    assert next(row for row in rows if row["name"] == "disc 10x3 N42")["holds_n"] == pytest.approx(15.895, abs=0.005)


def test_holds_on_steel(capsys: pytest.CaptureFixture[str]) -> None:
    """Against steel the twin stands at double the gap."""
    assert run(["table", "magnets", "--holds", "8N", "--gap", "0.5 mm", "--steel", "--service", "100 %", "--json"]) == 0
    rows = {row["name"]: row["holds_n"] for row in json.loads(capsys.readouterr().out)}
    # same source: 12.1913 N between twins at 1 mm
    assert rows["disc 10x3 N42"] == 12.19


def test_nothing_holds(capsys: pytest.CaptureFixture[str]) -> None:
    """A force no disc holds is a fault that says how many would."""
    assert run(["table", "magnets", "--holds", "200 N"]) == 2
    err = capsys.readouterr().err
    assert "error[too-weak]" in err
    assert "use 4 of them" in err


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["magnts"], "did you mean `magnets`?"),
        (["magnets", "disc 6x2 N43"], "did you mean"),
        (["magnets", "--holds", "8"], "write `8 N`"),
        (["leds", "--holds", "8 N"], "only magnets hold"),
        (["magnets", "--holds", "8 N", "--gap", "-1mm"], "write a gap of 0 or more"),
    ],
)
def test_refused(arguments: list[str], text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown table or row, a bare number, and a table that does not hold are faults."""
    assert run(["table", *arguments]) == 2
    assert text in capsys.readouterr().err


def test_shop(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The shop's rows are shown, and what they changed is said."""
    (tmp_path / "materials.csv").write_text("name,density_g_cm3\npla,1.3\n")
    assert run(["table", "materials", "--shop", str(tmp_path)]) == 0
    assert "shop: pla, density_g_cm3: 1.24 -> 1.3" in capsys.readouterr().out
