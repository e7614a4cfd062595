"""`page`: the report as one file that needs nothing beside it: pictures inside, no script, no network."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

import jinja2

from prep.build.record import PictureRecord, Record, TargetRecord
from prep.report.shop_sheet import order_of_work, sheet_lines
from prep.report.wording import SIGNS, by_weight, facts_in_tables, facts_in_words, figure, measured, minutes, place

WORDS = {"pass": "passed", "warn": "passed, with warnings", "fail": "failed"}
TYPES = {".png": "image/png", ".svg": "image/svg+xml"}


@dataclass(frozen=True)
class Gauge:
    """Where mass and target stand on a bar, in per cent of its width.

    Attributes
    ----------
    found, low, high : the mass and its band
    target_low, target_high, target : the band asked for
    """

    found: float
    low: float
    high: float
    target: float
    target_low: float
    target_high: float


def page(record: Record, folder: Path) -> str:
    """The page of a record whose pictures lie in a folder.

    Parameters
    ----------
    record : Record
    folder : Path
        Where `pictures/` and `drawings/` are; their bytes go into the page.

    Returns
    -------
    str
        HTML. Every name from a recipe or a file is escaped; timing is left out, so that the same build gives the same
        page.
    """
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {
        "figure": figure,
        "place": place,
        "measured": measured,
        "minutes": minutes,
        "said": facts_in_words,
        "tabled": facts_in_tables,
    }
    here = resources.files("prep.report")
    template = environment.from_string(here.joinpath("page.html.j2").read_text(encoding="utf-8"))
    target = record.model.target
    return template.render(
        record=record,
        style=here.joinpath("page.css").read_text(encoding="utf-8"),
        signs=SIGNS,
        verdict_words=WORDS[record.verdict],
        open_findings=[finding for finding in by_weight(record.checks) if finding.verdict != "pass"],
        findings=by_weight(record.checks),
        lines=sheet_lines(record),
        tasks=order_of_work(record.work),
        pictures={picture.path: _inside(picture, folder) for picture in record.pictures},
        of_kind=lambda kind, part=None: [
            picture for picture in record.pictures if picture.kind == kind and (part is None or part in picture.parts)
        ],
        gauge=gauge(target, record.model.mass_band_g) if target is not None and target.of == "model" else None,
    )


def gauge(target: TargetRecord, band_g: tuple[float, float]) -> Gauge:
    """Where the mass found stands beside the mass asked for, on a bar that shows both whole."""
    low, high = min(band_g[0], target.found_g), max(band_g[1], target.found_g)
    target_low, target_high = target.mass_g - target.tolerance_g, target.mass_g + target.tolerance_g
    start, end = min(low, target_low), max(high, target_high)
    room = 0.12 * max(end - start, 1e-6)

    def share(mass_g: float) -> float:
        return round(100.0 * (mass_g - start + room) / (end - start + 2.0 * room), 2)

    return Gauge(
        share(target.found_g), share(low), share(high), share(target.mass_g), share(target_low), share(target_high)
    )


def _inside(picture: PictureRecord, folder: Path) -> str:
    """A picture as a data address; a section is put in as its drawing, which stays sharp in print."""
    path = folder / (picture.drawing or picture.path)
    data = base64.b64encode(path.read_bytes()).decode("ascii")
    return f"data:{TYPES[path.suffix]};base64,{data}"
