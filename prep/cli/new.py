"""Start a project: a folder with a recipe, shop tables and a sample mesh."""

from __future__ import annotations

import re
from pathlib import Path

import click

RECIPE = """\
# What is done to the meshes of this model, and what must hold. `prep explain recipe` lists every key;
# recipe.schema.json beside this file lets an editor complete and check it.
recipe: 1
project: {name}
revision: A
process: extrusion-0.4            # `prep table processes` lists them
parts:
  box:
    mesh: box.stl                 # put your own export here; paths are relative to this file
    longest: 60 mm ± 0.1 mm       # the one stated dimension that catches a wrong unit
    material: pla
  cover: {{mesh: cover.stl, material: pla}}
steps:
  - step: seat_magnets            # `prep explain seat_magnets` lists its settings
    between: [box, cover]
    magnet: disc 6x2 N42
    count: 4
    fixing: glue
    hold: 5 N
"""

HINT = """\
# {name}

    prep build {slug}.yaml

builds the finished parts into `build/`, with a report. The two meshes are a sample, a round box and its cover:
replace them with your own exports, then change `parts` and `steps` in `{slug}.yaml`.

- `prep explain steps` lists what can be done to the parts; `prep explain recipe` the rest of the recipe.
- `shop/*.csv` hold what your shop stocks and measures; a row there goes over the row of the same name that ships with
  prep (`prep table magnets` lists those).
"""

SHOP_TABLES = ("magnets", "materials", "processes", "ballast", "paints")


@click.command()
@click.argument("name")
def new(name: str) -> None:
    """Start a project in a new folder NAME: a recipe, shop tables, and a sample that builds.

    A folder that is already there is never written to.
    """
    from prep.errors import BadValue, FolderExists

    folder = Path(name)
    slug = re.sub(r"[^A-Za-z0-9._-]+", "-", folder.name).strip("-.")
    if not slug:
        raise BadValue(
            "a project's name has letters or digits", found=f"`{name}`", fix="write `prep new kitchen-timer`"
        )
    folder = folder.with_name(slug)
    if folder.exists():
        raise FolderExists(
            "there is something of that name", where=str(folder), fix="choose another name, or move it away"
        )
    _write(folder, slug, Path(name).name.strip())
    click.echo(f"started {folder}\nnext: prep build {folder / f'{slug}.yaml'}")


def _write(folder: Path, slug: str, name: str) -> None:
    """All of it beside the folder first, so that a half-made project never stands there."""
    import json
    import shutil
    import tempfile

    from prep.cli._round_box import round_box
    from prep.geometry.write_mesh import write_mesh
    from prep.recipe.overrides import column_notes
    from prep.reference import recipe_schema
    from prep.reference.explain import row_types

    folder.parent.mkdir(parents=True, exist_ok=True)
    beside = Path(tempfile.mkdtemp(prefix=f".{slug}-", dir=folder.parent))
    try:
        for part, solid in round_box().items():
            write_mesh(beside / f"{part}.stl", {part: solid})
        _write_text(beside / f"{slug}.yaml", RECIPE.format(name=json.dumps(name, ensure_ascii=False)))
        _write_text(beside / "README.md", HINT.format(name=name, slug=slug))
        _write_text(beside / "recipe.schema.json", json.dumps(recipe_schema(), indent=2, ensure_ascii=False) + "\n")
        (beside / "shop").mkdir()
        for table in SHOP_TABLES:
            columns = [column for column in column_notes(row_types()[table]) if column not in {"source", "status"}]
            _write_text(beside / "shop" / f"{table}.csv", ",".join([*columns, "source"]) + "\n")
        beside.chmod(0o755)
        beside.rename(folder)
    except BaseException:
        shutil.rmtree(beside, ignore_errors=True)
        raise


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
