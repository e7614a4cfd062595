"""Run a recipe: finished parts, pictures and a report."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from prep.build.record import Record


@click.command()
@click.argument("recipe", type=click.Path(path_type=Path))
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="folder for the result; default: build/<project>-<revision> beside the recipe.",
)
@click.option("--json", "as_json", is_flag=True, help="print report.json on stdout, and nothing else.")
@click.option("--fresh", is_flag=True, help="run every step again, whatever was kept from earlier builds.")
def build(recipe: Path, out: Path | None, *, as_json: bool, fresh: bool) -> int:
    """Run RECIPE: read and mend the meshes, run every step, check the result, write parts, pictures and report.

    Exit status: 0 passed (warnings allowed), 1 a check failed, 2 recipe or input wrong.
    """
    from prep.build.folder import Staged
    from prep.build.run import run
    from prep.build.store import Store
    from prep.cli._progress import progress
    from prep.cli._stdout import stdout_kept
    from prep.recipe import read_recipe
    from prep.report.summary import summary
    from prep.report.write import write_report

    wanted = read_recipe(recipe)
    folder = out if out is not None else wanted.folder / "build" / wanted.slug
    inputs = (wanted.path, wanted.folder / "shop", *map(wanted.mesh_path, wanted.parts))
    inputs += tuple(map(wanted.body_path, wanted.bodies()))
    with stdout_kept(), progress() as tell, Staged(folder, inputs) as stage:
        built = run(wanted, stage, Store.beside(wanted.path, fresh=fresh), tell)
        write_report(built, stage, tell)
    if as_json:
        click.echo((folder / "report.json").read_text("utf-8"), nl=False)
    else:
        click.echo(summary(_as_written(folder)))
        click.echo(f"\nreport  {folder / 'report.html'}")
    return 1 if built.record.verdict == "fail" else 0


def _as_written(folder: Path) -> Record:
    from prep.build.record import Record

    return Record.from_json((folder / "report.json").read_text("utf-8"))
