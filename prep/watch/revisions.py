"""Revisions: what a file's name and shape say of the other files in the folder."""

from __future__ import annotations

import functools
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import PurePosixPath

from prep.build.checked import AgainstRecord
from prep.geometry.shape_fingerprint import same_fingerprint
from prep.units import show_mm, show_percent
from prep.watch.entry import Entry, Relation
from prep.watch.names import one_line, plain_name

Order = tuple[int, ...]

_GAP = r"[\s_.\-]*"
_WORD = rf"{_GAP}(?:revision|rev|version|ver){_GAP}"
_ENDINGS = tuple(
    (kind, sure, re.compile(pattern))
    for kind, sure, pattern in (
        ("copy", False, rf"{_GAP}\((\d{{1,3}})\)$"),
        ("date", True, rf"{_GAP}((?:19|20)\d\d)[-_.]?(\d\d)[-_.]?(\d\d)$"),
        ("number", True, rf"(?i:{_WORD}|(?<=[\s_.\-])v|(?<=\w)v){_GAP}(\d{{1,4}}(?:\.\d{{1,4}}){{0,2}})$"),
        ("number", False, rf"(?i:(?<=[\s_.\-])r){_GAP}(\d{{1,4}}(?:\.\d{{1,4}}){{0,2}})$"),
        ("letter", True, rf"(?i:{_WORD})([A-Za-z])$"),
        ("letter", False, r"[_\-]([A-HJKP])$"),
    )
)
"""What a name may end in that marks a revision, the first that fits, and whether it can hardly be anything else: `-B`
may be a revision, `r5` may be a radius; left and right, S, M, L and the axes are none."""


@dataclass(frozen=True)
class Revision:
    """What a file's name says.

    Attributes
    ----------
    stem : the name without what marks the revision, for comparing: case and spaces do not count
    kind : "letter", "number", "date", "copy", or "" where the name marks none
    order : to compare with others of the same stem and kind
    label : the mark as it is said: "rev C", "3", "2026-05-04", "(2)"
    sure : whether it can hardly be anything but a revision
    """

    stem: str
    kind: str = ""
    order: Order = ()
    label: str = ""
    sure: bool = False


@functools.lru_cache(maxsize=65536)
def revision_of(file: str) -> Revision:
    """What the name of a file says of its revision: `body_revC.stl`, `body-C.stl`, `lid v3.stl`, `lid (2).stl`, dates.

    Notes
    -----
    A single letter counts after `rev`, or after `-` or `_` where it is a capital that is no usual side, size or axis; a
    number after `v`, `r`, `rev`.
    """
    stem = PurePosixPath(file).stem
    for kind, sure, pattern in _ENDINGS:
        found = pattern.search(stem)
        if found is None or found.start() == 0:
            continue
        return Revision(plain_name(stem[: found.start()]), kind, _order(kind, found), _label(kind, found), sure)
    return Revision(plain_name(stem))


def in_turn(file: str) -> tuple[str, str, Order]:
    """The family of a file, and where it stands in it: by this, earlier revisions come first."""
    own = revision_of(file)
    return own.stem, own.kind, own.order


def earlier(file: str, others: Iterable[Entry]) -> Entry | None:
    """The nearest earlier revision of a file among those present, to compare it with; None for none.

    Of the same stem and kind of mark the highest below it; else a file of the same name and another suffix or mark,
    the one judged last.
    """
    own = revision_of(file)
    alike = [(revision_of(one.file), one) for one in others if one.file != file and one.fingerprint]
    alike = [(revision, one) for revision, one in alike if revision.stem == own.stem]
    below = [
        (r.order, one.judged_at, one) for r, one in alike if own.kind and r.kind == own.kind and r.order < own.order
    ]
    if below:
        return max(below, key=lambda each: each[:2])[2]
    unmarked = [(one.judged_at, one) for r, one in alike if not (r.kind and r.kind == own.kind)]
    return max(unmarked, key=lambda each: each[0])[1] if unmarked else None


def by_name(file: str, others: Iterable[str]) -> tuple[Relation, ...]:
    """What the name alone tells: a later revision is here already; a name differs only by case or spaces."""
    every = sorted({*others, file})
    relations: list[Relation] = []
    for other in every:
        if other != file and plain_name(other) == plain_name(file):
            says = f"the name differs from {one_line(other)!r} only by case, spaces or the like"
            relations.append(Relation(kind="like name", other=other, says=says))
    own = revision_of(file)
    later = superseded((one for one in every if revision_of(one).stem == own.stem), letters=True).get(file)
    if later is not None:
        relations.insert(0, Relation(kind="older than", other=later, says=older_than(later)))
    return tuple(relations)


def superseded(files: Iterable[str], *, letters: bool = False) -> dict[str, str]:
    """Of several files those of which a later revision is among them, each with the latest one.

    Parameters
    ----------
    letters : bool
        Whether a bare letter counts, as `-B`, which is most likely a revision; else sure marks alone do.
    """
    latest: dict[tuple[str, str], tuple[Order, str]] = {}
    marked = [(file, revision_of(file)) for file in files]
    marked = [(file, its) for file, its in marked if its.sure or (letters and its.kind == "letter")]
    for file, its in marked:
        family = (its.stem, its.kind)
        latest[family] = max(latest.get(family, ((), "")), (its.order, file))
    found = ((file, its.order, latest[its.stem, its.kind]) for file, its in marked)
    return {file: other for file, order, (highest, other) in found if order < highest}


def older_than(other: str) -> str:
    """That a file is older than another, in words."""
    return f"older than {revision_of(other).label}, which is here already ({one_line(other)})"


def same_shapes(file: str, fingerprint: str, others: Iterable[Entry]) -> list[Entry]:
    """Files of another content whose fingerprint says the same shape, the one judged last first."""
    found = [
        one for one in others if one.file != file and one.fingerprint and same_fingerprint(one.fingerprint, fingerprint)
    ]
    return sorted(found, key=lambda one: one.judged_at, reverse=True)


def exact_copy(original: Entry, now: Entry | None, *, here: bool) -> Relation:
    """That a file has the bytes of another; of one that had them before; or of one that has gone: it was renamed.

    Parameters
    ----------
    now : Entry, optional
        The verdict on what the other is now.
    here : bool
        Whether a file of the other's name is there.
    """
    says = f"exact copy of {one_line(original.file)}"
    if not here:
        says += ", which is gone: it was renamed"
    elif now is None or now.sha256 != original.sha256:
        says += " as it was before"
    return Relation(kind="exact copy", other=original.file, says=says)


def by_shape(olds: Sequence[Entry], records: Sequence[AgainstRecord | None]) -> tuple[Relation, ...]:
    """What the comparison with other files has shown."""
    relations = []
    for old, record in zip(olds, records, strict=True):
        if record is None:
            continue
        name = one_line(old.file)
        if record.likeness == "differs":
            relations.append(Relation(kind="differs", other=old.file, says=_differs(name, record)))
        else:
            how = "moved only" if record.likeness == "moved" else "in the same place"
            relations.append(Relation(kind="same shape", other=old.file, says=f"same shape as {name} ({how})"))
    return tuple(relations)


def _differs(name: str, record: AgainstRecord) -> str:
    share = show_percent(float(f"{record.share:.2g}"))
    says = f"differs from {name} by up to {show_mm(record.largest_mm)} over {share} of the surface"
    thin = min(record.new_thin, key=lambda finding: finding.value or 0.0, default=None)
    if thin is None:
        return says
    return one_line(f"{says}; new: {thin.says}")


def _order(kind: str, found: re.Match[str]) -> Order:
    if kind == "letter":
        return (ord(found[1].upper()),)
    if kind == "date":
        return tuple(int(part) for part in found.groups())
    return tuple(int(part) for part in found[1].split("."))


def _label(kind: str, found: re.Match[str]) -> str:
    if kind == "letter":
        return f"rev {found[1].upper()}"
    if kind == "date":
        return "-".join(found.groups())
    return f"({found[1]})" if kind == "copy" else f"version {found[1]}"
