"""Floor 0. Every fault a person can meet, each with a code, and printed in four parts.

What lives here: `PrepError` and its subclasses, one file a room that raises them, nothing else.
What may be imported: the standard library.
What must not come in: any other room of the house.

A floor says only what it knows: geometry raises the code and what it found, `build` adds the place in
the recipe with `PrepError.at`. The class docstring is what `prep explain CODE` prints.
"""

from prep.errors.base import Faults, PrepError
from prep.errors.build import (
    BadReport,
    FolderTaken,
)
from prep.errors.mesh_files import (
    CannotOpenFile,
    CannotWriteFile,
    EmptyFile,
    FileCutShort,
    FileMalformed,
    FileTooLarge,
    FileUnfinished,
    NoArea,
    NoSuchObject,
    NotFinite,
    NoVolume,
    OneSided,
    OpenMesh,
    OverwritesInput,
    UnknownFormat,
    UnknownUnit,
    UnsafePackage,
    WrittenDiffers,
    WrongUnit,
)
from prep.errors.recipe import (
    BadQuantity,
    BadRecipe,
    BadTable,
    BadValue,
    DuplicateKey,
    FolderExists,
    LooserLimit,
    MissingFile,
    MissingKey,
    UnfinishedRow,
    UnknownCheck,
    UnknownKey,
    UnknownPart,
    UnknownRow,
    UnknownStep,
    UnknownWord,
)
from prep.errors.solids import (
    ContractBroken,
    EmptySolid,
    KernelRefused,
    NoSuchPlace,
    NotASolid,
    PartsApart,
    ShellOneSided,
)
from prep.errors.steps import (
    CannotInsert,
    DoesNotFit,
    ImplausibleWeight,
    TargetOutOfReach,
    TooWeak,
)

__all__ = [
    "BadQuantity",
    "BadRecipe",
    "BadReport",
    "BadTable",
    "BadValue",
    "CannotInsert",
    "CannotOpenFile",
    "CannotWriteFile",
    "ContractBroken",
    "DoesNotFit",
    "DuplicateKey",
    "EmptyFile",
    "EmptySolid",
    "Faults",
    "FileCutShort",
    "FileMalformed",
    "FileTooLarge",
    "FileUnfinished",
    "FolderExists",
    "FolderTaken",
    "ImplausibleWeight",
    "KernelRefused",
    "LooserLimit",
    "MissingFile",
    "MissingKey",
    "NoArea",
    "NoSuchObject",
    "NoSuchPlace",
    "NoVolume",
    "NotASolid",
    "NotFinite",
    "OneSided",
    "OpenMesh",
    "OverwritesInput",
    "PartsApart",
    "PrepError",
    "ShellOneSided",
    "TargetOutOfReach",
    "TooWeak",
    "UnfinishedRow",
    "UnknownCheck",
    "UnknownFormat",
    "UnknownKey",
    "UnknownPart",
    "UnknownRow",
    "UnknownStep",
    "UnknownUnit",
    "UnknownWord",
    "UnsafePackage",
    "WrittenDiffers",
    "WrongUnit",
]
