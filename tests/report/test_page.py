"""The page: whole in one file, every name escaped, readable without colour."""

from __future__ import annotations

from html.parser import HTMLParser

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.build.painting import paint_turns
from prep.build.record import TargetRecord
from prep.contract import Film, Ledger
from prep.report.page import gauge, page
from prep.tables import Tables

VOID = {"meta", "img", "link", "br", "hr", "input"}


class Reader(HTMLParser):
    """Notes every element, its attributes and the words, and that all that is opened is closed."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.words: list[str] = []

    def handle_starttag(self, tag, attrs):
        """Note an element, and that it is open."""
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """See that it closes what was opened last."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Note words."""
        self.words.append(data)


def read(text: str) -> Reader:
    """The page as a browser would take it apart."""
    reader = Reader()
    reader.feed(text)
    reader.close()
    assert reader.open == []
    return reader


@pytest.fixture(scope="module")
def text(written):
    """The page of the model."""
    return (written / "report.html").read_text(encoding="utf-8")


def test_it_needs_nothing_beside_it(text):
    """No script, no style sheet, no font and no picture from elsewhere; links lead to the pictures beside it."""
    reader = read(text)
    tags = {tag for tag, _ in reader.elements}
    assert not tags & {"script", "link", "iframe", "object", "form"}
    sources = [attributes["src"] for tag, attributes in reader.elements if tag == "img"]
    assert len(sources) == 8
    assert all(source.startswith(("data:image/png;base64,", "data:image/svg+xml;base64,")) for source in sources)
    assert "url(" not in text
    assert "@import" not in text
    links = [attributes["href"] for tag, attributes in reader.elements if tag == "a"]
    assert all(link.startswith("pictures/") for link in links)


def test_names_are_shown_and_not_obeyed(text, model):
    """A name with markup in it is read letter for letter."""
    reader = read(text)
    words = "".join(reader.words)
    assert model.LID in words
    assert "egg <timer> & Co" in words
    assert not any(tag == "timer" for tag, _ in reader.elements)
    assert "<b>&#34;round" not in text
    assert "&lt;b&gt;&#34;round&#34;" in text


def test_the_verdict_is_a_word_and_a_sign(text):
    """Without colour the verdict still shows: the word, and a sign of its own."""
    words = [word.strip() for word in read(text).words if word.strip()]
    assert "warn" in words
    assert "!" in words


def test_every_item_task_finding_and_caution_is_on_it(text, record):
    """One box to tick for each item and task; each finding, caution, override and file is there."""
    reader = read(text)
    ticks = [attributes for tag, attributes in reader.elements if attributes.get("class") == "tick"]
    assert len(ticks) == len(record.items) + len(record.work)
    words = "".join(reader.words)
    for finding in record.checks:
        assert finding.says in words
    for caution in record.cautions:
        assert caution in words
    for entry in (*record.overrides, *record.extra):
        assert (entry.says if hasattr(entry, "says") else entry.sha256) in words


def test_the_same_build_gives_the_same_page(record, written, text):
    """Timing and reuse leave no trace on it."""
    step = record.steps[0].model_copy(update={"seconds": 99.0, "reused": True})
    other = record.model_copy(update={"timing_s": {"read": 77.0}, "steps": (step, *record.steps[1:])})
    assert page(other, written) == text


def test_a_bare_build_has_a_page(record, written):
    """No steps, items, target, walls or process name: still a page, and it says that nothing needs a look."""
    part = record.parts["body"].model_copy(update={"wall": None})
    bare = record.model_copy(
        update={
            "verdict": "pass", "steps": (), "items": (), "work": (), "checks": (), "cautions": (), "pictures": (),
            "process": {}, "parts": {"body": part}, "model": record.model.model_copy(update={"target": None}),
            "extra": (), "overrides": (),
        }
    )  # fmt: skip
    words = "".join(read(page(bare, written)).words)
    assert "Nothing to look at" in words
    assert "not measured" in words


@settings(deadline=None)
@given(st.floats(0.0, 300.0), st.floats(0.01, 20.0), st.floats(0.0, 300.0), st.floats(0.0, 15.0), st.floats(0.0, 15.0))
def test_the_gauge_shows_both_bands_whole(wanted, tolerance, found, under, over):
    """Whatever was asked and found, both bands lie on the bar, in the order of the numbers."""
    target = TargetRecord(mass_g=wanted, tolerance_g=tolerance, found_g=found)
    bar = gauge(target, (found - under, found + over))
    assert 0.0 <= bar.low <= bar.found <= bar.high <= 100.0
    assert 0.0 <= bar.target_low <= bar.target <= bar.target_high <= 100.0
    if abs(found - wanted) > 0.01 * (tolerance + under + over):
        assert (bar.found < bar.target) == (found < wanted)


def test_paint_in_its_order(record, written) -> None:
    """Every coat stands on the sheet in its turn, with what it takes and how long to wait."""
    coats = paint_turns(
        Ledger(
            films=(
                Film(step="b", part="dial", region="all over", coat="silver metallic", thickness_mm=0.04, area_mm2=2e3),
                Film(step="a", part="body", region="all over", coat="grey primer", thickness_mm=0.04, area_mm2=9e3),
            )
        ),
        Tables.load(),
    )
    text = page(record.model_copy(update={"paint": coats}), written)
    assert text.index("grey primer") < text.index("silver metallic")
    assert "metal flake cannot be printed" in text
    assert "50 % of it overspray" in text
