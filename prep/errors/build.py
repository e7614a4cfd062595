"""Faults of a build's folder and of its report."""

from __future__ import annotations

from prep.errors.base import PrepError


class FolderTaken(PrepError):
    """The folder a build would write holds something that no build made; it is left alone."""

    code = "folder-taken"


class BadReport(PrepError):
    """A file that should be the report of a build is missing or is something else."""

    code = "bad-report"
