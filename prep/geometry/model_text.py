"""`prove_text`: the XML of a 3MF package proven harmless before a parser sees it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from prep.errors import FileCutShort, FileMalformed, FileTooLarge, UnknownUnit, UnsafePackage

MOST_PLACEMENTS = 100_000
"""Bodies that nested components may place in all."""
DEEPEST = 64
"""Components within components."""

UNITS = {
    "micron": "micron",
    "millimeter": "mm",
    "centimeter": "cm",
    "inch": "inch",
    "foot": "foot",
    "meter": "m",
}
"""The units the 3MF core specification knows, and our words for them."""

_LONGEST_TAG = 1 << 24
_DECLARATION = re.compile(rb"<!(?!--|\[CDATA\[)")
_ENCODING = re.compile(rb"""^\s*<\?xml[^>]*\bencoding\s*=\s*["']([^"']*)["']""")
_MODEL = re.compile(rb"<(?:[\w.-]+:)?model\b([^>]*)>")
_UNIT = re.compile(rb"""(?:^|\s)unit\s*=\s*["']([^"']*)["']""")
_TREE = re.compile(rb"""<(?:[\w.-]+:)?(object|component|item)(?=[\s/>])((?:[^>"']|"[^"]*"|'[^']*')*)>""")
_ATTRIBUTE = re.compile(rb"""(?:^|\s)(?:[\w.-]+:)?(id|objectid|path)\s*=\s*["']([^"']*)["']""")

Node = tuple[str, str]
"""An object: the part of the package it stands in, and its number there."""


@dataclass
class Placements:
    """Which objects hold which, gathered over the parts of a package."""

    children: dict[Node, list[Node]] = field(default_factory=dict)
    items: list[Node] = field(default_factory=list)

    def prove_bounded(self) -> None:
        """Refuse components that place without end.

        Raises
        ------
        FileTooLarge
            More bodies than `MOST_PLACEMENTS`, or nested deeper than `DEEPEST`: ten levels of ten components each
            are a kilobyte of text and ten thousand million bodies.
        """
        placed: dict[Node, int] = {}
        total = sum(self._count(node, placed, 0) for node in self.children)
        total += sum(placed.get(node, 1) for node in self.items)
        if total > MOST_PLACEMENTS:
            raise self._endless(f"{total} placements, limit {MOST_PLACEMENTS}")

    def _count(self, node: Node, placed: dict[Node, int], depth: int) -> int:
        if depth > DEEPEST:
            raise self._endless(f"components nested deeper than {DEEPEST}, or in a circle")
        if node not in placed:
            placed[node] = 1 + sum(self._count(child, placed, depth + 1) for child in self.children.get(node, ()))
        return placed[node]

    @staticmethod
    def _endless(found: str) -> FileTooLarge:
        return FileTooLarge(
            "the components of the 3MF file place more bodies than any part needs",
            found=found,
            fix="export the part alone",
        )


def prove_text(part: str, pieces: Iterable[bytes], placements: Placements) -> None:
    """Read the text of one member through, and add the objects it holds to `placements`.

    Parameters
    ----------
    part : str
        Name of the member.
    pieces : iterable of bytes
        Its content; consumed to the end whatever it is. Content that is not XML passes.

    Raises
    ------
    UnsafePackage
        A document type, an entity, or an encoding other than UTF-8 (in which these could hide).
    UnknownUnit
        The model is in a unit that 3MF does not know.
    FileCutShort
        The text ends before the model does.

    Notes
    -----
    One pass, never more than two pieces in memory. XML entities are never needed in 3MF, which forbids document types.
    """
    is_text = is_model = False
    last = b""
    node: Node = (part, "")
    for number, stretch in enumerate(_stretches(pieces)):
        if number == 0:
            head = stretch.removeprefix(b"\xef\xbb\xbf").lstrip()
            if stretch[:2] in (b"\xff\xfe", b"\xfe\xff"):
                raise _unsafe(part, "it is not in UTF-8")
            is_text = head.startswith(b"<")
            if is_text:
                is_model = _judge_head(part, head)
        if not is_text:
            continue
        if b"\0" in stretch:
            raise _unsafe(part, "zero bytes in text")
        declaration = _DECLARATION.search(stretch)
        if declaration:
            word = stretch[declaration.start() : declaration.start() + 40].decode("ascii", "replace")
            raise _unsafe(part, f"it declares {word!r}")
        node = _gather(part, stretch, node, placements)
        last = stretch
    if is_model and not re.search(rb"</(?:[\w.-]+:)?model\s*>(?:\s|<!--.*?-->)*$", last[-4096:], re.DOTALL):
        raise FileCutShort(
            "the model in the 3MF file ends before its closing mark",
            found=f"last characters {last[-30:].decode('ascii', 'replace')!r}",
            fix="export the file again",
        )


def _stretches(pieces: Iterable[bytes]) -> Iterator[bytes]:
    """The pieces cut anew, each just before a mark begins, so that no mark is cut in two; the first holds the head."""
    kept = b""
    first = True
    for piece in pieces:
        kept += piece
        cut = kept.rfind(b"<")
        if cut > (_HEAD if first else 0):
            yield kept[:cut]
            kept = kept[cut:]
            first = False
        elif len(kept) > _LONGEST_TAG:
            yield kept  # no text of a model is like this; pictures are
            kept = b""
            first = False
    yield kept


_HEAD = 1 << 16


def _judge_head(part: str, head: bytes) -> bool:
    """Whether the text is a model; refuse encodings and units that are not known."""
    encoding = _ENCODING.match(head)
    if encoding and encoding.group(1).lower() not in (b"utf-8", b"us-ascii", b"ascii"):
        raise _unsafe(part, f"encoding {encoding.group(1)[:20].decode('ascii', 'replace')!r}, not UTF-8")
    model = _MODEL.search(head[:_HEAD])
    if model is None:
        return False
    unit = _UNIT.search(model.group(1))
    if unit and unit.group(1).decode("ascii", "replace") not in UNITS:
        raise UnknownUnit(
            "the 3MF file is in a unit that 3MF does not know",
            found=f"unit {unit.group(1)[:30].decode('ascii', 'replace')!r}",
            fix=f"export in one of {', '.join(UNITS)}",
        )
    return True


def _gather(part: str, stretch: bytes, node: Node, placements: Placements) -> Node:
    """Note the objects, components and build items of a stretch; the object still open goes with the next stretch."""
    if b"object" not in stretch and b"component" not in stretch:
        return node
    for mark in _TREE.finditer(stretch):
        given = {name.decode(): value for name, value in _ATTRIBUTE.findall(mark.group(2))}
        kind = mark.group(1)
        number = given.get("id" if kind == b"object" else "objectid", b"")
        if not number.strip().isdigit():
            raise FileMalformed(
                f"the 3MF file has {kind.decode()} without a number",
                found=f"{mark.group(0)[:60].decode('ascii', 'replace')!r}",
                fix="export the file again",
            )
        where = given["path"].decode("utf-8", "replace").lstrip("/").lower() if "path" in given else part.lower()
        found: Node = (where, str(int(number[:20])))
        if kind == b"object":
            node = (part.lower(), found[1])
            placements.children.setdefault(node, [])
        elif kind == b"component":
            placements.children.setdefault(node, []).append(found)
        else:
            placements.items.append(found)
    return node


def _unsafe(part: str, why: str) -> UnsafePackage:
    return UnsafePackage(
        "the XML in the 3MF file is not of the plain kind that 3MF allows",
        found=f"{part[:80]!r}: {why}",
        fix="export the file again from the program it came from",
    )
