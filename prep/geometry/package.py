"""`open_package`: the members of a 3MF package, every one unpacked once and proven before a parser sees it."""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator

from prep.errors import FileCutShort, FileTooLarge, UnsafePackage

MOST_MEMBERS = 10_000
MOST_UNPACKED = 1 << 31
"""Bytes of all members together: a mesh of about 20 million triangles."""
MOST_RATIO = 250
"""Unpacked to packed; mesh text packs about 5 to 30 times, the method itself ends at 1032."""
_SMALL = 1 << 20
"""Members that unpack to less may have any ratio."""

_CHUNK = 1 << 20
_END = b"PK\x05\x06"
_LOCAL = struct.Struct("<4s5H3L2H")
_ENCRYPTED = 1

Member = zipfile.ZipInfo


def open_package(data: bytes) -> tuple[Member, ...]:
    """The members of a package, once names, sizes and methods are found honest.

    Raises
    ------
    FileCutShort
        There is no directory at the end.
    FileTooLarge
        More members or more unpacked bytes than any part needs, or a ratio no mesh reaches.
    UnsafePackage
        Encrypted, packed by an unknown method, two members of one name, links, or a name that leads out.

    Notes
    -----
    Nothing is unpacked here, so the cost is that of the directory alone. What the directory says is proven member by
    member in `unpack`.
    """
    if data.count(_END, max(0, len(data) - 65_557)) != 1 or data[-22:-18] != _END:
        raise FileCutShort(
            "the 3MF file has no directory at its end, or more than one",
            found=f"{len(data)} bytes that begin as a package",
            fix="wait until the copy has finished, or export the file again",
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as package:
            members = tuple(package.infolist())
    except (zipfile.BadZipFile, NotImplementedError, struct.error, ValueError, OverflowError, EOFError) as error:
        raise UnsafePackage(
            "the directory of the 3MF file cannot be read", found=str(error)[:120], fix="export the file again"
        ) from None
    if len(members) > MOST_MEMBERS:
        raise FileTooLarge(
            "the 3MF file has an absurd number of members",
            found=f"{len(members)}, limit {MOST_MEMBERS}",
            fix="export the part alone",
        )
    total = sum(member.file_size for member in members)
    if total > MOST_UNPACKED:
        raise FileTooLarge(
            "the 3MF file would unpack to more than any part needs",
            found=f"{total} bytes from {len(data)}, limit {MOST_UNPACKED}",
            fix="export the part alone, or with fewer triangles",
        )
    seen: set[str] = set()
    for member in members:
        _judge(member, seen)
    return members


def unpack(data: bytes, member: Member) -> Iterator[bytes]:
    """The bytes of a member, piece by piece, each piece counted against what the directory announced.

    Raises
    ------
    UnsafePackage
        The member's own header disagrees with the directory, or there are more, fewer or other bytes.
    """
    begin = member.header_offset
    if begin < 0 or begin + _LOCAL.size > len(data):
        raise _liar(member, "its place is outside the file")
    signature, _, flags, method, *_, name_size, extra_size = _LOCAL.unpack_from(data, begin)
    body = begin + _LOCAL.size + name_size + extra_size
    name = data[begin + _LOCAL.size : begin + _LOCAL.size + name_size]
    wanted = member.orig_filename
    if signature != b"PK\x03\x04" or method != member.compress_type or flags & _ENCRYPTED:
        raise _liar(member, "its own header says otherwise than the directory")
    if name not in (wanted.encode("utf-8", "replace"), wanted.encode("cp437", "replace")):
        raise _liar(member, "its own header gives another name")
    if body + member.compress_size > len(data):
        raise _liar(member, "it would reach beyond the end of the file")
    checksum = count = 0
    for piece in _pieces(memoryview(data)[body : body + member.compress_size], member):
        checksum = zlib.crc32(piece, checksum)
        count += len(piece)
        yield piece
    if count != member.file_size or checksum != member.CRC:
        raise _liar(member, f"{count} bytes unpacked of {member.file_size} announced, or their checksum differs")


def _pieces(packed: memoryview, member: Member) -> Iterator[bytes]:
    if member.compress_type == zipfile.ZIP_STORED:
        yield from (bytes(packed[at : at + _CHUNK]) for at in range(0, len(packed), _CHUNK))
        return
    machine = zlib.decompressobj(-zlib.MAX_WBITS)
    count = at = 0
    feed = b""
    while not machine.eof:
        if not feed:
            feed = bytes(packed[at : at + _CHUNK])
            at += len(feed)
        try:
            piece = machine.decompress(feed, _CHUNK)
        except zlib.error as error:
            raise _liar(member, str(error)) from None
        if not piece and not feed:
            raise _liar(member, "it ends before it is complete")
        feed = machine.unconsumed_tail
        count += len(piece)
        if count > member.file_size:
            raise _liar(member, f"it unpacks to more than the {member.file_size} bytes announced")
        yield piece
    if machine.unused_data or at < len(packed):
        raise _liar(member, "it goes on after its own end")


def _judge(member: Member, seen: set[str]) -> None:
    """Refuse a member whose name, method, size or kind is not that of an honest package."""
    name = member.orig_filename
    parts = name.rstrip("/").split("/")
    if (
        name.startswith("/") or "\\" in name or ":" in name or "\0" in name or ".." in parts or "" in parts
    ):  # fmt: skip
        raise _liar(member, "its name leads out of the package")
    if stat.S_ISLNK(member.external_attr >> 16):
        raise _liar(member, "it is a link")
    if name.lower() in seen:
        raise _liar(member, "two members have this name")
    seen.add(name.lower())
    if member.flag_bits & _ENCRYPTED:
        raise _liar(member, "it is encrypted")
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise _liar(member, f"packing method {member.compress_type} is not one that 3MF allows")
    if member.file_size > _SMALL and member.file_size > MOST_RATIO * max(member.compress_size, 1):
        raise FileTooLarge(
            "a member of the 3MF file unpacks beyond all proportion",
            found=f"{name[:80]!r}: {member.file_size} bytes from {member.compress_size}, limit {MOST_RATIO} times",
            fix="export the file again from the program it came from",
        )


def _liar(member: Member, why: str) -> UnsafePackage:
    return UnsafePackage(
        "a member of the 3MF file is not to be trusted",
        found=f"{member.orig_filename[:80]!r}: {why}",
        fix="export the file again from the program it came from",
    )
