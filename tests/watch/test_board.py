"""The board as text: order, escaping, what is said of a gate in trouble."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from lxml import html

from prep.watch.board import MOST, board_page, href, rows, shown, size_in_words, write_board
from prep.watch.instead import of_revision
from tests.watch.entries import entry, state


def page(entries, **changed):
    """The board, parsed by another library."""
    return html.document_fromstring(board_page(entries, state(**changed)))


def files_of(document):
    """Names of files as shown, top to bottom."""
    return [link.text_content() for link in document.xpath('//ol[@id="files"]//h2/a')]


def test_newest_first() -> None:
    """The file judged last stands on top."""
    assert files_of(page([entry(k) for k in range(3)])) == [f"timer body rev{k}.stl" for k in (2, 1, 0)]


def test_one_row_a_file() -> None:
    """A file judged again shows its newest verdict, and names the earlier ones."""
    document = page([entry(k, file="body.stl") for k in range(8)])
    assert files_of(document) == ["body.stl"]
    assert document.xpath('//li[contains(@class, "file")]/@data-word') == ["refused"]
    told = document.xpath('//p[@class="when"]')[0].text_content()
    assert "before: do not print 2026-05-01 00:06" in told
    assert "and 3 more" in told


def test_a_later_revision_has_come() -> None:
    """What passed is looked at before it is printed once a later revision is there; the ledger's verdict stays."""
    first = entry(0, file="body_revB.stl")
    assert first.verdict == "pass"
    later = {"body_revB.stl": of_revision("body_revC.stl", "pass")}
    document = html.document_fromstring(board_page([first, entry(4, file="body_revC.stl")], state(), instead=later))
    assert document.xpath('//ol[@id="files"]/li/@data-word') == ["pass", "warn"]
    row = document.xpath('//ol[@id="files"]/li')[1].text_content()
    assert "look first" in row
    assert "older than rev C, which is here already (body_revC.stl)" in row
    assert "print body_revC.stl instead, unless this one is meant" in row
    assert "look first 1" in document.xpath("//nav")[0].text_content().replace("\n", "")


def test_what_is_wrong_comes_before_what_is_later() -> None:
    """A part that fails and has a later revision still says what to mend."""
    wrong = entry(2, file="body_revB.stl")
    page = board_page([wrong], state(), instead={"body_revB.stl": of_revision("body_revC.stl", "pass")})
    row = html.document_fromstring(page).xpath('//ol[@id="files"]/li')[0].text_content()
    assert "do not print" in row
    assert "older than rev C" in row
    assert wrong.action in row


def test_a_later_revision_that_is_not_good() -> None:
    """Nobody is sent to print a later revision that is not to be printed, or has no verdict yet."""
    for verdict, says in (("fail", "is not good either"), (None, "has no verdict yet")):
        instead = of_revision("body_revC.stl", verdict)
        row = board_page([entry(0, file="body_revB.stl")], state(), instead={"body_revB.stl": instead})
        assert "look first" in row
        assert f"body_revC.stl {says}: see to that first" in row


def test_newest_by_when_it_came() -> None:
    """A file that was judged again, as after a change of rules, does not bury what came later."""
    old = entry(1, judged_at="2026-06-01T00:00:00Z")
    assert files_of(page([old, entry(2)])) == ["timer body rev2.stl", "timer body rev1.stl"]
    assert files_of(page([entry(1, kind="recipe", judged_at="2026-06-01T00:00:00Z"), entry(2)]))[0].endswith("rev1.stl")


def test_an_older_revision_is_told_once() -> None:
    """A verdict that speaks of the later revision itself is not told of it again."""
    says = "older than rev C, which is here already (body_revC.stl)"
    own = entry(
        1,
        file="body_revB.stl",
        reason=f"{says}; sound",
        relations=({"kind": "older than", "other": "x", "says": says},),
    )
    page = board_page([own], state(), instead={"body_revB.stl": of_revision("body_revC.stl", "pass")})
    assert html.document_fromstring(page).text_content().count(says) == 1


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>.stl", "\"quoted\" & 'single'.stl", "<img src=x onerror=alert(1)>.stl"]
)
def test_names_are_text(name) -> None:
    """A name that looks like markup shows as text and makes no element."""
    document = page([entry(0, file=name, reason=name, action=name, dropped_by=name)], stuck=((name, "stuck"),))
    assert files_of(document) == [name]
    assert len(document.xpath("//script")) == 1
    assert document.xpath("//img") == []
    assert not [one for one in document.xpath("//@*") if one.is_attribute and one.attrname.startswith("on")]


def test_odd_letters_are_seen() -> None:
    """A line feed in a name becomes a visible escape; other scripts stay as they are."""
    assert shown("a\nb\x1b.stl") == "a\\x0ab\\x1b.stl"
    assert files_of(page([entry(0, file="Gehäuse – 盒子.stl")])) == ["Gehäuse – 盒子.stl"]


def test_links_stay_in_the_folder() -> None:
    """A name with a colon, a percent sign or a query is no address of its own."""
    assert href("javascript:alert(1).html") == "./javascript%3Aalert%281%29.html"
    assert href("a?b#c%.html") == "./a%3Fb%23c%25.html"


def test_needs_no_network() -> None:
    """Nothing is loaded from anywhere else."""
    text = board_page([entry(0, thumbnail="verdicts/a.png")], state())
    assert "://" not in text
    assert page([entry(0, thumbnail="verdicts/a.png")]).xpath("//img/@src") == ["./verdicts/a.png"]


def test_verdicts_by_word_and_sign() -> None:
    """No two verdicts share a word or a sign."""
    document = page([entry(k) for k in range(4)])
    verdicts = document.xpath('//ol[@id="files"]//p[contains(@class, "verdict")]')
    assert len({one.text_content().strip() for one in verdicts}) == 4
    assert len({one.xpath(".//span")[0].text for one in verdicts}) == 4


def test_trouble_is_said() -> None:
    """A full disk, a copy that is stuck and one that is on its way stand above the files."""
    document = page([], faults=("the disk is full",), stuck=(("a.stl", "stuck for 12 min"),), copying=(("b.stl", ""),))
    assert "the disk is full" in document.xpath('//ul[@class="faults"]')[0].text_content()
    assert "stuck for 12 min" in document.xpath('//ul[@class="arriving"]')[0].text_content()
    assert "No file has been judged yet" in document.text_content()


def test_old_files_are_counted() -> None:
    """Beyond the most that are shown, the board says how many there are."""
    entries = [entry(k) for k in range(MOST + 7)]
    document = page(entries)
    assert len(files_of(document)) == MOST
    assert "7 older files are not shown" in document.text_content()
    assert len(rows(entries, {})) == MOST + 7


def test_written_whole(tmp_path) -> None:
    """The page is put in place in one move and can be parsed to its end."""
    path = write_board(tmp_path, [entry(0)], state())
    assert [one.name for one in tmp_path.iterdir()] == ["board.html"]
    parser = HTMLParser()
    parser.feed(path.read_text("utf-8"))
    assert path.read_text("utf-8").rstrip().endswith("</html>")


@pytest.mark.parametrize(("count", "says"), [(84, "84 B"), (50_084, "50.1 kB"), (2e8, "200 MB"), (3e12, "3000 GB")])
def test_sizes(count, says) -> None:
    """Bytes in decimal units (ISO/IEC 80000-13)."""
    assert size_in_words(int(count)) == says
