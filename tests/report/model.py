"""A small model drawn in place: a domed body and a domed lid of 3 mm skin, two magnet seats in each at the seam."""

from __future__ import annotations

import numpy as np

from prep.build.record import (
    AxisTarget,
    Built,
    FileRecord,
    InputRecord,
    ModelRecord,
    OutputRecord,
    OverrideRecord,
    PartRecord,
    PlaceRecord,
    RecipeRecord,
    Record,
    RepairRecord,
    StepRecord,
    TargetRecord,
    WallRecord,
)
from prep.contract import Film, Finding, Item, Ledger, View, Void, Work
from prep.geometry.solid import Solid, subtract

SIDES = 72
SPOTS = ((13.5, 0.0), (-13.5, 0.0))
"""Where the magnets stand on the seam plane z = 0, mm."""
SEAT_RADIUS, SEAT_DEPTH = 3.1, 2.4
MAGNET_RADIUS, MAGNET_LENGTH = 3.0, 2.0
RIM = 18.0
"""Outer radius of both shells at the seam, mm; the flank there is a cylinder for `FLANK` mm."""
FLANK = 5.0


def turned(profile: list[tuple[float, float]], sides: int = SIDES) -> Solid:
    """A solid of revolution about z through a closed profile (radius, height), counter-clockwise, radii positive."""
    points = np.array(profile)
    count = len(points)
    angle = np.arange(sides) * 2.0 * np.pi / sides
    x = np.outer(np.cos(angle), points[:, 0])
    y = np.outer(np.sin(angle), points[:, 0])
    z = np.broadcast_to(points[:, 1], x.shape)
    vertices = np.stack([x, y, z], axis=2).reshape(-1, 3)
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(sides), np.arange(count), indexing="ij"))
    a, b = i * count + j, ((i + 1) % sides) * count + j
    c, d = ((i + 1) % sides) * count + (j + 1) % count, i * count + (j + 1) % count
    return Solid.of(vertices, np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]))


def dome(height: float, inner: float) -> Solid:
    """A cup over the seam plane, open below: a flank, then a curved crown with a small hole at the pole."""
    turn = np.linspace(0.0, np.pi / 2.0 - 0.06, 26)
    outside = [(RIM, 0.0), *((RIM * np.cos(t), FLANK + height * np.sin(t)) for t in turn)]
    thin = RIM - inner
    inside = [(inner * np.cos(t), FLANK + (height - thin) * np.sin(t)) for t in turn[::-1]]
    return turned([*outside, *inside, (inner, 0.0)])


def block(low: tuple[float, float, float], high: tuple[float, float, float]) -> Solid:
    """A box between two corners, mm."""
    corner = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    faces = [
        [0, 1, 3],
        [0, 3, 2],
        [4, 6, 7],
        [4, 7, 5],
        [0, 4, 5],
        [0, 5, 1],
        [2, 3, 7],
        [2, 7, 6],
        [0, 2, 6],
        [0, 6, 4],
    ]
    faces += [[1, 5, 7], [1, 7, 3]]
    return Solid.of(np.array(low) + corner * (np.array(high) - np.array(low)), np.array(faces))


def rod(x: float, y: float, low: float, high: float, radius: float, *, sides: int = 48) -> Solid:
    """A cylinder along z."""
    angle = np.arange(sides) * 2.0 * np.pi / sides
    ring = np.stack([x + radius * np.cos(angle), y + radius * np.sin(angle)], axis=1)
    vertices = np.vstack([np.column_stack([ring, np.full(sides, low)]), np.column_stack([ring, np.full(sides, high)])])
    here = np.arange(sides)
    after = (here + 1) % sides
    fan = np.stack([np.zeros(sides - 2, dtype=int), here[1:-1], here[2:]], axis=1)
    flank = [np.stack([here, after, after + sides], axis=1), np.stack([here, after + sides, here + sides], axis=1)]
    return Solid.of(vertices, np.concatenate([fan[:, ::-1], fan + sides, *flank]))


BODY = "body"
LID = 'lid <b>"round" $x_2$</b>'
"""A name that would break a page, a formula or a path if it were not escaped."""


def solids() -> tuple[dict[str, Solid], dict[str, Solid]]:
    """The parts before and after."""
    body = dome(16.0, 9.0)
    mirrored = dome(7.0, 9.0)
    lid = Solid.of(mirrored.vertices * [1.0, 1.0, -1.0], mirrored.triangles[:, ::-1])
    above = [rod(x, y, -1.0, SEAT_DEPTH, SEAT_RADIUS) for x, y in SPOTS]
    below = [rod(x, y, -SEAT_DEPTH, 1.0, SEAT_RADIUS) for x, y in SPOTS]
    return {BODY: body, LID: lid}, {BODY: subtract(body, above), LID: subtract(lid, below)}


def items() -> tuple[Item, ...]:
    """Four magnets in two pairs, north against south, 0.2 mm under the seam each; a steel weight in the body."""
    found = []
    for turn, (x, y) in enumerate(SPOTS):
        for part, side in ((BODY, 1.0), (LID, -1.0)):
            number = 2 * turn + (1 if side > 0 else 2)
            found.append(
                Item(
                    id=f"M{number}",
                    item="disc 6x2 N42",
                    kind="magnet",
                    step="back magnets",
                    part=part,
                    at_mm=(x, y, side * (0.2 + MAGNET_LENGTH / 2.0)),
                    axis=(0.0, 0.0, -side),
                    mass_g=0.4241,
                    pole_out="N" if (turn + (side > 0)) % 2 else "S",
                    highest_c=80.0,
                    radius_mm=MAGNET_RADIUS,
                    length_mm=MAGNET_LENGTH,
                    pairs_with=f"M{number + (1 if side > 0 else -1)}",
                )
            )
    weight = Item(
        id="B1",
        item="steel shot 2 mm",
        kind="ballast",
        step="weight",
        part=BODY,
        at_mm=(0.0, 13.0, 3.0),
        axis=(0.0, 0.0, -1.0),
        mass_g=0.62,
        mass_band_g=(0.58, 0.66),
        ferrous=True,
        radius_mm=2.0,
        length_mm=5.0,
    )
    return (*found, weight)


def built() -> Built:
    """The whole model as a build would hand it over."""
    before, after = solids()
    held = items()
    work = (
        Work(id="print", step="", verb="print", says="body and lid, solid"),
        Work(
            id="clear",
            step="",
            verb="clear",
            says="outside, seats masked",
            after=("print",),
            highest_c=60.0,
            minutes=240,
        ),
        Work(
            id="seat",
            step="back magnets",
            verb="seat",
            says="M1 to M4, glued under their rims",
            after=("clear",),
            minutes=30,
        ),
        Work(id="fill", step="weight", verb="fill", says="B1 with 0.62 g steel shot", after=("print",), minutes=5),
        Work(id="close", step="weight", verb="close", says="B1 with epoxy", after=("fill",), minutes=720),
        Work(id="weigh", step="weight", verb="weigh", says="the finished model", after=("close", "seat")),
    )
    ledger = Ledger(
        items=held,
        films=(Film(step="", part=BODY, region="outside", coat="clear", thickness_mm=0.05),),
        voids=(Void(step="weight", part=BODY, at_mm=(0.0, 13.0, 3.0), volume_mm3=75.4, state="filled"),),
        work=work,
    )
    views = tuple(
        View(
            title=f"{a.id} in {a.part} on {b.id} in {b.part}",
            part=a.part,
            with_parts=(b.part,),
            at_mm=(a.at_mm[0], a.at_mm[1], 0.0),
            normal=(0.0, 1.0, 0.0),
            span_mm=18.0,
        )
        for a, b in zip(held[0:4:2], held[1:4:2], strict=True)
    )
    return Built(
        record=_record(before, after, ledger),
        before=before,
        after=after,
        extra={"back magnets-plug": rod(0.0, 0.0, 0.0, 4.0, 2.0)},
        views=views,
        ledger=ledger,
    )


def _record(before: dict[str, Solid], after: dict[str, Solid], ledger: Ledger) -> Record:
    parts = {
        name: PartRecord(
            material="pla",
            input=InputRecord(
                path=f"{index}.stl",
                sha256=f"{index}" * 64,
                unit="mm",
                triangles=len(before[name].triangles),
                shells=1,
                extents_mm=tuple(before[name].extents_mm.tolist()),
                volume_mm3=before[name].volume_mm3,
                repairs=(RepairRecord(repair="weld", says="joined 12 corners", count=12, moved_mm=0.0004),)
                if index
                else (),
            ),
            output=OutputRecord(
                path=f"parts/{index}.3mf",
                sha256=f"{index + 2}" * 64,
                triangles=len(after[name].triangles),
                shells=1,
                genus=1,
                extents_mm=tuple(after[name].extents_mm.tolist()),
                volume_mm3=after[name].volume_mm3,
                mass_g=after[name].volume_mm3 * 1.24e-3,
                centre_mm=tuple(after[name].centre_mm.tolist()),
            ),
            wall=WallRecord(thinnest_mm=1.4, at_mm=(16.6, 0.0, 1.2), limit_mm=1.2),
        )
        for index, name in enumerate(before)
    }
    places = tuple(
        PlaceRecord(
            part=item.part,
            feature=item.id,
            at_mm=(item.at_mm[0], item.at_mm[1], 0.0),
            inward=(0.0, 0.0, -item.axis[2]),
            roll=(1.0, 0.0, 0.0),
        )
        for item in ledger.items[:4]
    )
    mass = sum(part.output.mass_g for part in parts.values()) + sum(item.mass_g for item in ledger.items)
    return Record(
        prep="0.1.0",
        verdict="warn",
        project="egg <timer> & Co",
        revision="C",
        recipe=RecipeRecord(path="timer.yaml", sha256="c0ffee" * 10 + "cafe"),
        process={"name": "extrusion-0.4", "least_wall_mm": 1.2, "source": "common practice, no source"},
        model=ModelRecord(
            mass_g=mass,
            mass_band_g=(mass - 0.31, mass + 0.29),
            centre_mm=(0.02, 0.31, 1.7),
            target=TargetRecord(
                mass_g=29.5,
                tolerance_g=1.0,
                found_g=mass,
                balance={"x": AxisTarget(wanted_mm=0.0, tolerance_mm=1.0, found_mm=0.02)},
            ),
        ),
        parts=parts,
        steps=(
            StepRecord(
                step="seat_magnets",
                name="back magnets",
                parts=(BODY, LID),
                seconds=0.8,
                places=places,
                facts={
                    "magnet": "disc 6x2 N42",
                    "fixing": "glue",
                    "seat_diameter_mm": 6.2,
                    "seat_depth_mm": 2.4,
                    "pull_n": 9.6,
                    "gap_mm": 0.4,
                },
            ),
            StepRecord(step="match_weight", name="weight", parts=(BODY,), seconds=2.5, facts={"pockets": 1}),
        ),
        items=ledger.items,
        checks=(
            Finding(check="solid", part=BODY, verdict="pass", says="one closed shell"),
            Finding(
                check="wall",
                part=BODY,
                verdict="warn",
                value=1.26,
                limit=1.2,
                unit="mm",
                at_mm=(16.6, 0.0, 1.2),
                says="the wall beside M1 is within 5 % of the limit",
                fix="move M1 inward by 0.2 mm",
                made_by="back magnets",
            ),
            Finding(
                check="wall",
                part=LID,
                verdict="pass",
                value=1.4,
                limit=1.2,
                unit="mm",
                at_mm=(16.6, 0.0, -1.2),
                says="the thinnest wall is above the limit",
            ),
        ),
        cautions=("M1 to M4 hold together hard enough to pinch: keep loose magnets from small children",),
        accepted=(),
        work=ledger.work,
        voids=ledger.voids,
        films=ledger.films,
        overrides=(OverrideRecord(table="magnets", row="disc 6x2 N42", says="shop/magnets.csv adds this row"),),
        extra=(
            FileRecord(
                path="extra/back-magnets-plug.3mf",
                sha256="9" * 64,
                name="back magnets-plug",
                triangles=188,
                volume_mm3=50.1,
            ),
        ),
        timing_s={"read": 0.1, "steps": 3.3, "report": 4.0},
    )
