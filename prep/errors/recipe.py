"""Faults of what a person writes: quantities, tables, recipes and words on the command line."""

from __future__ import annotations

from prep.errors.base import PrepError


class BadQuantity(PrepError):
    """A quantity is not text with a unit of the right kind.

    Lengths, masses, forces and angles are written with their unit (`5 mm`), so that no number is ever read in the
    wrong one.
    """

    code = "bad-quantity"


class UnknownRow(PrepError):
    """A table has no row of that name; the nearest known name is in the fix."""

    code = "unknown-row"


class BadTable(PrepError):
    """A shop table cannot be read: a column is missing or unknown, a cell is no number, a name comes twice."""

    code = "bad-table"


class UnfinishedRow(PrepError):
    """A table row ships without a figure because only the shop can know it, and the shop's table does not give it."""

    code = "unfinished-row"


class BadRecipe(PrepError):
    """The recipe, or `gate.yaml`, cannot be read at all: not YAML, not a mapping, too large, or of another version."""

    code = "bad-recipe"


class DuplicateKey(PrepError):
    """A key stands twice in the same mapping of a recipe or `gate.yaml`, so that one of the two would be lost."""

    code = "duplicate-key"


class UnknownKey(PrepError):
    """A recipe, or `gate.yaml`, has a key that means nothing there; the nearest known word is in the fix."""

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


class UnknownWord(PrepError):
    """Nothing is known by the word asked for; the nearest known words are in the fix."""

    code = "unknown-word"


class FolderExists(PrepError):
    """A new project would be written over a folder that is already there."""

    code = "folder-exists"
