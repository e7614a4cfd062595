"""`plan`: every picture of a report, with its name, before any is drawn."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from prep.build.record import Built, PictureRecord, Record
from prep.contract import Item, Lift, View
from prep.contract.lit import Glow
from prep.geometry.solid import Array
from prep.places.place import unit_of
from prep.report.glow_map import draw_glow
from prep.report.hardware import leading
from prep.report.palette import MATERIALS
from prep.report.pictures import draw_lift, draw_map, draw_model, draw_pair, draw_part, draw_walls
from prep.report.sections import draw_section

LONGEST_NAME = 60
SAME_WAY = 0.7
"""Items whose axes are nearer than this cosine share a map."""


@dataclass(frozen=True)
class Planned:
    """One picture: what the record says of it, and how to draw it into the folder of the report."""

    entry: PictureRecord
    draw: Callable[[Path], object]


def plan(built: Built) -> tuple[Planned, ...]:
    """Every picture: the model, each part before and after, its map and walls, what glows, sections, masks, pieces."""
    names = Names()
    found = [_model(built, names)] if len(built.after) > 1 else []
    for name in built.after:
        found.append(_pair(built, name, names))
        own = tuple(item for item in built.ledger.items if item.part == name)
        found += [_map(built, name, way, items, names) for way, items in items_by_way(own)]
        if name in built.walls:
            found.append(_walls(built, name, names))
    if built.glow is not None:
        found.append(_glow(built.glow, tuple(built.after), names))
    found += [_section(built, view, names) for view in built.views]
    found += [_lift(built, lift, names) for lift in built.lifts if lift.pieces]
    found += [_extra(built, stem, names) for stem in built.extra]
    return tuple(found)


def with_pictures(built: Built) -> Record:
    """The record that says which pictures the report holds."""
    return built.record.model_copy(update={"pictures": tuple(planned.entry for planned in plan(built))})


class Names:
    """File names made of words, no two alike on any file system."""

    def __init__(self) -> None:
        self._taken: set[str] = set()

    def of(self, words: str) -> str:
        """A name of letters, digits, dash, dot and underscore; a number is added where it is taken."""
        plain = re.sub(r"[^A-Za-z0-9._]+", "-", words)[:LONGEST_NAME].strip("-.") or "picture"
        name, turn = plain, 2
        while name.casefold() in self._taken:
            name, turn = f"{plain}-{turn}", turn + 1
        self._taken.add(name.casefold())
        return name


def items_by_way(items: tuple[Item, ...]) -> list[tuple[Array, list[Item]]]:
    """Items whose axes point much the same way, with that way (3,): what one map can show."""
    groups: list[tuple[Array, list[Item]]] = []
    for item in items:
        axis = unit_of(item.axis)
        for way, members in groups:
            if float(way @ axis) > SAME_WAY:
                members.append(item)
                break
        else:
            groups.append((axis, [item]))
    return groups


def _model(built: Built, names: Names) -> Planned:
    path = f"pictures/{names.of('model')}.png"
    title = _line(f"{built.record.project} {built.record.revision}")

    def draw(out: Path) -> Path:
        return draw_model(built.after, built.ledger.items, out / path, title=title)

    return Planned(PictureRecord(path=path, kind="model", title=title, parts=tuple(built.after)), draw)


def _pair(built: Built, name: str, names: Names) -> Planned:
    path = f"pictures/{names.of(f'{name}-before-after')}.png"

    def draw(out: Path) -> Path:
        return draw_pair(built.before[name], built.after[name], out / path, title=name, tint=_tint(built, name))

    title = f"{name}: as exported, and finished"
    return Planned(PictureRecord(path=path, kind="before-after", title=title, parts=(name,)), draw)


def _map(built: Built, name: str, way: Array, items: list[Item], names: Names) -> Planned:
    path = f"pictures/{names.of(f'{name}-map')}.png"
    named = [item.id for item in leading(items)]
    title = f"{name}: where {', '.join(named)} {'goes' if len(named) == 1 else 'go'}"

    def draw(out: Path) -> Path:
        return draw_map(built.after[name], items, way, out / path, title=title, tint=_tint(built, name))

    return Planned(PictureRecord(path=path, kind="map", title=title, parts=(name,)), draw)


def _walls(built: Built, name: str, names: Names) -> Planned:
    path = f"pictures/{names.of(f'{name}-walls')}.png"
    title = f"{name}: wall thickness"

    def draw(out: Path) -> Path:
        measured = built.record.parts[name].wall
        solid, thickness = built.walls[name]()
        limit = measured.limit_mm if measured is not None else float(np.nanmin(thickness))
        return draw_walls(solid, thickness, limit, out / path, title=title)

    return Planned(PictureRecord(path=path, kind="walls", title=title, parts=(name,)), draw)


def _glow(worked_out: Callable[[], Glow], parts: tuple[str, ...], names: Names) -> Planned:
    path = f"pictures/{names.of('glow')}.png"
    title = "what glows"

    def draw(out: Path) -> Path:
        return draw_glow(worked_out(), out / path, title=title)

    return Planned(PictureRecord(path=path, kind="glow", title=title, parts=parts), draw)


def _section(built: Built, view: View, names: Names) -> Planned:
    stem = names.of(f"section-{view.title}")
    picture, drawing = f"pictures/{stem}.png", f"drawings/{stem}.svg"

    def draw(out: Path) -> tuple[Path, Path]:
        beside = {stem: built.extra[stem] for stem in view.with_parts if stem in built.extra}
        return draw_section(view, {**built.after, **beside}, built.ledger.items, out / picture, out / drawing)

    parts = (view.part, *(name for name in view.with_parts if name in built.after))
    return Planned(PictureRecord(path=picture, kind="section", title=view.title, parts=parts, drawing=drawing), draw)


def _lift(built: Built, lift: Lift, names: Names) -> Planned:
    path = f"pictures/{names.of(f'lifted-{lift.pieces[0]}')}.png"
    title = f"{lift.part}: {lift.pieces[0]}" + (f" and {len(lift.pieces) - 1} more" if len(lift.pieces) > 1 else "")

    def draw(out: Path) -> Path:
        pieces = [built.extra[stem] for stem in lift.pieces]
        shifts = np.array(lift.toward) * np.array(lift.path_mm)[:, None]
        return draw_lift(built.after[lift.part], pieces, shifts, out / path, title=title)

    return Planned(PictureRecord(path=path, kind="lift", title=title, parts=(lift.part,)), draw)


def _extra(built: Built, stem: str, names: Names) -> Planned:
    path = f"pictures/{names.of(f'extra-{stem}')}.png"

    def draw(out: Path) -> Path:
        return draw_part(built.extra[stem], out / path, title=stem, note="made beside the parts")

    return Planned(PictureRecord(path=path, kind="extra", title=stem), draw)


def _tint(built: Built, name: str) -> str:
    return MATERIALS[list(built.after).index(name) % len(MATERIALS)]


def _line(text: str) -> str:
    return " ".join(text.split())
