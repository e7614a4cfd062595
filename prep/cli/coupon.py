"""Print gauges that fill the shop's tables: the light step wedge."""

from __future__ import annotations

from pathlib import Path

import click


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def coupon() -> None:
    """Write a printable gauge, with an empty table for its readings."""


@coupon.command("step-wedge")
@click.option("--material", metavar="NAME", default="pla", show_default=True, help="as the readings will name it.")
@click.option("--process", metavar="ROW", default="extrusion-0.4", show_default=True, help="row of `processes`.")
@click.option("--steps", metavar="LENGTHS", help="thicknesses in mm, as `0.4,0.8,1.6`; rounded to whole layers.")
@click.option("--standing", is_flag=True, help="printed upright, as most light walls are; steps in whole beads.")
@click.option("-o", "--out", type=click.Path(path_type=Path), help="folder; default: coupon/step-wedge-MATERIAL.")
@click.option(
    "--shop",
    type=click.Path(path_type=Path),
    default=Path("shop"),
    show_default=True,
    help="folder of the shop's tables.",
)
def step_wedge(material: str, process: str, steps: str | None, standing: bool, out: Path | None, shop: Path) -> None:
    """Write a step wedge of light: a 3MF to print, its codes, how to read it, and transmission.csv to fill in.

    The filled table goes into the shop's folder; `prep table transmission` shows the curve it gives.
    """
    from prep.build.coupon import STEPS_MM, write_step_wedge
    from prep.tables import Tables

    row = Tables.load(shop).processes.get(process)
    folder = out or Path("coupon") / f"step-wedge-{'-'.join(material.split())}"
    wedge = write_step_wedge(folder, row, material, _lengths(steps) if steps else STEPS_MM, standing=standing)
    click.echo(wedge.how_to)
    for path in wedge.files:
        click.echo(f"wrote {path}")


def _lengths(text: str) -> list[float]:
    from prep.errors import BadQuantity
    from prep.units import LENGTH

    try:
        return [float(each) if each.strip()[-1:].isdigit() else LENGTH.read(each) for each in text.split(",")]
    except (BadQuantity, ValueError):
        raise BadQuantity(
            "`--steps` is no list of lengths", where="`--steps`", found=f"`{text}`", fix="write `--steps 0.4,0.8,1.6`"
        ) from None
