"""Watch a shared folder: a verdict beside every mesh that is dropped into it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from prep.watch.entry import Entry
    from prep.watch.gate import Gate


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--once", is_flag=True, help="judge everything that has settled, then end; for cron.")
@click.option("--status", is_flag=True, help="say when the last good look at the folder was; 1 if too long ago.")
@click.option("--within", metavar="TIME", help="with --status: longest that may lie back, as `10 min`.")
@click.option("--workers", type=click.IntRange(1, 64), default=1, show_default=True, help="files judged at a time.")
@click.option("--interval", metavar="TIME", help="between two looks, as `5 s`; over gate.yaml.")
@click.option("--quiet", metavar="TIME", help="how long a file must stand still, as `2 s`; over gate.yaml.")
def watch(
    folder: Path, *, once: bool, status: bool, within: str | None, workers: int, interval: str | None, quiet: str | None
) -> int:
    """Watch FOLDER, a shared folder that people drop meshes into, and write a verdict beside every file.

    Verdicts stand in FOLDER/verdicts and on FOLDER/board.html; no file is ever changed. FOLDER/gate.yaml may say the
    process, the bed, the wall limit, the sizes expected and who is told: `prep explain gate` lists every key. Several
    gates may watch one folder.

    Exit status: 0; with --once 1 where a verdict of this run is anything but pass or warn, or the gate could not do all
    it should; with --status 1 where the last good look is too long ago; 2 folder or gate.yaml wrong.
    """
    if status:
        return _status(folder, _seconds("--within", within))
    from prep.watch.gate import Gate, Options

    options = Options(
        workers=workers,
        interval_s=_seconds("--interval", interval),
        quiet_s=_seconds("--quiet", quiet),
    )
    said: list[str] = []

    def say(entry: Entry) -> None:
        said.append(entry.verdict)
        _say(entry)

    gate = Gate(folder, options, say)
    _stop_on_signals(gate)
    if not once:
        click.echo(f"watching {folder}; the board is {folder / 'board.html'}; Ctrl-C ends it")
    gate.run(once=once)
    if once:
        for file, says in gate.state().copying:
            click.echo(f"waits   {file}: {says}")
    good = {"pass", "warn"}.issuperset(said) and not gate.state().faults
    return 1 if once and not good else 0


def _say(entry: Entry) -> None:
    """The verdict on one line, and below it what to do and how the file stands to others, as on the board."""
    click.echo(f"{entry.verdict:7} {entry.file}: {entry.reason}")
    if entry.action:
        click.echo(f"        -> {entry.action}")
    for relation in entry.relations:
        if relation.says not in entry.reason:
            click.echo(f"        {relation.says}")


def _seconds(option: str, text: str | None) -> float | None:
    """A time given as an option, in s."""
    from prep.errors import PrepError
    from prep.recipe.gate_rules import TIME

    try:
        return None if text is None else TIME.read(text)
    except PrepError as fault:
        raise fault.at(option) from None


def _status(folder: Path, within_s: float | None) -> int:
    from prep.watch.heartbeat import status_of

    found = status_of(folder, within_s)
    state = found.state
    late = ", which is too long ago" if found.late else ""
    click.echo(f"last good look {state.last_good_scan}, {found.age_s:.0f} s ago{late}; {state.known} files known")
    for fault in state.faults:
        click.echo(f"    {fault}")
    return 1 if found.late else 0


def _stop_on_signals(gate: Gate) -> None:
    """Let the turn that is going on come to its end when the system, or a person, wants the gate to stop."""
    import signal

    for name in ("SIGTERM", "SIGINT"):
        number = getattr(signal, name, None)
        if number is not None:
            signal.signal(number, lambda *_: gate.stop())
