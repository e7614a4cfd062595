"""`write_board`: the page on the shop's screen, every file with its verdict, the newest first."""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from importlib import resources
from pathlib import Path
from urllib.parse import quote

import jinja2
from markupsafe import Markup

from prep.report.whole import write_whole
from prep.watch.entry import Entry, Outcome, Relation
from prep.watch.instead import Instead
from prep.watch.state import GateState

BOARD = "board.html"
MOST = 500
"""Files shown; what is older stays in the ledger."""
EARLIER = 4
"""Earlier verdicts named under a file."""
REFRESH_S = 10
LATE_SCANS = 6
"""A board older than this many intervals says that nobody looks."""
LATE_LEAST_S = 60.0

SIGNS: dict[Outcome, str] = {"pass": "✓", "warn": "!", "fail": "✕", "refused": "–", "copying": "…", "stuck": "?"}
WORDS: dict[Outcome, str] = {
    "pass": "print it",
    "warn": "look first",
    "fail": "do not print",
    "refused": "cannot be read",
    "copying": "still copying",
    "stuck": "copy stuck",
}


@dataclass(frozen=True)
class Row:
    """One file on the board: its newest verdict, and how often and how it was judged before.

    Attributes
    ----------
    earlier : verdicts on older contents, the newest first
    more_earlier : how many there are beyond those
    instead : what should be printed instead, as a later revision that has come since; None where there is nothing, or
        where the verdict speaks of it itself
    """

    entry: Entry
    earlier: tuple[Entry, ...]
    more_earlier: int
    instead: Instead | None = None

    @property
    def verdict(self) -> Outcome:
        """What is shown: what passed but is not what should be printed is to be looked at first."""
        return "warn" if self.instead is not None and self.entry.verdict == "pass" else self.entry.verdict

    @property
    def reason(self) -> str:
        """The reason, after why something else should be printed."""
        return f"{self.instead.says}; {self.entry.reason}" if self.instead is not None else self.entry.reason

    @property
    def action(self) -> str:
        """What to do: print the other, or mend this one where that is wrong with it."""
        return self.instead.action if self.instead is not None and self.verdict == "warn" else self.entry.action

    @property
    def relations(self) -> tuple[Relation, ...]:
        """What the reason does not say already."""
        return tuple(one for one in self.entry.relations if one.says not in self.reason)


def write_board(folder: Path, entries: Sequence[Entry], state: GateState) -> Path:
    """Write `board.html` whole into a folder.

    Parameters
    ----------
    entries : sequence of Entry
        The ledger, oldest first.
    """
    return write_whole(folder / BOARD, board_page(entries, state).encode())


def board_page(
    entries: Sequence[Entry],
    state: GateState,
    otherwise: Collection[str] = (),
    instead: Mapping[str, Instead] | None = None,
) -> str:
    """The page: needs no server and no network, and looks for a newer one of itself while it is shown.

    Every name that comes from a file is escaped. Verdicts are told by word, sign and outline, not by tint alone.

    Parameters
    ----------
    otherwise : collection of str
        Files that were judged by the rules of before, and will be by those of now.
    instead : mapping of str to Instead
        Files that are not what should be printed, each with what should.
    """
    every = rows(entries, instead or {})
    return page_from(
        "board.html.j2",
        rows=every[:MOST],
        hidden=len(every) - min(len(every), MOST),
        counts=[(word, WORDS[word], sum(row.verdict == word for row in every)) for word in WORDS],
        state=state,
        otherwise=otherwise,
        late_s=max(LATE_LEAST_S, LATE_SCANS * state.interval_s),
        refresh_s=REFRESH_S,
    )


def rows(entries: Sequence[Entry], instead: Mapping[str, Instead]) -> list[Row]:
    """One row a file name, the one that came last first."""
    by_file: dict[str, list[Entry]] = {}
    for entry in entries:
        by_file.setdefault(entry.file, []).append(entry)
    made = [
        Row(own[-1], tuple(own[-2 : -2 - EARLIER : -1]), max(len(own) - 1 - EARLIER, 0), instead.get(file))
        for file, own in by_file.items()
    ]
    made = [replace(row, instead=None) if row.instead and row.instead.says in row.entry.reason else row for row in made]
    return sorted(made, key=_came, reverse=True)


def _came(row: Row) -> tuple[str, str]:
    """When a file came, as far as the system tells; a recipe comes anew whenever one of its meshes does."""
    entry = row.entry
    came = entry.judged_at if entry.kind == "recipe" or entry.dropped_at is None else entry.dropped_at
    return came, entry.judged_at


def page_from(template: str, **data: object) -> str:
    """A page of this room from its template, with the room's own style in it."""
    page, style = _template(template)
    return page.render(style=style, signs=SIGNS, words=WORDS, **data)


@functools.cache
def _template(name: str) -> tuple[jinja2.Template, str]:
    """A template, made ready once, and the style."""
    here = resources.files("prep.watch")
    environment = jinja2.Environment(
        loader=jinja2.FunctionLoader(lambda file: here.joinpath(file).read_text(encoding="utf-8")),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {"href": href, "size": size_in_words, "moment": moment, "when": when, "shown": shown}
    return environment.get_template(name), here.joinpath("board.css").read_text(encoding="utf-8")


def href(path: str) -> str:
    """A path relative to the page as an address: quoted, and never taken for one with a scheme."""
    return "./" + quote(path.encode("utf-8", "surrogateescape"))


def shown(name: str) -> str:
    """A file's name as one line of text: what cannot be shown becomes a visible escape."""
    return "".join(letter if letter.isprintable() else f"\\x{ord(letter):02x}" for letter in name)


def size_in_words(count: int) -> str:
    """Bytes for reading."""
    if count < 1000:
        return f"{count} B"
    for unit in ("kB", "MB", "GB"):
        count_in = count / 1000.0 ** (("kB", "MB", "GB").index(unit) + 1)
        if count_in < 1000.0 or unit == "GB":
            break
    return f"{count_in:.3g} {unit}" if count_in < 100.0 else f"{count_in:.0f} {unit}"


def when(iso: str | None) -> Markup:
    """A time of the ledger that the page turns into one of the reader's own clock, where it may run a script."""
    return Markup('<time datetime="{}">{} UTC</time>').format(iso, moment(iso)) if iso else Markup("")


def moment(iso: str | None) -> str:
    """A time of the ledger for reading, in UTC: "2026-05-04 13:05"; empty for none."""
    return iso[:16].replace("T", " ") if iso else ""
