"""What a gate sends to a worker process, and what comes back."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from prep.build.checked import AgainstRecord, CheckReport, FaultRecord
from prep.recipe.gate_rules import Asking


@dataclass(frozen=True)
class Hash:
    """Read a file and say what its content is.

    Attributes
    ----------
    folder : that is watched; nothing outside it is opened
    recipe : whether the file may be a recipe, whose meshes then count as its content
    most : bytes; a longer file is not read
    """

    path: Path
    folder: Path
    recipe: bool
    most: int


@dataclass(frozen=True)
class Judge:
    """Examine a mesh whose content is known by its hash.

    Attributes
    ----------
    picture : where to draw it
    """

    path: Path
    sha256: str
    asking: Asking
    picture: Path


@dataclass(frozen=True)
class Compare:
    """Compare the mesh that was judged last with older ones."""

    path: Path
    olds: tuple[Path, ...]
    asking: Asking


@dataclass(frozen=True)
class Build:
    """Build a recipe whose content, meshes included, is known by its hash.

    Attributes
    ----------
    out : folder of the result
    store : folder in which outcomes of steps are kept
    picture : where to draw the finished parts
    """

    path: Path
    folder: Path
    sha256: str
    out: Path
    store: Path
    asking: Asking
    picture: Path


Task = Hash | Judge | Compare | Build


@dataclass(frozen=True)
class Hashed:
    """The content of a file.

    Attributes
    ----------
    sha256 : empty where it could not be read
    trouble : why not
    waits : whether the trouble may pass, as when another program still holds the file
    meshes : of a recipe; None for a file that is no recipe
    """

    sha256: str = ""
    trouble: FaultRecord | None = None
    waits: bool = False
    meshes: tuple[Path, ...] | None = None


@dataclass(frozen=True)
class Judged:
    """What was found on a file.

    Attributes
    ----------
    report : None where the file's content was no longer that of the task
    unfinished : the fault of a file that ends too early, or in zeros
    picture : whether one was drawn
    built : of a recipe: path of the page of its report, below the task's `out`; None where it was not built
    says : of a recipe that was built: what came of it, in a line
    """

    report: CheckReport | None
    unfinished: FaultRecord | None = None
    picture: bool = False
    built: str | None = None
    says: str = ""


@dataclass(frozen=True)
class Compared:
    """How the mesh compares with each older one; None for one that could not be read."""

    records: tuple[AgainstRecord | None, ...]


@dataclass(frozen=True)
class Broke:
    """The worker could not do a task: not the file's fault as far as anybody knows.

    Attributes
    ----------
    memory : whether memory ran out
    says : the last line of what went wrong
    trace : all of it
    """

    memory: bool
    says: str
    trace: str = ""


@dataclass(frozen=True)
class Held:
    """Nothing can be judged for now: the shop's tables cannot be read, or a build cannot be written. The file waits."""

    fault: FaultRecord


Answer = Hashed | Judged | Compared | Broke | Held
