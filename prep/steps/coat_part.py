"""`coat_part`: one paint over the whole of a part, and plugs and caps for what must stay bare."""

from __future__ import annotations

from typing import Literal

import numpy as np
from pydantic import Field

from prep.contract import Bench, Coat, Film, Ledger, Outcome, Step, Work
from prep.contract.keep_bare import KeptBare, keep_bare, refuse_spoilt
from prep.geometry.open_sky import open_sky, spread_points
from prep.geometry.rays import RayScene
from prep.geometry.solid import Solid
from prep.places.region import LEAST_SKY
from prep.tables import PaintRow

SAMPLES = 4000
VERBS: dict[str, Literal["prime", "spray", "clear"]] = {"primer": "prime", "colour": "spray", "clear": "clear"}


class CoatPart(Step):
    """Spray a whole part in one paint: primer, a base colour, or clear.

    Nothing is cut. Magnet seats, cell seats, light windows and other mouths and lands that earlier steps have made are
    plugged or capped, as printed pieces under `extra/`; the film is entered in the ledger, so that fits made by other
    steps leave room for it. The painted area is that of skin seen from outside.

    Examples
    --------
    In the recipe of a round box with a cover:

        - step: coat_part
          name: base coat
          part: box
          paint: white enamel
    """

    step: Literal["coat_part"] = Field(description="this step's word")
    part: str = Field(description="the part that is painted")
    paint: str = Field(description="a row of the `paints` table")
    caps: bool = Field(True, description="plug and cap what must stay bare; without it, seats leave room for the film")

    def changes(self) -> tuple[str, ...]:
        """Return no part: paint cuts nothing."""
        return ()

    def reads(self) -> tuple[str, ...]:
        """Return the part that is painted."""
        return (self.part,)

    def coats(self) -> tuple[Coat, ...]:
        """Return the one coat, over the whole skin."""
        return (Coat(step=self.title, part=self.part, paint=self.paint, capped=self.caps),)

    def apply(self, bench: Bench) -> Outcome:
        """Make plugs and caps, and enter film and work in the ledger."""
        row = bench.tables.paints.get(self.paint)
        solid = bench.parts[self.part].solid
        bench.tell("measuring the skin", 0.1)
        area = outside_area_mm2(solid)
        bench.tell("plugs and caps", 0.5)
        if self.caps:
            kept = keep_bare(bench, self.part, None, self.title)
        else:
            refuse_spoilt(bench, self.part, None, row.film_mm)
            kept = KeptBare({}, {}, (), ())
        touches = tuple(coat.step for coat in bench.ahead if coat.part == self.part and coat.step != self.title)
        film = Film(
            step=self.title,
            part=self.part,
            region="all over",
            coat=row.name,
            thickness_mm=row.film_mm,
            area_mm2=area,
            touches=touches,
        )
        return Outcome(
            solids={},
            predictions=(),
            extra=kept.pieces,
            ledger=Ledger(films=(film,), work=self._work(row, kept)),
            facts={
                "paint": row.name,
                "area_cm2": area / 100.0,
                "film_mm": row.film_mm,
                "coats": row.coats,
                "kept_bare": [{"piece": piece, "for": what} for piece, what in kept.for_what.items()],
                "by_hand": [{"what": what, "why": why} for what, why in kept.by_hand],
            },
            findings=kept.findings,
            lifts=kept.lifts(self.part),
            cautions=(f"{row.name}: {row.caution}.",) if row.caution else (),
        )

    def _work(self, row: PaintRow, kept: KeptBare) -> tuple[Work, ...]:
        name, title = self.part, self.title
        capped = f"cap {name}: {title}"
        sprayed = f"{VERBS[row.kind]} {name}: {title}"
        tasks = []
        if kept.pieces or kept.by_hand:
            says = f"{name}: {len(kept.pieces)} plugs and caps, from extra/"
            says += f"; {len(kept.by_hand)} by hand with tape" if kept.by_hand else ""
            tasks.append(Work(id=capped, step=title, verb="cap", says=says, after=(f"print {name}",)))
        tasks.append(
            Work(
                id=sprayed,
                step=title,
                verb=VERBS[row.kind],
                says=f"{name} all over with {row.name}, {row.coats} thin coats, {row.flash_min:g} min between them",
                after=(capped,) if tasks else (f"print {name}",),
                minutes=row.flash_min * (row.coats - 1),
            )
        )
        if len(tasks) > 1:
            says = f"{name}: lift plugs and caps straight out once {row.name} is dry to the touch"
            tasks.append(
                Work(
                    id=f"uncap {name}: {title}",
                    step=title,
                    verb="uncap",
                    says=says,
                    after=(sprayed,),
                    minutes=row.unmask_min,
                )
            )
        return tuple(tasks)


def outside_area_mm2(solid: Solid) -> float:
    """Area of skin that is seen from outside, to about one part in the root of `SAMPLES`."""
    points, normals = spread_points(solid.corners, SAMPLES)
    sky = open_sky(RayScene([solid]), points, normals)
    return float(np.mean(sky >= LEAST_SKY)) * solid.area_mm2
