"""Put two reports side by side: what moved, what changed weight, which verdicts changed."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from prep.build.record import Record


@click.command()
@click.argument("old", type=click.Path(path_type=Path))
@click.argument("new", type=click.Path(path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="the changes as JSON on stdout, and nothing else.")
def diff(old: Path, new: Path, *, as_json: bool) -> None:
    """Compare the reports OLD and NEW: each a report.json, or the folder of a build that holds one."""
    import dataclasses
    import json

    from prep.report.differences import differences, differences_text

    was, now = _read(old), _read(new)
    if as_json:
        click.echo(json.dumps([dataclasses.asdict(change) for change in differences(was, now)], indent=2))
    else:
        click.echo(differences_text(was, now))


def _read(path: Path) -> Record:
    from pydantic import ValidationError

    from prep.build.record import Record
    from prep.errors import BadReport

    file = path / "report.json" if path.is_dir() else path
    try:
        return Record.from_json(file.read_text("utf-8"))
    except (OSError, UnicodeDecodeError, ValidationError) as fault:
        found = f"{len(fault.errors())} places that do not fit" if isinstance(fault, ValidationError) else str(fault)
        raise BadReport(
            "this is no report of a build",
            where=str(file),
            found=found,
            fix="name a report.json, or the folder of a build",
        ) from None
