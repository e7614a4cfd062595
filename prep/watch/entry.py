"""`Entry`: one line of the ledger, the verdict on one file's content under one name."""

from __future__ import annotations

from typing import Literal

from prep.contract import Frozen

Kind = Literal["mesh", "recipe", "other"]
Outcome = Literal["pass", "warn", "fail", "refused", "copying", "stuck"]
HASH_DIGITS = 8


class Relation(Frozen):
    """How a file's shape or name stands to another file of the folder.

    Attributes
    ----------
    other : the other file, relative to the folder
    says : the relation in a sentence
    """

    kind: Literal["same shape", "exact copy", "differs", "older than", "like name"]
    other: str
    says: str


class Entry(Frozen):
    """The verdict on one file as it was when it had settled.

    Attributes
    ----------
    file : path relative to the folder, with `/`
    sha256 : of the content that was judged, 64 digits; of a recipe: of its bytes and those of its meshes; of what has
        no content that may be read (a folder, a link out of the folder): of what is known of it instead
    size : bytes
    reason, action : one line each; action is empty where nothing is to be done
    dropped_by : owner of the file where the system knows one
    dropped_at, judged_at : UTC, ISO 8601
    gate : host:pid of the gate that judged
    seconds : that judging took
    json_path, html_path, thumbnail : relative to the folder, with `/`; thumbnail is null where there is none
    report : the last good build's report of a recipe, relative to the folder; null where there is none
    fingerprint : of the shape, where one could be read
    stamp : what the listing said of the file when it was judged, so that a restart need not read it again
    told : who is told of the file
    asked : short hash of what was asked of a mesh, which is judged again where something else is asked; empty for what
        is the same by any rules
    """

    file: str
    sha256: str
    size: int
    kind: Kind
    verdict: Outcome
    reason: str
    action: str
    dropped_by: str | None = None
    dropped_at: str | None = None
    judged_at: str
    gate: str
    seconds: float
    relations: tuple[Relation, ...] = ()
    json_path: str
    html_path: str
    thumbnail: str | None = None
    report: str | None = None
    fingerprint: str | None = None
    stamp: str = ""
    told: tuple[str, ...] = ()
    asked: str = ""

    @property
    def hash8(self) -> str:
        """First digits of the hash, as in the names of the verdict's files."""
        return self.sha256[:HASH_DIGITS]
