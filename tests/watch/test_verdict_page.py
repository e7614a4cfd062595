"""The page of one verdict."""

from __future__ import annotations

from lxml import html

from fixtures.drawn import box
from prep.build.check_files import Asked, check_files
from prep.geometry.solid import Solid
from prep.geometry.write_mesh import write_mesh
from prep.tables import Tables
from prep.watch.thumbnail import write_thumbnail
from prep.watch.verdict_page import verdict_page, write_verdict_page
from tests.watch.entries import entry


def checked(path):
    """The report on one file."""
    tables = Tables.load()
    return check_files([path], Asked(tables.processes.get("extrusion-0.4"), tables), keep_solids=True)


def test_of_a_thin_plate(tmp_path) -> None:
    """What was found, how it was read and what passed all stand on it, and its picture is inside."""
    path = tmp_path / "plate.stl"
    write_mesh(path, {"plate": Solid.of(*box((30.0, 20.0, 0.4)))})
    done = checked(path)
    picture = write_thumbnail(tmp_path / "plate.png", next(iter(done.solids.values())))
    page = write_verdict_page(tmp_path / "v.html", entry(2, file="plate.stl"), done.report, picture)
    document = html.document_fromstring(page.read_text("utf-8"))
    text = document.text_content()
    assert "30 × 20 × 0.4 mm" in text
    assert document.xpath('//li[@class="fail"]')
    assert document.xpath("//img/@src")[0].startswith("data:image/png;base64,")


def test_of_a_broken_file(tmp_path) -> None:
    """A file that could not be read has its fault in four parts."""
    path = tmp_path / "cut.stl"
    path.write_bytes(b"\0" * 84)
    text = html.document_fromstring(verdict_page(entry(3), checked(path).report, None)).text_content()
    assert "what to do" in text
    assert "found" in text


def test_names_are_text() -> None:
    """A name that looks like markup shows as text."""
    name = "<script>alert(1)</script>.stl"
    document = html.document_fromstring(verdict_page(entry(0, file=name), None, None))
    assert document.xpath("//script") == []
    assert document.xpath("//h1")[0].text_content() == name


def test_thumbnail_bytes_repeat(tmp_path) -> None:
    """The same solid gives the same picture, small enough for a board of hundreds."""
    solid = Solid.of(*box((30.0, 20.0, 10.0)))
    first, second = (write_thumbnail(tmp_path / name, solid) for name in ("a.png", "b.png"))
    assert first.read_bytes() == second.read_bytes()
    assert first.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert len(first.read_bytes()) < 30_000


def test_of_a_recipe_leads_to_its_report() -> None:
    """The page stands in verdicts, so the way to the report of a build goes up first."""
    page = verdict_page(entry(0, file="timer.yaml", report="verdicts/builds/timer.yaml.0/report.html"), None, None)
    hrefs = html.document_fromstring(page).xpath("//a/@href")
    assert hrefs == ["./../verdicts/builds/timer.yaml.0/report.html"]


def test_nothing_is_accepted_on_a_bare_mesh(tmp_path) -> None:
    """What only a recipe can do is not asked of whoever drops a mesh."""
    path = tmp_path / "plate.stl"
    write_mesh(path, {"plate": Solid.of(*box((30.0, 20.0, 0.4)))})
    report = checked(path).report
    assert any("accept it" in one.fix for file in report.files for part in file.parts.values() for one in part.checks)
    text = html.document_fromstring(verdict_page(entry(2, file="plate.stl"), report, None)).text_content()
    assert "thicken it by" in text
    assert "accept it" not in text
