"""What is told of pockets: the figures of each, what goes into it, and what a person must know."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from prep.places.place import triple
from prep.places.pocket_choice import PocketCut
from prep.tables import AdhesiveRow, BallastRow
from prep.units import show_g, show_mm


def figures(name: str, cut: PocketCut) -> dict[str, Any]:
    """Place, form, depth and filling of one pocket, lengths in mm and masses in g."""
    pocket, content = cut.pocket, cut.content
    return {
        "id": name,
        "at_mm": list(triple(pocket.at(0.0))),
        "shape": "slot" if pocket.length_mm else "round",
        "width_mm": 2.0 * pocket.radius_mm,
        "length_mm": 2.0 * pocket.radius_mm + pocket.length_mm,
        "depth_mm": cut.depth_mm,
        "deepest_mm": pocket.deepest_mm,
        "volume_mm3": pocket.area_mm2 * cut.depth_mm,
        "fill": cut.filling.name,
        "fill_g": content.mass_g,
        "fill_band_g": [content.low_g, content.high_g],
        "cap_g": content.plug_g,
        "beside_g": content.beside_g,
    }


def fill_word(name: str, cut: PocketCut) -> str:
    """How to fill one pocket."""
    room = show_mm(cut.depth_mm - cut.content.height_mm)
    mass = show_g(cut.content.mass_g)
    if cut.filling.count:
        return f"lay {cut.filling.name} flat in {name}, {mass}; the top one lies {room} under the rim"
    return (
        f"fill {name} with {mass} of {cut.filling.name}, to about {room} under the rim; the scale counts, not the line"
    )


def close_word(names: Sequence[str], cuts: Sequence[PocketCut], glue: AdhesiveRow) -> str:
    """How to close the pockets that are filled, and with how much glue."""
    total = show_g(sum(cut.content.glue_g for cut in cuts))
    around = "around the pieces and " if any(cut.content.beside_g > 0.0 for cut in cuts) else ""
    says = f"close {ids_word(names)} with {total} of {glue.name}, {around}level with the rim"
    return f"{says}; {glue.caution}" if glue.caution else says


def ids_word(ids: Sequence[str]) -> str:
    """Names of items in their order, numbers in a row drawn together: `C1, M1 to M8`; a pocket's glue is left out."""
    rows: list[list[tuple[str, str, int]]] = []
    for name in ids:
        if name.rpartition(" ")[0] in ids:
            continue
        letters = name.rstrip("0123456789")
        number = int(name[len(letters) :] or -1)
        if rows and rows[-1][-1][1:] == (letters, number - 1) and number > 0:
            rows[-1].append((name, letters, number))
        else:
            rows.append([(name, letters, number)])
    spans = [[name for name, _, _ in row] for row in rows]
    return ", ".join(f"{span[0]} to {span[-1]}" if len(span) > 2 else ", ".join(span) for span in spans)


def filling_cautions(cuts: Sequence[PocketCut]) -> tuple[str, ...]:
    """What a person must know of the ballast used, once for each kind."""
    rows: Mapping[str, BallastRow] = {cut.filling.row.name: cut.filling.row for cut in cuts if cut.filling.row}
    said = [f"{name}: {row.caution}" for name, row in rows.items() if row.caution]
    if any(row.toxic for row in rows.values()):
        said.append(
            "Toxic ballast lies under the cap: wear gloves to fill, wash hands, label the inside, keep it closed."
        )
    return tuple(said)
