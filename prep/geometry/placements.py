"""`Placements`: how many bodies the components of a 3MF package place, counted before a parser follows them."""

from __future__ import annotations

import re

from prep.errors import FileMalformed, FileTooLarge, UnsafePackage

MOST_PLACEMENTS = 100_000
"""Bodies that nested components may place in all."""
DEEPEST = 64
"""Components within components."""

_MARK = re.compile(
    rb"""<!--|<!\[CDATA\[|<\?|-->|\]\]>|\?>"""
    rb"""|<(/?)((?:[\w.-]+:)?)(object|component|item)(?=[\s/>])((?:[^>"']|"[^"]*"|'[^']*')*)>"""
)
_ATTRIBUTE = re.compile(rb"""(?:^|\s)(?:[\w.-]+:)?(id|objectid|path)\s*=\s*(?:"([^"]*)"|'([^']*)')""")
_ENDS = {b"<!--": b"-->", b"<![CDATA[": b"]]>", b"<?": b"?>"}
_TELLTALES = (b"o", b"!", b"?")
"""Bytes of which every mark counted here holds one, and rows of vertices and triangles none; looking is nearly free."""

Node = tuple[str, str]
"""An object: the part of the package it stands in, and its number there."""


class Placements:
    """Which objects hold which, gathered over the parts of a package.

    Notes
    -----
    A parser follows components one by one, so ten levels of ten components each, a kilobyte of text, would keep it
    for ever. Counting needs only the marks `object` and `component`. Nothing may make them look other than a parser
    sees them: comments are skipped as a parser does, and an object within an object, a second prefix, or a name
    space declared below the root, in which a mark could be passed over, is refused.
    """

    def __init__(self) -> None:
        self._children: dict[Node, list[Node]] = {}
        self._items: list[Node] = []
        self._prefix: bytes | None = None
        self.begin("")

    def begin(self, part: str) -> None:
        """Begin a part of the package."""
        self._part = part.lower()
        self._open: Node | None = None
        self._until = b""
        self._prefix = None

    def read(self, stretch: bytes) -> None:
        """Take in a stretch of the part begun last; no mark may be cut in two.

        Raises
        ------
        FileMalformed
            An object or component without a number, or one object within another.
        UnsafePackage
            Marks of more than one name space.
        """
        if not self._until and not any(byte in stretch for byte in _TELLTALES):
            return
        for mark in _MARK.finditer(stretch):
            if self._until:
                self._until = b"" if mark.group(0) == self._until else self._until
            elif mark.group(3) is None:
                self._until = _ENDS.get(mark.group(0), b"")
            else:
                self._take(mark)

    def _take(self, mark: re.Match[bytes]) -> None:
        """Take in one object, component or build item."""
        closing, prefix, kind, inside = (mark.group(k) for k in range(1, 5))
        if self._prefix is None:
            self._prefix = prefix
        if prefix != self._prefix or re.search(rb"\sxmlns", inside):
            raise UnsafePackage(
                "the model in the 3MF file mixes name spaces",
                found=f"{self._part[:80]!r}: {mark.group(0)[:60].decode('ascii', 'replace')!r}",
                fix="export the file again from the program it came from",
            )
        if closing:
            self._open = None if kind == b"object" else self._open
            return
        given = {name.decode(): one or other for name, one, other in _ATTRIBUTE.findall(inside)}
        number = given.get("id" if kind == b"object" else "objectid", b"").strip()
        if not number.isdigit() or (kind == b"object" and self._open):
            raise FileMalformed(
                f"the 3MF file has {kind.decode()} without a number, or within another",
                found=f"{mark.group(0)[:60].decode('ascii', 'replace')!r}",
                fix="export the file again",
            )
        where = given["path"].decode("utf-8", "replace").lstrip("/").lower() if "path" in given else self._part
        node = (where, str(int(number[:20])))
        if kind == b"object":
            own = (self._part, node[1])
            self._children.setdefault(own, [])
            self._open = None if inside.endswith(b"/") else own
        elif kind == b"item":
            self._items.append(node)
        elif self._open:
            self._children[self._open].append(node)

    def prove_bounded(self) -> None:
        """Refuse components that place without end.

        Raises
        ------
        FileTooLarge
            More bodies than `MOST_PLACEMENTS`, or nested deeper than `DEEPEST`.
        """
        placed: dict[Node, int] = {}
        total = sum(self._count(node, placed, 0) for node in self._children)
        total += sum(placed.get(node, 1) for node in self._items)
        if total > MOST_PLACEMENTS:
            raise _endless(f"{total} placements, limit {MOST_PLACEMENTS}")

    def _count(self, node: Node, placed: dict[Node, int], depth: int) -> int:
        if depth > DEEPEST:
            raise _endless(f"components nested deeper than {DEEPEST}, or in a circle")
        if node not in placed:
            placed[node] = 1 + sum(self._count(child, placed, depth + 1) for child in self._children.get(node, ()))
        return placed[node]


def _endless(found: str) -> FileTooLarge:
    return FileTooLarge(
        "the components of the 3MF file place more bodies than any part needs",
        found=found,
        fix="export the part alone",
    )
