"""Say what the next build would do again, and why."""

from __future__ import annotations

from pathlib import Path

import click


@click.command()
@click.argument("recipe", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="the reasons as JSON on stdout, and nothing else.")
def why(recipe: Path, *, as_json: bool) -> None:
    """Say for every step of RECIPE whether the next build would run it again, and what has changed since the last."""
    import dataclasses
    import json

    from prep.build.store import Store
    from prep.build.why import why as reasons_for
    from prep.recipe import read_recipe

    wanted = read_recipe(recipe)
    reasons = reasons_for(wanted, Store.beside(wanted.path))
    if as_json:
        click.echo(json.dumps([dataclasses.asdict(reason) for reason in reasons], indent=2))
        return
    width = max((len(reason.step) for reason in reasons), default=0)
    for reason in reasons:
        again = f"again: {', '.join(reason.because)}" if reason.again else "kept"
        click.echo(f"{reason.step:{width}}  {again}")
