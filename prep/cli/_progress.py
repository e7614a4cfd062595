"""A progress line on stderr: a bar on a terminal, silent otherwise."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(*, wanted: bool = True) -> Iterator[Callable[[str, float], None]]:
    """A function of a phase and the share done, 0 to 1."""
    if not wanted or not sys.stderr.isatty():
        yield lambda *_: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (BarColumn(bar_width=28), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("starting", total=1.0)

        def tell(phase: str, share: float) -> None:
            bar.update(task, description=phase, completed=min(max(share, 0.0), 1.0))

        yield tell
