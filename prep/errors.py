"""Floor 0. Every fault a person can meet, each with a code, and printed in four parts.

What lives here: `PrepError` and its subclasses, nothing else.
What may be imported: the standard library.
What must not come in: any other room of the house.

A floor says only what it knows: geometry raises the code and what it found, `build` adds the place in
the recipe with `PrepError.at`. The class docstring is what `prep explain CODE` prints.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, Self


class PrepError(Exception):
    """A fault that a person can mend: what is wrong, where, what was found, what to do.

    Parameters
    ----------
    what : str
        One sentence, what is wrong.
    found : str
        The numbers that were found and the limit they missed.
    fix : str
        One action that mends it.
    where : str
        File, line, step, part and place, as far as they are known.
    """

    code: ClassVar[str] = "fault"
    exit_status: ClassVar[int] = 2

    def __init__(self, what: str, *, found: str = "", fix: str = "", where: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.found = found
        self.fix = fix
        self.where = where

    def at(self, where: str) -> Self:
        """Put an outer place before the place known so far, and return the fault itself."""
        self.where = f"{where}, {self.where}" if self.where else where
        return self

    def __str__(self) -> str:
        lines = [f"error[{self.code}]: {self.what}"]
        lines += [
            f"  {label}{text}"
            for label, text in (("where: ", self.where), ("found: ", self.found), ("fix:   ", self.fix))
            if text
        ]
        return "\n".join(lines)


class Faults(PrepError):
    """Several faults found together, printed one after the other; none hides the next."""

    code = "faults"

    def __init__(self, faults: Sequence[PrepError]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = tuple(faults)

    def at(self, where: str) -> Self:
        """Put an outer place before the place of every fault held."""
        for fault in self.faults:
            fault.at(where)
        return self

    def __str__(self) -> str:
        return "\n\n".join(str(fault) for fault in self.faults)


# --- geometry -----------------------------------------------------------------------------------


class NotASolid(PrepError):
    """The triangles do not bound a volume: edges are open, shared by three, or wound both ways."""

    code = "not-a-solid"


class EmptySolid(PrepError):
    """An operation left nothing, or was given nothing."""

    code = "empty-solid"


class KernelRefused(PrepError):
    """The solid kernel refused the triangles or the operation, and named a cause."""

    code = "kernel-refused"


class ContractBroken(PrepError):
    """A step did something else than it predicted: shells, genus, volume, bounds or a sealed void."""

    code = "contract-broken"
    exit_status = 70


class PartsApart(PrepError):
    """Two parts that should share a seam do not touch anywhere."""

    code = "parts-apart"


class NoSuchPlace(PrepError):
    """A place in the recipe finds no surface: the ray misses, or no flat faces that way."""

    code = "no-such-place"


# --- steps --------------------------------------------------------------------------------------


class DoesNotFit(PrepError):
    """A feature needs more room than the part has, with the dimension that is short and by how much."""

    code = "does-not-fit"


class CannotInsert(PrepError):
    """The way by which a magnet, weight or LED would go in is blocked by the part itself."""

    code = "cannot-insert"


class TooWeak(PrepError):
    """The magnets asked for do not hold the force asked for, at the gap the parts leave between them."""

    code = "too-weak"


class TargetOutOfReach(PrepError):
    """No pockets inside the walls bring the model to the mass and balance asked for."""

    code = "target-out-of-reach"


# --- units --------------------------------------------------------------------------------------


class BadQuantity(PrepError):
    """A quantity is not text with a unit of the right kind.

    Lengths, masses, forces and angles are written with their unit (`5 mm`), so that no number is ever read in the
    wrong one.
    """

    code = "bad-quantity"


# --- tables -------------------------------------------------------------------------------------


class UnknownRow(PrepError):
    """A table has no row of that name; the nearest known name is in the fix."""

    code = "unknown-row"


class BadTable(PrepError):
    """A shop table cannot be read: a column is missing or unknown, a cell is no number, a name comes twice."""

    code = "bad-table"


class UnfinishedRow(PrepError):
    """A table row ships without a figure because only the shop can know it, and the shop's table does not give it."""

    code = "unfinished-row"


# --- recipe -------------------------------------------------------------------------------------


class BadRecipe(PrepError):
    """The recipe file cannot be read at all: not YAML, not a mapping, too large, or of another version."""

    code = "bad-recipe"


class DuplicateKey(PrepError):
    """A key stands twice in the same mapping of a recipe, so that one of the two would be lost."""

    code = "duplicate-key"


class UnknownKey(PrepError):
    """A recipe has a key that means nothing there; the nearest known word is in the fix."""

    code = "unknown-key"


class MissingKey(PrepError):
    """A recipe leaves out a key that has no default."""

    code = "missing-key"


class BadValue(PrepError):
    """A value in a recipe is of the wrong form, outside its limits, or not one of the words allowed there."""

    code = "bad-value"


class UnknownStep(PrepError):
    """A recipe asks for a step that does not exist; the nearest known word is in the fix."""

    code = "unknown-step"


class UnknownCheck(PrepError):
    """A recipe sets a check that does not exist; the nearest known word is in the fix."""

    code = "unknown-check"


class UnknownPart(PrepError):
    """A step or a carried item names a part that the recipe does not list."""

    code = "unknown-part"


class MissingFile(PrepError):
    """A file that was named is not there, or is not a file."""

    code = "missing-file"


class LooserLimit(PrepError):
    """A recipe sets a limit looser than its process allows and gives no reason.

    Limits may be tightened freely. A looser one is kept as a warning of the report, with the reason given in `accept`.
    """

    code = "looser-limit"


# --- command line -------------------------------------------------------------------------------


class UnknownWord(PrepError):
    """Nothing is known by the word asked for; the nearest known words are in the fix."""

    code = "unknown-word"


class FolderExists(PrepError):
    """A new project would be written over a folder that is already there."""

    code = "folder-exists"


# --- physics ------------------------------------------------------------------------------------


class ImplausibleWeight(PrepError):
    """The weight of the bare print differs from the computed one by more than density and flow explain.

    Usual causes: another material or infill than the recipe names, supports still on the part, a wrong unit.
    """

    code = "implausible-weight"


# --- printed shell ------------------------------------------------------------------------------


class ShellOneSided(PrepError):
    """A process has walls without skins or skins without walls, so the thickness of the printed shell is unknown."""

    code = "shell-one-sided"


# --- mesh files ---------------------------------------------------------------------------------


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
    """A mesh would be written over a file that was read; inputs are never changed."""

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


# --- build --------------------------------------------------------------------------------------


class FolderTaken(PrepError):
    """The folder a build would write holds something that no build made; it is left alone."""

    code = "folder-taken"


class BadReport(PrepError):
    """A file that should be the report of a build is missing or is something else."""

    code = "bad-report"
