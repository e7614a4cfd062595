"""The page of one verdict."""

from __future__ import annotations

from lxml import html

from fixtures.drawn import box
from prep.build.check_files import Asked, check_files
from prep.contract import Finding
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
    assert [one.text for one in document.xpath("//script") if "alert" in one.text] == []
    assert len(document.xpath("//script")) == 1
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
    assert hrefs[1:] == ["./../verdicts/builds/timer.yaml.0/report.html"]


def test_leads_back_to_the_board() -> None:
    """The first link of the page is that to the board, which stands beside the folder of verdicts."""
    assert html.document_fromstring(verdict_page(entry(0), None, None)).xpath("//a/@href") == ["../board.html"]


def test_times_are_for_the_readers_clock() -> None:
    """When it was dropped and judged can be shown by the reader's clock; without a script they are in UTC."""
    document = html.document_fromstring(verdict_page(entry(0), None, None))
    assert [one.get("datetime") for one in document.xpath("//time")] == [entry(0).judged_at, entry(0).dropped_at]
    assert document.xpath("//time")[0].text == "2026-05-01 00:00 UTC"
    assert document.xpath('//*[@id="zone"]')[0].text == "UTC"


def test_parts_of_a_recipe_are_told_apart(tmp_path) -> None:
    """With two parts each finding says of which it is, and what is of none stands once; a lone part is not named."""
    path = tmp_path / "plate.stl"
    write_mesh(path, {"plate": Solid.of(*box((30.0, 20.0, 0.4)))})
    report = checked(path).report
    (file,) = report.files
    (part,) = file.parts.values()
    whole = Finding(check="weight", part=None, verdict="warn", says="lighter than asked")
    parts = {
        name: part.model_copy(
            update={"checks": (whole, *(one.model_copy(update={"part": name}) for one in part.checks))}
        )
        for name in ("body", "back")
    }

    def heads(parts):
        """What stands before each finding that is to be looked at."""
        recipe = file.model_copy(update={"kind": "recipe", "parts": parts})
        page = verdict_page(entry(2), report.model_copy(update={"files": (recipe,)}), None)
        return [one.text for one in html.document_fromstring(page).xpath('//ul[@class="findings"]/li//b')]

    told = heads(parts)
    assert told.count("warn, weight:") == 1
    assert told.count("fail, wall, body:") == told.count("fail, wall, back:") == 1
    assert {"warn, weight:", "fail, wall:"} <= set(heads({"body": parts["body"]}))


def test_nothing_is_accepted_on_a_bare_mesh(tmp_path) -> None:
    """What only a recipe can do is not asked of whoever drops a mesh."""
    path = tmp_path / "plate.stl"
    write_mesh(path, {"plate": Solid.of(*box((30.0, 20.0, 0.4)))})
    report = checked(path).report
    assert any("accept it" in one.fix for file in report.files for part in file.parts.values() for one in part.checks)
    text = html.document_fromstring(verdict_page(entry(2, file="plate.stl"), report, None)).text_content()
    assert "thicken it by" in text
    assert "accept it" not in text
