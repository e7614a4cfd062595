"""Faults of the gate on a shared folder."""

from __future__ import annotations

from prep.errors.base import PrepError


class NoFolder(PrepError):
    """What is to be watched is not a folder that can be listed and written to."""

    code = "no-folder"


class NoGate(PrepError):
    """No gate has ever finished a scan of the folder, so nothing can be said of it."""

    code = "no-gate"


class LeadsOut(PrepError):
    """A link, or a mesh that a recipe names, lies outside the folder that is watched; it is not opened.

    Whoever may put a file into the folder must not be able to make the gate read any other.
    """

    code = "leads-out"


class NotAFile(PrepError):
    """Something has the name of a mesh or of a recipe and is a folder, a pipe, or a link to nothing."""

    code = "not-a-file"


class OutOfMemory(PrepError):
    """A file asked for more memory than one may have, or its worker died of it."""

    code = "out-of-memory"


class TookTooLong(PrepError):
    """A file kept its worker busy for longer than one may."""

    code = "took-too-long"


class CheckBroke(PrepError):
    """The check itself broke down on a file: a fault of prep, which is why the file got no other verdict."""

    code = "check-broke"
