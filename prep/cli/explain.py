"""Say what a step, setting, check, fault, table or law is."""

from __future__ import annotations

import click


@click.command()
@click.argument("word", nargs=-1, required=True)
def explain(word: tuple[str, ...]) -> None:
    """Say what a step, setting, check, fault, table or law is, with its formula and source.

    WORD may be `seat_magnets`, `seat_magnets.fixing`, `fixing`, `too-weak`, `magnets`, `pull_force`, `gate.quiet`, or
    one of the lists `steps`, `checks`, `tables`, `faults`, `laws`, `recipe`, `gate`.
    """
    from prep.reference import explain as explained

    click.echo(explained(" ".join(word)), nl=False)
