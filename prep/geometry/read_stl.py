"""`read_stl`: binary and ASCII STL, told apart by size and not by the first word."""

from __future__ import annotations

import re

import numpy as np

from prep.errors import EmptyFile, FileCutShort, FileMalformed, FileUnfinished
from prep.geometry.raw_mesh import Parsed
from prep.geometry.read_numbers import read_numbers
from prep.geometry.solid import Array
from prep.geometry.weld import exact_weld

HEADER = 84
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])

_CHUNK = 1 << 23
_WORDS = ((0, b"facet"), (1, b"normal"), (5, b"outer"), (6, b"loop"), (7, b"vertex"), (11, b"vertex"), (15, b"vertex"),
          (19, b"endloop"), (20, b"endfacet"))  # fmt: skip
_WORDS_A_FACET = 21
_SOLID_LINE = re.compile(rb"^[ \t]*(?:end)?solid\b[^\n]*$", re.MULTILINE)
_ZERO_RUN = 80
"""Blank records in a row that make a hole of a disk page and more."""


def has_binary_size(data: bytes) -> bool:
    """Whether the size is exactly that of the number of triangles announced, and there is at least one."""
    return len(data) > HEADER and len(data) == HEADER + RECORD.itemsize * announced(data)


def announced(data: bytes) -> int:
    """The number of triangles a binary file announces."""
    return int.from_bytes(data[80:HEADER], "little")


def read_stl(data: bytes) -> Parsed:
    """Triangles of an STL file, with corners that are equal to the last bit made one.

    Raises
    ------
    EmptyFile
        No triangles.
    FileCutShort, FileUnfinished
        Fewer triangles than announced, or blank ones where the rest should be.
    FileMalformed
        More bytes than announced, or text that is not STL.

    Notes
    -----
    Many binary files begin with the word "solid", and headers hold any bytes, so the first word decides nothing: a
    size of 84 + 50 n is binary, whatever the header says. Normals and attribute bytes are passed over: the order of
    the corners says which side is outside, and no two exporters agree on what the attribute means.

    References
    ----------
    StereoLithography Interface Specification (1988), binary layout: 80-byte header, count, 50 bytes a triangle.
    """
    if has_binary_size(data) or not _is_text(data):
        return _read_binary(data)
    return _read_ascii(data)


def _is_text(data: bytes) -> bool:
    """Whether it reads as ASCII STL: begins with "solid", and holds no control bytes in its first kilobytes."""
    head = data[:4096].rstrip(b"\0")
    if re.search(rb"[\x00-\x08\x0e-\x1f]", head) or (data.endswith(b"\0") and b"facet" not in head.lower()):
        return False
    return head.removeprefix(b"\xef\xbb\xbf").lstrip()[:5].lower() == b"solid"


def _read_binary(data: bytes) -> Parsed:
    if len(data) < HEADER:
        raise FileCutShort(
            "the STL file ends inside its header",
            found=f"{len(data)} bytes, a header alone takes {HEADER}",
            fix="copy or export the file again",
        )
    count = announced(data)
    body = len(data) - HEADER
    needed = count * RECORD.itemsize
    if body < needed:
        whole = body // RECORD.itemsize
        raise FileCutShort(
            "the STL file ends before its last triangle",
            found=f"{count} triangles announced, {whole} present; {len(data)} bytes of {HEADER + needed}",
            fix="wait until the copy has finished, or export the file again",
        )
    notes = _judge_tail(data[HEADER + needed :], count)
    if count == 0:
        raise EmptyFile("the STL file has no triangles", found="0 triangles announced", fix="export the part again")
    corners = np.frombuffer(data, RECORD, count=count, offset=HEADER)["corners"].reshape(-1, 3)
    _refuse_blank(corners)
    first, inverse = exact_weld(corners)
    return Parsed(corners[first].astype(np.float64) + 0.0, inverse.reshape(-1, 3), notes=notes)


def _judge_tail(tail: bytes, count: int) -> tuple[str, ...]:
    """Pass over less than one record, or padding; refuse more, for it may be triangles the count does not own."""
    if not tail:
        return ()
    if len(tail) < RECORD.itemsize or not tail.strip(b"\0 \r\n\t"):
        return (f"{len(tail)} bytes after the last triangle were passed over",)
    raise FileMalformed(
        "the STL file goes on after its last triangle",
        found=f"{count} triangles announced, then {len(tail)} more bytes, room for {len(tail) // RECORD.itemsize}",
        fix="export the file again; its count of triangles is wrong or two files were joined",
    )


def _refuse_blank(corners: np.ndarray) -> None:
    """Refuse records of zeros: at the end, or in a run as long as a page of the disk."""
    blank = np.logical_not(np.asarray(corners.reshape(-1, 9).any(axis=1)))
    if not blank.any():
        return
    filled = np.flatnonzero(~blank)
    tail = len(blank) - (int(filled[-1]) + 1 if len(filled) else 0)
    edges = np.concatenate([[-1], filled, [len(blank)]])
    longest = int(np.diff(edges).max()) - 1
    if tail or longest >= _ZERO_RUN:
        raise FileUnfinished(
            "part of the STL file is still blank",
            found=f"{int(blank.sum())} of {len(blank)} triangles are zeros, {tail} of them at the end",
            fix="wait until the copy has finished, or copy the file again",
        )


def _read_ascii(data: bytes) -> Parsed:
    if data.endswith(b"\0"):
        raise FileUnfinished(
            "the end of the STL file is still blank",
            found=f"{len(data) - len(data.rstrip(bytes(1)))} zero bytes at the end",
            fix="wait until the copy has finished, or copy the file again",
        )
    text = data.removeprefix(b"\xef\xbb\xbf").lower()
    if b"\n" not in text:
        text = text.replace(b"\r", b"\n")
    last = text.rstrip()[-4096:].rsplit(b"\n", 1)[-1].lstrip()
    if not last.startswith(b"endsolid"):
        raise FileCutShort(
            "the STL file ends before its closing line",
            found=f"last line {last[:40].decode('ascii', 'replace')!r}, not 'endsolid'",
            fix="wait until the copy has finished, or export the file again",
        )
    pieces: list[Array] = []
    begin = facets = 0
    while begin < len(text):
        stop = text.find(b"endfacet", begin + _CHUNK)
        end = len(text) if stop < 0 else stop + len(b"endfacet")
        pieces.append(_facets(_SOLID_LINE.sub(b"", text[begin:end]), facets))
        facets += len(pieces[-1]) // 3
        begin = end
    if facets == 0:
        raise EmptyFile("the STL file has no triangles", found="no facet between solid and endsolid",
                        fix="export the part again")  # fmt: skip
    corners = np.concatenate(pieces)
    first, inverse = exact_weld(corners)
    return Parsed(corners[first] + 0.0, inverse.reshape(-1, 3))


def _facets(text: bytes, before: int) -> Array:
    """Corners of a stretch of facets, (3 k, 3)."""
    words = text.split()
    count, rest = divmod(len(words), _WORDS_A_FACET)
    for place, word in _WORDS:
        if rest or words[place::_WORDS_A_FACET].count(word) != count:
            raise FileMalformed(
                "the text of the STL file does not follow its own pattern",
                found=f"broken at or after facet {before + _first_odd(words) + 1}",
                fix="export the file again, as binary STL if there is a choice",
            )
    rows = [words[place::_WORDS_A_FACET] for place in (8, 9, 10, 12, 13, 14, 16, 17, 18)]
    numbers = np.stack([read_numbers(b" ".join(row), "coordinates of the STL file") for row in rows], axis=1)
    return numbers.reshape(-1, 3)


def _first_odd(words: list[bytes]) -> int:
    """Number of the first facet whose words are out of place."""
    for facet in range(len(words) // _WORDS_A_FACET):
        if any(words[facet * _WORDS_A_FACET + place] != word for place, word in _WORDS):
            return facet
    return len(words) // _WORDS_A_FACET
