"""Faults of mesh files, read or written."""

from __future__ import annotations

from prep.errors.base import PrepError
from prep.errors.solids import NotASolid


class CannotOpenFile(PrepError):
    """The system refuses to read a file: no permission, or the disk fails."""

    code = "cannot-open-file"


class EmptyFile(PrepError):
    """A mesh file holds nothing: no bytes, or no triangles."""

    code = "empty-file"


class UnknownFormat(PrepError):
    """Neither the content nor the name of a file says STL, OBJ, PLY or 3MF."""

    code = "unknown-format"


class FileCutShort(PrepError):
    """A mesh file ends before the triangles it announces, as after a copy that was broken off."""

    code = "file-cut-short"


class FileUnfinished(PrepError):
    """A mesh file ends in zeros: room was set aside for a copy that has not arrived yet."""

    code = "file-unfinished"


class FileMalformed(PrepError):
    """A mesh file breaks the rules of its own format, at the place named."""

    code = "file-malformed"


class FileTooLarge(PrepError):
    """A mesh file holds, or claims to hold, more than can be read in bounded time and memory.

    The limits are far above any part that can be printed. A small file that claims to be huge is not a mesh.
    """

    code = "file-too-large"


class UnsafePackage(PrepError):
    """A 3MF package does what an honest one never does.

    It declares XML entities, names members outside itself, encrypts, lies about sizes, or unpacks without end.
    """

    code = "unsafe-package"


class UnknownUnit(PrepError):
    """The unit of length named by a mesh file or given for it is not one of those known."""

    code = "unknown-unit"


class NoSuchObject(PrepError):
    """The object asked for is not in the file; those that are stand in the fix."""

    code = "no-such-object"


class NotFinite(PrepError):
    """A mesh holds coordinates that are not numbers, or too large to be lengths of a part."""

    code = "not-finite"


class NoArea(PrepError):
    """Every triangle of a mesh has shrunk to a line or a point."""

    code = "no-area"


class NoVolume(PrepError):
    """The surface is closed but holds no material: a flat sheet, or shells that cancel."""

    code = "no-volume"


class WrongUnit(PrepError):
    """The longest dimension read is not the one stated, so the file is likely in another unit.

    STL, OBJ and PLY carry no unit: a block of 1 inch and one of 1 mm are the same list of numbers. One stated dimension
    (`longest`) tells them apart. Both readings are shown; nothing is scaled without being asked.
    """

    code = "wrong-unit"


class OpenMesh(NotASolid):
    """The surface has gaps wider than welding may close, so it does not bound a volume.

    Points are welded only as far as rounding in the file explains. A wider gap is a fault of the export, and
    closing it would be a guess at the shape.
    """

    code = "open-mesh"


class OneSided(NotASolid):
    """A surface turns into its own back, as a one-sided band does, so it has no inside."""

    code = "one-sided"


class OverwritesInput(PrepError):
    """A mesh or a build would take the place of what is read; inputs are never changed."""

    code = "overwrites-input"


class CannotWriteFile(PrepError):
    """The system refuses to write a file: no folder, no permission, no room."""

    code = "cannot-write-file"


class WrittenDiffers(PrepError):
    """A written mesh, read back, is not the solid that was meant.

    STL stores single precision and no connectivity: corners closer than the rounding fall together, and bodies that
    touch at a point or an edge grow together. 3MF keeps the connectivity.
    """

    code = "written-differs"
