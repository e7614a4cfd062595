"""`survey`: what can be measured on meshes before there is a recipe, in the words a recipe uses for places."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from itertools import combinations
from pathlib import Path
from typing import Any, Literal

import numpy as np

import prep
from prep.build.checked import FaultRecord
from prep.build.parts import input_record, read_bench
from prep.build.record import InputRecord, plain
from prep.contract import Bench, Frozen, Ledger, Part, weigh_part
from prep.errors import BadValue, NoSuchPlace, PartsApart, PrepError
from prep.geometry.contact import find_contact
from prep.geometry.flats import Flat, find_flats
from prep.geometry.mend import mend
from prep.geometry.read_mesh import read_mesh
from prep.geometry.solid import Array, Solid, shared_volume
from prep.geometry.wall_thickness import wall_thickness
from prep.places.find import find_places
from prep.places.opening import SEAM_REACH_MM
from prep.places.place import Triple, triple
from prep.places.wanted import PlaceWanted
from prep.recipe import read_recipe
from prep.tables import MaterialRow, ProcessRow, Tables
from prep.units import LENGTH, write_direction, write_numbers

Tell = Callable[[str, float], None]

WITHIN_DEG = 20.0
"""How far a flat may lean from the direction that names it; the same as for `facing`."""

MOST_FLATS = 4
BESIDE_MM = 0.1
"""Farther than this beyond the usual gap of a seam, what is near lies beside it."""

LEAST_SHARE = 0.02
"""Of the area of the part's largest flat, below which a flat is no place for a feature."""


class FlatRecord(Frozen):
    """A flat face: its middle, where it looks, its size, and the words by which a recipe finds it.

    Attributes
    ----------
    on_mm : a point that lies on it, where its middle may be a hole
    """

    at_mm: Triple
    on_mm: Triple
    normal: Triple
    area_mm2: float
    place: str


class SeamRecord(Frozen):
    """Two parts: where they meet, or how far apart they are.

    Attributes
    ----------
    at_mm, normal : middle of what mates, and its mean direction out of the first part; null where nothing mates
    gap_mm : median gap over it
    overlap_mm3 : material that both claim
    says : the same in a sentence, and the words for it in a recipe
    """

    parts: tuple[str, str]
    touching: bool
    area_mm2: float = 0.0
    at_mm: Triple | None = None
    normal: Triple | None = None
    gap_mm: float | None = None
    overlap_mm3: float = 0.0
    says: str


class SpotRecord(Frozen):
    """The thinnest wall, and of which kind it is."""

    thickness_mm: float
    at_mm: Triple
    kind: str


class CavityRecord(Frozen):
    """A sealed void."""

    at_mm: Triple
    volume_mm3: float


class SurveyedPart(Frozen):
    """One part, measured."""

    input: InputRecord
    bounds_mm: tuple[Triple, Triple]
    mass_g: float
    mass_band_g: tuple[float, float]
    centre_mm: Triple
    material: str
    thinnest: SpotRecord | None
    flats: tuple[FlatRecord, ...]
    sealed_voids: tuple[CavityRecord, ...]


class SurveyReport(Frozen):
    """Everything measured in one call; keys are added, never renamed."""

    survey: Literal[1] = 1
    prep: str
    process: dict[str, Any]
    parts: dict[str, SurveyedPart]
    seams: tuple[SeamRecord, ...] = ()
    faults: tuple[FaultRecord, ...] = ()

    def to_json(self) -> str:
        """One document: keys in the order above, numbers rounded."""
        return json.dumps(plain(self.model_dump(mode="python")), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


@dataclass(frozen=True)
class Surveyed:
    """What was measured, and the solids it was measured on, by part."""

    report: SurveyReport
    solids: dict[str, Solid]


@dataclass(frozen=True)
class Setting:
    """What bare meshes are taken to be made of and by; a recipe brings its own."""

    process: ProcessRow
    material: MaterialRow
    tables: Tables
    unit: str | None = None
    up: Triple = (0.0, 0.0, 1.0)


def survey(paths: Sequence[Path], setting: Setting, tell: Tell = lambda *_: None) -> Surveyed:
    """Measure several meshes as parts of one model, or the parts of one recipe.

    Raises
    ------
    BadValue
        A recipe among other files.
    PrepError
        The recipe cannot be read. A mesh that cannot is a fault in the report, and the others are measured.
    """
    recipes = [path for path in paths if path.suffix.lower() in (".yaml", ".yml")]
    if recipes and len(paths) > 1:
        raise BadValue("a recipe is surveyed alone", found=f"{len(paths)} files", fix=f"name only {recipes[0]}")
    bench, inputs, faults = _from_recipe(recipes[0], tell) if recipes else _from_meshes(paths, setting, tell)
    parts = {}
    for turn, name in enumerate(bench.parts):
        tell(f"measuring {name}", 0.3 + 0.5 * turn / len(bench.parts))
        parts[name] = _measured(replace(bench, tell=tell), name, inputs[name])
    tell("looking for seams", 0.85)
    seams = tuple(_seam(bench, first, second) for first, second in combinations(bench.parts, 2))
    report = SurveyReport(
        prep=prep.__version__, process=asdict(bench.process), parts=parts, seams=seams, faults=tuple(faults)
    )
    return Surveyed(report, {name: part.solid for name, part in bench.parts.items()})


def _from_recipe(path: Path, tell: Tell) -> tuple[Bench, dict[str, InputRecord], list[FaultRecord]]:
    laid = read_bench(read_recipe(path), tell)
    return laid.bench, laid.inputs, []


def _from_meshes(
    paths: Sequence[Path], setting: Setting, tell: Tell
) -> tuple[Bench, dict[str, InputRecord], list[FaultRecord]]:
    parts: dict[str, Part] = {}
    inputs: dict[str, InputRecord] = {}
    faults: list[FaultRecord] = []
    for turn, path in enumerate(paths):
        tell(f"reading {path.name}", 0.3 * turn / len(paths))
        name = path.stem
        while name in parts:
            name += "-again"
        try:
            raw = read_mesh(path, unit=setting.unit)
            mended = mend(raw)
        except PrepError as fault:
            faults.append(FaultRecord.of(fault if fault.where else fault.at(str(path))))
            continue
        parts[name] = Part(name, mended.solid, mended.solid, setting.material, up=setting.up)
        inputs[name] = input_record(str(path), raw, mended)
    bench = Bench(parts, Ledger(), setting.process, setting.tables, setting.process.wall_limit_mm)
    return bench, inputs, faults


def _measured(bench: Bench, name: str, record: InputRecord) -> SurveyedPart:
    part = bench.parts[name]
    solid = part.solid
    lump = weigh_part(bench, name)
    thinnest = wall_thickness(solid, limit_mm=bench.wall_limit_mm, tell=bench.tell).thinnest
    return SurveyedPart(
        input=record,
        bounds_mm=(triple(solid.bounds_mm[0]), triple(solid.bounds_mm[1])),
        mass_g=lump.mass_g,
        mass_band_g=(lump.low_g, lump.high_g),
        centre_mm=triple(lump.centre_mm),
        material=part.material.name,
        thinnest=None
        if thinnest is None
        else SpotRecord(thickness_mm=thinnest.thickness_mm, at_mm=triple(thinnest.at_mm), kind=thinnest.kind),
        flats=tuple(flats_in_words(solid)),
        sealed_voids=tuple(_cavities(solid)),
    )


def flats_in_words(solid: Solid) -> list[FlatRecord]:
    """The flats of a part worth a feature, each with the place that finds it in a recipe, largest first.

    Notes
    -----
    Flats are sought about the six axes, as `facing` does, and about the twelve directions between two axes. Each place
    is tried on the solid: where the middle of a flat is a hole, the words give a point on the flat instead.
    """
    axes = [sign * np.eye(3)[k] for k in range(3) for sign in (1.0, -1.0)]
    between = [(one + other) / np.sqrt(2.0) for one, other in combinations(axes, 2) if abs(one @ other) < 0.5]
    found: list[tuple[Array, Flat]] = []
    for toward in (*axes, *between):
        kept = find_flats(solid, toward, within_deg=WITHIN_DEG)[:MOST_FLATS]
        found += [(toward, flat) for flat in kept if not any(_same(flat, other) for _, other in found)]
    largest = max((flat.area_mm2 for _, flat in found), default=0.0)
    worth = [(toward, flat) for toward, flat in found if flat.area_mm2 >= LEAST_SHARE * largest]
    worth.sort(key=lambda pair: (-round(pair[1].area_mm2, 6), *triple(pair[1].centre_mm)))
    return [_flat_record(solid, toward, flat) for toward, flat in worth]


def _same(one: Flat, other: Flat) -> bool:
    return len(one.triangles) == len(other.triangles) and bool(np.array_equal(one.triangles, other.triangles))


def _flat_record(solid: Solid, toward: Array, flat: Flat) -> FlatRecord:
    way = write_direction(triple(np.round(toward, 4)))
    near = write_numbers(triple(np.round(flat.centre_mm, 2)), LENGTH)
    on = _point_on(solid, flat)
    words: list[dict[str, str]] = [{"facing": way}, {"facing": way, "near": near}]
    chosen = next((w for w in words if _finds(solid, w, flat)), {"point": write_numbers(on, LENGTH)})
    place = "{" + ", ".join(f'{key}: "{value}"' if "," in value else f"{key}: {value}" for key, value in chosen.items())
    return FlatRecord(
        at_mm=triple(flat.centre_mm),
        on_mm=on,
        normal=triple(flat.normal),
        area_mm2=flat.area_mm2,
        place=place + "}",
    )


def _finds(solid: Solid, words: dict[str, str], flat: Flat) -> bool:
    """Whether these words, read as a recipe reads them, lead to the middle of the flat."""
    try:
        place = find_places(solid, [PlaceWanted.model_validate(words)])[0]
    except NoSuchPlace:
        return False
    return bool(np.linalg.norm(np.array(place.at_mm) - flat.centre_mm) < 0.05)


def _point_on(solid: Solid, flat: Flat) -> Triple:
    """The middle of the flat's largest triangle, to a micrometre."""
    row = flat.triangles[int(np.argmax(solid.triangle_areas[flat.triangles]))]
    return triple(np.round(solid.vertices[solid.triangles[row]].mean(axis=0), 3))


def _cavities(solid: Solid) -> list[CavityRecord]:
    volumes = solid.shell_volumes_mm3
    rows = np.flatnonzero(volumes < 0.0)
    middles = [solid.vertices[solid.triangles[solid.shell_of_triangle == row]].mean(axis=(0, 1)) for row in rows]
    return [
        CavityRecord(at_mm=triple(middle), volume_mm3=-float(volumes[row]))
        for row, middle in zip(rows, middles, strict=True)
    ]


def _seam(bench: Bench, first: str, second: str) -> SeamRecord:
    one, other = bench.parts[first].solid, bench.parts[second].solid
    spacing = float(np.clip(min(one.diagonal_mm, other.diagonal_mm) / 100.0, 0.2, 2.0))
    meet = bool(((one.bounds_mm[0] <= other.bounds_mm[1]) & (other.bounds_mm[0] <= one.bounds_mm[1])).all())
    overlap = shared_volume(one, other) if meet else 0.0
    shared = f"; both claim {overlap:.1f} mm³" if overlap > 0.05 else ""
    try:
        contact = find_contact(one, other, reach_mm=SEAM_REACH_MM, spacing_mm=spacing)
    except PartsApart as fault:
        return SeamRecord(parts=(first, second), touching=False, overlap_mm3=overlap, says=fault.found + shared)
    gap = float(np.median(contact.gaps_mm))
    square = contact.gaps_mm <= gap + BESIDE_MM
    area = contact.area_mm2 * float(square.mean())
    middle = contact.points[square].mean(axis=0)
    mean = contact.normals[square].mean(axis=0)
    straight = float(np.linalg.norm(mean))
    normal = triple(mean / straight) if straight > 0.1 else None
    looks = f"facing {write_direction(triple(np.round(normal, 3)))}" if normal else "all round"
    return SeamRecord(
        parts=(first, second),
        touching=True,
        area_mm2=area,
        at_mm=triple(middle),
        normal=normal,
        gap_mm=gap,
        overlap_mm3=overlap,
        says=f"they mate over {area:.1f} mm², {looks}, {gap:.2f} mm apart in the median{shared}: "
        f"between: [{first}, {second}]",
    )
