"""Check meshes or recipes before a print: walls, gaps, voids, bodies and what changed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from prep.build.check_files import Asked, Checked


@click.command()
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--process",
    metavar="ROW",
    default="extrusion-0.4",
    show_default=True,
    help="row of the processes table; a recipe brings its own.",
)
@click.option("--longest", metavar="LENGTH", help="the longest side, as `92 mm ± 1 mm`; catches a wrong unit.")
@click.option("--wall", metavar="LENGTH", help="thinnest wall and web wanted, instead of the process's.")
@click.option("--unit", metavar="UNIT", help="unit of files that name none: mm, cm, m, inch, ...; default: mm.")
@click.option("--up", metavar="DIRECTION", default="+z", show_default=True, help="build direction.")
@click.option(
    "--against",
    metavar="OLD",
    type=click.Path(path_type=Path),
    help="an older mesh, or a folder that holds one of the same name: say what has changed.",
)
@click.option("--map", "map_to", metavar="OUT.ply", type=click.Path(path_type=Path), help="write the wall thickness.")
@click.option("--all", "every", is_flag=True, help="everything read, mended and found, below each file's line.")
@click.option("--fine", is_flag=True, help="measure walls and gaps at half the spacing; four times slower.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="folder of the shop's tables.",
)
@click.option("--json", "as_json", is_flag=True, help="one JSON document on stdout, and nothing else.")
def check(
    files: tuple[Path, ...],
    process: str,
    longest: str | None,
    wall: str | None,
    unit: str | None,
    up: str,
    against: Path | None,
    map_to: Path | None,
    shop: Path,
    *,
    every: bool,
    fine: bool,
    as_json: bool,
) -> int:
    """Check FILES before the print: STL, OBJ, PLY, 3MF; or recipes, whose meshes are checked without their steps.

    One line a file: its verdict and worst finding, with place, number, limit and action. A mesh is judged as it is, so
    a wall under the limit fails, which in a build would be a warning about the input.

    Exit status: 0 passed (warnings allowed), 1 a check failed, 2 a file was refused.
    """
    from prep.build.check_files import Asked, check_files
    from prep.cli._progress import progress
    from prep.report.check_text import check_text
    from prep.tables import Tables
    from prep.units import LENGTH, read_band, read_direction

    tables = Tables.load(shop)
    asked = Asked(
        process=tables.processes.get(process),
        tables=tables,
        longest=read_band(longest, LENGTH) if longest is not None else None,
        wall_mm=LENGTH.read(wall) if wall is not None else None,
        unit=unit,
        up=read_direction(up),
        against=against,
        fine=fine,
    )
    with progress() as tell:
        checked = check_files(files, asked, keep_solids=map_to is not None, tell=tell)
        if map_to is not None:
            _write_maps(checked, asked, map_to, (*files, *((against,) if against else ())))
    report = checked.report
    click.echo(report.to_json() if as_json else check_text(report, every=every), nl=not as_json)
    return report.exit_status


def _write_maps(checked: Checked, asked: Asked, out: Path, inputs: tuple[Path, ...]) -> None:
    """One map where one part was read, else one for each with its name behind that of `out`."""
    from prep.errors import UnknownFormat
    from prep.report.wall_map import write_wall_map

    if out.suffix.lower() != ".ply":
        raise UnknownFormat(
            "a wall map is a PLY file", found=f"`{out}`", fix=f"write `--map {out.with_suffix('.ply')}`"
        )
    limit = asked.wall_mm or asked.process.wall_limit_mm
    files = [path for path in inputs if path.is_file()]
    for (_, name), solid in checked.solids.items():
        place = out if len(checked.solids) == 1 else out.with_name(f"{out.stem}-{name}.ply")
        write_wall_map(solid, limit, place, fine=asked.fine, inputs=files)
