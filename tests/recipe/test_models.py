"""The words of a recipe that belong to no step."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import UnknownRow
from prep.recipe import MaterialWanted, Placement
from prep.recipe.overrides import column_notes, process_words
from prep.tables import ProcessRow, Tables


def turned(placement: Placement, point: tuple[float, float, float]) -> tuple[float, ...]:
    """The point in the assembly's frame."""
    return tuple(sum(a * b for a, b in zip(row[:3], point, strict=True)) + row[3] for row in placement.matrix())


def test_quarter_turns_are_exact() -> None:
    """A part turned over and lifted keeps its coordinates to the last bit."""
    over = Placement.model_validate({"turn": "180, 0, 0 deg", "move": "0, 0, 12 mm"})
    assert turned(over, (0.1, 0.2, 0.3)) == (0.1, -0.2, 12 - 0.3)


def test_turns_in_order() -> None:
    """The turn about x comes first, then that about y, then that about z, all about fixed axes."""
    # by hand: (0,1,0) -x90-> (0,0,1) -y90-> (1,0,0) -z90-> (0,1,0)
    placement = Placement.model_validate({"turn": "90, 90, 90 deg"})
    assert turned(placement, (0.0, 1.0, 0.0)) == (0.0, 1.0, 0.0)
    assert turned(placement, (1.0, 0.0, 0.0)) == (0.0, 0.0, -1.0)


@settings(max_examples=30, deadline=None)
@given(st.tuples(*[st.floats(-360, 360)] * 3))
def test_turns_agree_with_scipy(degrees: tuple[float, float, float]) -> None:
    """The matrix is the extrinsic xyz rotation of scipy, an independent route."""
    from scipy.spatial.transform import Rotation

    matrix = Placement(turn=", ".join(map(repr, degrees)) + " deg").matrix()
    expected = Rotation.from_euler("xyz", degrees, degrees=True).as_matrix()
    for row, wanted in zip(matrix, expected, strict=True):
        assert row[:3] == pytest.approx(wanted, abs=1e-12)


def test_process_overrides() -> None:
    """A mapping changes some figures of a row, says so, and leaves the others."""
    tables = Tables.load()
    wanted = process_words().model_validate(
        {"based_on": "extrusion-0.4", "wall_limit": "1.1 mm", "infill": "20 %", "walls": 4}
    )
    row, base = wanted.over(tables), tables.processes.get("extrusion-0.4")
    assert (row.wall_limit_mm, row.infill, row.walls) == (1.1, 0.2, 4)
    assert row.layer_mm == base.layer_mm
    assert (row.status, row.source) == ("shop", f"the recipe, over: {base.source}")


def test_process_without_overrides() -> None:
    """A name alone is the table's row, untouched."""
    tables = Tables.load()
    assert process_words()(based_on="vat-0.05").over(tables) == tables.processes.get("vat-0.05")


def test_process_words_cover_the_table() -> None:
    """Every column of the table can be overridden, and has a note that says what it is."""
    columns = [name for name in column_notes(ProcessRow) if name not in {"name", "source", "status"}]
    assert len(process_words().model_fields) == len(columns) + 1
    assert all(column_notes(ProcessRow)[name] for name in columns)


def test_material_of_its_own() -> None:
    """A new name with a density is a material, taken to soften as early as any in the table."""
    tables = Tables.load()
    row = MaterialWanted.model_validate({"name": "house resin", "density": "1.18 g/cm3"}).over(tables)
    assert (row.name, row.density_g_cm3, row.status) == ("house resin", 1.18, "shop")
    assert row.softens_c == min(each.softens_c for each in tables.materials.rows)


def test_material_over_a_row() -> None:
    """A known name with a density changes the density only."""
    tables = Tables.load()
    row = MaterialWanted.model_validate({"name": "PLA", "density": "1.3 g/cm3"}).over(tables)
    assert (row.density_low, row.density_g_cm3, row.density_high) == (1.3, 1.3, 1.3)
    assert row.softens_c == tables.materials.get("pla").softens_c


def test_material_unknown() -> None:
    """A new name without a density is refused."""
    with pytest.raises(UnknownRow):
        MaterialWanted(name="unobtainium").over(Tables.load())


def test_turn_is_rigid() -> None:
    """An odd turn keeps lengths."""
    point = turned(Placement(turn="17, -33, 71 deg"), (3.0, 4.0, 12.0))
    assert math.hypot(*point) == pytest.approx(13.0, rel=1e-14)
