"""Measure meshes before there is a recipe; a page on which to pick places."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("-o", "--out", type=click.Path(path_type=Path), help="folder for the page and its pictures.")
@click.option(
    "--process", metavar="ROW", default="extrusion-0.4", show_default=True, help="row of the processes table."
)
@click.option("--material", metavar="ROW", default="pla", show_default=True, help="row of the materials table.")
@click.option("--unit", metavar="UNIT", help="unit of files that name none: mm, cm, m, inch, ...; default: mm.")
@click.option("--up", metavar="DIRECTION", default="+z", show_default=True, help="build direction.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="folder of the shop's tables.",
)
@click.option("--json", "as_json", is_flag=True, help="one JSON document on stdout, and nothing else.")
def survey(
    files: tuple[Path, ...],
    out: Path | None,
    process: str,
    material: str,
    unit: str | None,
    up: str,
    shop: Path,
    *,
    as_json: bool,
) -> int:
    """Measure FILES: meshes in one frame, or one recipe, which brings its own process, materials and placing.

    Places are printed in the words a recipe takes after `at:`. Exit status: 0, or 2 where a file was refused.
    """
    from prep.build.survey import Setting
    from prep.build.survey import survey as measure
    from prep.cli._progress import progress
    from prep.report.survey_page import write_survey
    from prep.report.survey_text import survey_text
    from prep.tables import Tables
    from prep.units import read_direction

    tables = Tables.load(shop)
    setting = Setting(tables.processes.get(process), tables.materials.get(material), tables, unit, read_direction(up))
    with progress() as tell:
        surveyed = measure(files, setting, tell)
        written = write_survey(surveyed, out, tell) if out is not None else []
    if as_json:
        click.echo(surveyed.report.to_json(), nl=False)
    else:
        click.echo(survey_text(surveyed.report))
        for path in written:
            click.echo(f"wrote {path}")
    return 2 if surveyed.report.faults else 0
