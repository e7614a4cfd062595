"""`Rules`: what `gate.yaml` asks of the files of a watched folder, with a default for everything it leaves out."""

from __future__ import annotations

import fnmatch
import hashlib
import json
import re
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, ValidationError, field_validator

from prep.contract import Frozen
from prep.errors import CannotOpenFile, Faults, PrepError
from prep.recipe.faults import faults_of
from prep.recipe.source import GATE, Source, read_with_doubles
from prep.tables import Tables
from prep.units import LENGTH, Kind, Length, LengthBand, Point, quantity, write_band

GATE_FILE = "gate.yaml"
TIME = Kind("a time", "s", {"s": ("1", "0"), "min": ("60", "0"), "h": ("3600", "0")}, "5 s")
Seconds = Annotated[float, quantity(TIME)]
"""Text with a unit of time, held in s."""
UNITS = Literal["mm", "um", "micron", "cm", "m", "in", "inch", "ft", "foot"]


class Expected(Frozen):
    """What is expected of files of one name pattern.

    Of several patterns that fit a name, the first in the file counts, so the narrow ones stand above the wide ones.
    """

    match: str = Field(
        min_length=1,
        description="which files: `*` stands for any letters, `?` for one; capitals do not matter",
        examples=["body*"],
    )
    longest: LengthBand | None = Field(
        None,
        description="how long the longest side must be, to 2 % where no tolerance is written; a file of another size, "
        "as one exported in inches, is refused",
        examples=["92 mm ± 1 mm"],
    )
    unit: UNITS | None = Field(
        None,
        description="the unit these files are drawn in, where the file itself names none (STL, OBJ, PLY); default: mm",
        examples=["inch"],
    )
    told: tuple[str, ...] = Field(
        (),
        description="who is told of these files: names shown on the board and on the verdict's page",
        examples=[["Ada", "Ben"]],
    )


class Asking(Frozen):
    """What is asked of one file, in words that another process can read.

    Attributes
    ----------
    process : row of the processes table
    bed : x, y, z in mm, instead of the process's
    wall_mm : limit instead of the process's
    longest : as it would be written
    shop : folder of the shop's tables
    """

    process: str
    shop: str
    bed: tuple[float, float, float] | None = None
    wall_mm: float | None = None
    longest: str | None = None
    unit: str | None = None

    @property
    def short_hash(self) -> str:
        """Twelve digits that differ where anything asked differs."""
        asked = self.model_dump(mode="json", exclude={"shop"})
        return hashlib.sha256(json.dumps(asked, sort_keys=True).encode()).hexdigest()[:12]


class Rules(Frozen):
    """What the gate on a shared folder asks of the files dropped there: `gate.yaml` in that folder.

    `prep watch INBOX` watches a folder and gives every mesh in it (STL, OBJ, PLY, 3MF) one verdict, as `prep check`
    would: pass (the board says "print it"), warn ("look first"), fail ("do not print") or refused ("cannot be read"),
    with one reason and one action. The board, `INBOX/board.html`, shows them all; each file has a page of its own in
    `INBOX/verdicts`. No dropped file is ever changed, moved or deleted. Folders in the folder are not looked into.

    The folder needs no `gate.yaml`; every key has a default. It counts when it has stood still for `quiet`, like any
    file. One that is wrong keeps `prep watch` from starting, with
    every fault, its line and what to write instead; one that is broken while a gate runs is told on the board, and the
    last good one holds until it is mended. Own processes stand in `INBOX/shop/processes.csv`, as beside a recipe.

    Examples
    --------
        process: extrusion-0.4
        bed: 180, 180, 180 mm
        wall: 1.2 mm
        longest:
          - {match: "body*", longest: 92 mm ± 1 mm, told: [Ada]}
          - {match: "dial*", longest: 38 mm ± 0.5 mm, told: [Ben]}
          - {match: "lid*", longest: 84 mm ± 1 mm, unit: inch}
        told: [workshop]
        quiet: 3 s

    Settled
    -------
    A file is judged once it has settled: its size and time have stood still for `quiet`, and it can be read to its
    end. One that ends too early or is held by another program is being copied, and the board says so; when it has stood
    still for `stuck`, its verdict is "stuck", until it changes.

    One verdict
    -----------
    A name with a content gets one verdict: a restart judges nothing again. A new content under the same name is judged
    anew, and the older verdicts stay linked on the board. Where a change of `gate.yaml`, or of the process in the
    shop's tables, asks something else of a file, that file is judged again, after all that is new, and gets a line and
    a page of its own; the older ones stay as they are, and serve again should the old rules come back.

    Revisions
    ---------
    `body_revA.stl` and `body_revB.stl`, `lid v2.stl`, `dial-C.stl`, `cap (2).stl` and dates at the end of a name are
    taken for revisions: a new one is compared with the nearest earlier one in the folder, and the board says how far
    and over how much of the surface it differs, and what has become thin. So those of one family are judged one after
    the other, whatever `--workers` says; copies with a number in brackets are not. The same bytes or the same shape
    under another name are told as such. A file of which a later revision is here is shown as "look first" even where it
    passed, whichever of the two came first, if the name says `rev`, `v` or a date; a bare letter, as in `dial-C`, is
    only told, and left, right, S, M, L, X, Y and Z are no revisions.

    Recipes
    -------
    A recipe dropped here (`timer.yaml`, with its meshes beside it) is built when it or one of its meshes changes, one
    build at a time. The board links the report of the last good build, and shows the meshes it is built from as "look
    first": it is the finished parts that are to be printed. A YAML file without `recipe:` is passed over.

    Several gates
    -------------
    Any number of gates, on one machine or on many, may watch one folder: each takes a file by making a lock file, and
    the others leave it alone. A gate that dies is made up for: by another on the same machine at once, by one elsewhere
    after a minute. The folder is all that they share, so each must be able to write to it.

    Verdicts
    --------
    What stands in `INBOX/verdicts`. NAME is the name of the dropped file, HASH the first eight digits of its content's
    SHA-256.

    - `ledger.jsonl`: one line for each file name and content ever judged, in JSON; only ever added to. Never edit it.
    - `NAME.HASH.json`: the same line under `verdict`, and all that was found under `report`. Of a second verdict, by
      other rules, four more digits follow the hash.
    - `NAME.HASH.html`: the page for the person whose file it is. `NAME.HASH.png`: its picture.
    - `builds/NAME.HASH/`: what a recipe was built into, the last few good results of each recipe; `builds/.store/`:
      steps kept to build faster.
    - `gates/HOST-PID.ID.json`: what a gate that runs says of itself; `gates/ended.json`: last words of one that ended.
    - `claims/`, `.partial/`: lock files and half-written files.
    - `ledger.torn`: a line that a crash cut short, where there was one; its verdict is entered again by itself.

    May be deleted at any time: `ledger.torn`, and pages, pictures, JSON and builds of files that have left the folder;
    the ledger keeps their line, and links to them end nowhere. While no gate runs: `builds/.store/`, `claims/`,
    `.partial/`, and the whole of `verdicts`, after which every file in the folder is judged again and the history is
    gone. Not to be deleted alone: `ledger.jsonl`. Its lines come back from the JSON files beside it, but a file whose
    JSON is gone as well is judged again.
    """

    process: str = Field(
        "extrusion-0.4",
        description="what the files will be printed by: a row of the `processes` table, which brings limits and bed",
        examples=["extrusion-0.4"],
    )
    bed: Point | None = Field(
        None,
        description="the room your printer has, x, y and z, where it is not that of the process; a part that is too "
        "large for it as it stands in its file, or turned by a quarter, fails",
        examples=["180, 180, 180 mm"],
    )
    wall: Length | None = Field(
        None,
        gt=0,
        description="thinnest wall you accept, and thinnest web between two features, instead of the process's limits",
        examples=["1.2 mm"],
    )
    longest: tuple[Expected, ...] = Field(
        (),
        description="what you expect of files by their names: size, unit, who is told; the first pattern that fits "
        "counts. A file that none fits is asked for no size, and one that is hardly that of a part in mm is warned of",
    )
    told: tuple[str, ...] = Field(
        (),
        description="who is told of every file: names shown on the board; nothing is sent to anybody; a change "
        "counts for what is judged after it",
        examples=[["Ada", "Ben"]],
    )
    quiet: Seconds = Field(
        2.0,
        gt=0,
        le=3600,
        description="how long a file's size and time must stand still until it is judged; more where copies pause",
    )
    interval: Seconds = Field(
        5.0, ge=0.05, le=3600, description="how long after one look at the folder the next one comes at the latest"
    )
    stuck: Seconds = Field(
        600.0,
        gt=0,
        description="how long an unfinished copy may stand still until it is called stuck and to be copied again",
        examples=["10 min"],
    )
    largest: int = Field(
        600, gt=0, description="largest file that is read, in MB; a larger one is refused", examples=[600]
    )
    time: Seconds = Field(
        300.0,
        gt=0,
        description="longest that judging one file may take until it is given up and refused; a build may take six "
        "times as long",
        examples=["5 min"],
    )
    memory: int = Field(
        4096,
        ge=256,
        description="most memory that judging one file may take, in MB, until it is given up and refused",
        examples=[4096],
    )

    @field_validator("bed")
    @classmethod
    def _has_room(cls, bed: tuple[float, float, float] | None) -> tuple[float, float, float] | None:
        """The bed as it was given.

        Raises
        ------
        ValueError
            One of its sides is 0 or less: nothing would fit on it.
        """
        if bed is not None and min(bed) <= 0.0:
            raise ValueError("every side of the bed must be more than 0 mm")
        return bed

    def expected(self, file: str) -> Expected | None:
        """What is expected of a file: the first pattern that fits its name, case aside."""
        return next((one for one in self.longest if fnmatch.fnmatchcase(file.casefold(), one.match.casefold())), None)

    def told_of(self, file: str) -> tuple[str, ...]:
        """Who is told of a file: the names of the first pattern that fits it, then those told of every file, each once.

        Parameters
        ----------
        file : str
            Its name, without folder.
        """
        expected = self.expected(file)
        return tuple(dict.fromkeys((*(expected.told if expected else ()), *self.told)))

    def asking(self, file: str, shop: Path) -> Asking:
        """What is asked of a file of this name."""
        expected = self.expected(file)
        return Asking(
            process=self.process,
            shop=str(shop),
            bed=self.bed,
            wall_mm=self.wall,
            longest=write_band(expected.longest, LENGTH) if expected and expected.longest else None,
            unit=expected.unit if expected else None,
        )


def read_rules(folder: Path) -> Rules:
    """The rules of a folder; the defaults where it has no `gate.yaml`, or one that says nothing.

    Raises
    ------
    PrepError, Faults
        Everything that is wrong with `gate.yaml`, in the order of its lines, and with the shop's tables, each with
        line, what was found and one thing to do.
    """
    faults: list[PrepError] = []
    path = folder / GATE_FILE
    source, rules = Source(path, "", {}, {}), None
    try:
        if path.exists() or path.is_symlink():
            source, doubles = read_with_doubles(path, GATE)
            faults += doubles
        rules = Rules.model_validate(source.data)
    except ValidationError as error:
        faults += faults_of(error, Rules, source, ())
    except PrepError as fault:
        faults += _each(fault)
    except OSError as error:
        raise CannotOpenFile(
            f"{GATE_FILE} cannot be read",
            where=str(path),
            found=error.strerror or str(error),
            fix="let the account that runs the gate read it",
        ) from None
    faults += _process_faults(folder / "shop", source)
    if faults or rules is None:
        faults.sort(key=lambda fault: _line_in(path, fault))
        raise faults[0] if len(faults) == 1 else Faults(faults)
    return rules


def _process_faults(shop: Path, source: Source) -> list[PrepError]:
    """What is wrong with the shop's tables, or with the process asked for, where it is named at all."""
    named = source.data.get("process", Rules.model_fields["process"].default)
    try:
        processes = Tables.load(shop).processes
    except PrepError as fault:
        return _each(fault)
    try:
        if isinstance(named, str):
            processes.get(named)
    except PrepError as fault:
        fault.where = source.where(("process",))
        return [fault]
    return []


def _each(fault: PrepError) -> list[PrepError]:
    return list(fault.faults) if isinstance(fault, Faults) else [fault]


def _line_in(path: Path, fault: PrepError) -> tuple[bool, int]:
    """Faults of `gate.yaml` by line, then those of other files."""
    found = re.match(re.escape(str(path)) + r"(?::(\d+))?", fault.where)
    return found is None, int(found[1] or 0) if found else 0
