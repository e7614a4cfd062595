"""`write_survey`: a folder with the pictures on which to pick places, one page, and survey.json."""

from __future__ import annotations

import base64
from collections.abc import Callable
from importlib import resources
from pathlib import Path

import jinja2

from prep.build.survey import Surveyed, SurveyReport
from prep.report.plan import Names
from prep.report.survey_picture import draw_survey
from prep.report.whole import write_whole
from prep.report.wording import figure, place


def write_survey(surveyed: Surveyed, out: Path, tell: Callable[[str, float], None] = lambda *_: None) -> list[Path]:
    """Write `pictures/<part>.png`, `survey.html` and `survey.json`, each whole; same survey, same bytes."""
    names = Names()
    pictures: dict[str, Path] = {}
    for turn, (name, part) in enumerate(surveyed.report.parts.items()):
        tell(f"drawing {name}", turn / len(surveyed.report.parts))
        path = out / "pictures" / f"{names.of(name)}.png"
        pictures[name] = draw_survey(surveyed.solids[name], part.flats, path, title=name)
    page = write_whole(out / "survey.html", survey_page(surveyed.report, pictures).encode())
    data = write_whole(out / "survey.json", surveyed.report.to_json().encode())
    return [*pictures.values(), page, data]


def survey_page(report: SurveyReport, pictures: dict[str, Path]) -> str:
    """The page, with the pictures inside it; every name from a file is escaped."""
    environment = jinja2.Environment(
        autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters |= {"figure": figure, "place": place}
    here = resources.files("prep.report")
    template = environment.from_string(here.joinpath("survey.html.j2").read_text(encoding="utf-8"))
    return template.render(
        report=report,
        style=here.joinpath("page.css").read_text(encoding="utf-8"),
        pictures={name: base64.b64encode(path.read_bytes()).decode("ascii") for name, path in pictures.items()},
    )
