"""The shop's own tables over the shipped ones."""

from __future__ import annotations

import pytest

from prep.errors import BadTable, Faults
from prep.tables import Tables


def shop_with(folder, name, text):
    """A shop folder with one table file."""
    (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    return folder


def test_a_shop_row_gives_only_some_columns(tmp_path):
    """A shop file changes single figures of a shipped row; the rest stays, and the change is listed."""
    tables = Tables.load(shop_with(tmp_path, "materials", "name,density_g_cm3\nPLA,1.31\n"))
    row, shipped = tables.materials.get("pla"), Tables.load().materials.get("pla")
    assert row.density_g_cm3 == 1.31
    assert row.softens_c == shipped.softens_c
    assert row.status == "shop"
    assert shipped.source in row.source
    [override] = tables.materials.overrides
    assert (override.row, override.column, override.was, override.now) == ("pla", "density_g_cm3", "1.24", "1.31")
    assert len(tables.materials.rows) == len(Tables.load().materials.rows)


def test_a_figure_that_says_the_same_is_no_override(tmp_path):
    """Repeating a shipped figure is not reported as a change."""
    assert not Tables.load(shop_with(tmp_path, "materials", "name,density_g_cm3\npla,1.24\n")).materials.overrides


def test_a_shop_row_is_added(tmp_path):
    """A new magnet needs only its size and grade: remanence and mass follow."""
    text = "name,shape,diameter_mm,thickness_mm,grade,stocked\ndisc 7x2 N45,disc,7,2,N45,yes\n"
    tables = Tables.load(shop_with(tmp_path, "magnets", text))
    row = tables.magnets.get("disc 7x2 N45")
    assert row.remanence_t == pytest.approx(1.35)
    assert row.mass_g == pytest.approx(7.5e-3 * 3.14159265 * 49 / 4 * 2)
    assert row.source == "shop/magnets.csv"
    assert tables.magnets.added == ("disc 7x2 N45",)
    assert not tables.magnets.overrides


def test_putty_can_be_used_once_the_shop_knows_its_density(tmp_path):
    """The shop's own figure finishes an unfinished row."""
    tables = Tables.load(shop_with(tmp_path, "ballast", "name,density_g_cm3\ntungsten putty,9.6\n"))
    assert tables.ballast.get("tungsten putty").density_g_cm3 == 9.6


def test_a_changed_size_changes_the_mass(tmp_path):
    """A derived mass follows the shop's size."""
    tables = Tables.load(shop_with(tmp_path, "magnets", "name,thickness_mm\ndisc 6x2 N42,4\n"))
    assert tables.magnets.get("disc 6x2 N42").mass_g == pytest.approx(2 * 0.42411501, rel=1e-6)


def test_no_shop_folder_is_no_fault(tmp_path):
    """A recipe without a shop folder uses the shipped tables."""
    assert Tables.load(tmp_path / "shop") == Tables.load()


@pytest.mark.parametrize(
    ("name", "text", "says", "where"),
    [
        ("materials", "name,density_g_cm3\nwax,0.9\n", "column `density_low` is missing", "materials.csv:2, row `wax`"),
        ("materials", "density_g_cm3\n1.2\n", "no `name` column", "materials.csv:1"),
        ("materials", "name,density\npla,1.2\n", "unknown column `density`", "materials.csv:1"),
        ("materials", "name,softens_c\nabs,90\n\npla,60 C\n", "is no number", "materials.csv:4"),
        ("materials", "name,softens_c\npla,-3\n", "must be 0 or more", "materials.csv:2"),
        ("materials", "name,softens_c\npla,nan\n", "must be 0 or more", "materials.csv:2"),
        ("materials", "name,softens_c\npla,50\nP L A,60\n", "a name comes twice", "materials.csv:3"),
        ("materials", "name,softens_c\n,50\n", "a row has no name", "materials.csv:2"),
        ("materials", "name,softens_c\npla,50,60\n", "another number of cells", "materials.csv:2"),
        ("magnets", "name,stocked\ndisc 6x2 N42,maybe\n", "unknown word", "magnets.csv:2"),
        ("processes", "name,walls\nextrusion-0.4,2.5\n", "is no whole number", "processes.csv:2"),
        ("magnet", "name,stocked\ndisc 6x2 N42,yes\n", "is no table", "magnet.csv"),
    ],
)
def test_a_bad_shop_table_is_refused_with_its_line(tmp_path, name, text, says, where):
    """What is wrong with a shop table is named with file and line, and what to do."""
    with pytest.raises((BadTable, Faults)) as caught:
        Tables.load(shop_with(tmp_path, name, text))
    fault = caught.value.faults[0] if isinstance(caught.value, Faults) else caught.value
    assert says in fault.what
    assert where in fault.where
    assert fault.found
    assert fault.fix


def test_all_bad_cells_are_reported_at_once(tmp_path):
    """One bad cell does not hide the next."""
    text = "name,softens_c,density_g_cm3\npla,warm,heavy\nabs,hot,1.04\n"
    with pytest.raises(Faults) as caught:
        Tables.load(shop_with(tmp_path, "materials", text))
    assert len(caught.value.faults) == 3


def test_a_table_that_is_not_text_is_refused(tmp_path):
    """A spreadsheet's own format saved under the name of a table is refused, not read as noise."""
    (tmp_path / "materials.csv").write_bytes(b"PK\x03\x04\xff\xfe\xfd")
    with pytest.raises(BadTable, match="not UTF-8"):
        Tables.load(tmp_path)


def test_an_unknown_table_names_the_nearest():
    """A table that is not there is refused with the nearest known word."""
    with pytest.raises(BadTable, match="no table") as caught:
        Tables.load().named("magnet")
    assert "`magnets`" in caught.value.fix
