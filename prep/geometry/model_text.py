"""`prove_text`: the XML of a 3MF package proven harmless before a parser sees it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from prep.errors import FileCutShort, UnknownUnit, UnsafePackage
from prep.geometry.placements import Placements

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
_SECOND_SPACE = re.compile(rb"\sxmlns\s*=")


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
        A document type, an entity, an encoding other than UTF-8, or a second default name space, in which these or a
        component could hide.
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
    spaces = 0
    placements.begin(part)
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
        declaration = _DECLARATION.search(stretch) if b"!" in stretch else None
        if declaration:
            word = stretch[declaration.start() : declaration.start() + 40].decode("ascii", "replace")
            raise _unsafe(part, f"it declares {word!r}")
        spaces += len(_SECOND_SPACE.findall(stretch)) if b"m" in stretch else 0
        if is_model and spaces > 1:
            raise _unsafe(part, "a name space declared twice")
        placements.read(stretch)
        last = (last + stretch)[-4096:]
    if is_model and not re.search(rb"</(?:[\w.-]+:)?model\s*>(?:\s|<!--.*?-->)*$", last, re.DOTALL):
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


def _unsafe(part: str, why: str) -> UnsafePackage:
    return UnsafePackage(
        "the XML in the 3MF file is not of the plain kind that 3MF allows",
        found=f"{part[:80]!r}: {why}",
        fix="export the file again from the program it came from",
    )
