"""Floor 10. The command line: one command a file, found by the file's name, imported when it is asked for.

What lives here: arguments, options, plain text in and out, exit statuses.
What may be imported: click at once; every other room inside the command that needs it, so that `--help` is instant.
What must not come in: anything that another room could be asked to do.

A command is `prep/cli/<word>.py` with a click command named `<word>`; the first line of the file is its short help.
Files whose name begins with an underscore are no commands.
"""

from __future__ import annotations

import errno
import importlib
import os
import sys
from collections.abc import Sequence
from typing import NoReturn

import click

from prep import __version__
from prep.errors import Faults, PrepError

HERE = os.path.dirname(__file__)  # noqa: PTH120  # importing pathlib would take a tenth of the time of `--help`
OUR_BUG = 70
INTERRUPTED = 130
DISK = {errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EROFS, errno.EIO, errno.EFBIG}
"""What a disk says of itself; anything else from the system is a fault of ours until a room has named it."""


class Commands(click.Group):
    """The files of this folder, listed by their first lines and imported one at a time."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Every command's word, in alphabetical order."""
        del ctx  # the list is the same whoever asks
        files = os.listdir(HERE)  # noqa: PTH208  # see HERE
        return sorted(name[:-3] for name in files if name.endswith(".py") and not name.startswith("_"))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that word, imported now."""
        if cmd_name not in self.list_commands(ctx):
            return None
        command = getattr(importlib.import_module(f"{__name__}.{cmd_name}"), cmd_name)
        return command if isinstance(command, click.Command) else None

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(word, short_help(word)) for word in self.list_commands(ctx)])

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for, or a fault with the nearest word."""
        words = self.list_commands(ctx)
        if args and args[0] not in words and not args[0].startswith("-"):
            import difflib

            near = difflib.get_close_matches(args[0], words, n=1, cutoff=0.5)
            hint = f"did you mean `prep {near[0]}`?" if near else f"commands are {', '.join(words)}"
            raise click.UsageError(f"there is no command `{args[0]}`; {hint}")
        return super().resolve_command(ctx, args)


def short_help(word: str) -> str:
    """The first line of a command's file, read without importing it."""
    with open(f"{HERE}/{word}.py", encoding="utf-8") as file:  # noqa: PTH123  # see HERE
        return file.readline().strip().strip('"')


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="prep", message="%(prog)s %(version)s")
def prep() -> None:
    """Turn exported meshes into finished parts: weighed, magnet-ready, checked, from one recipe.

    Exit status: 0 passed, 1 a check failed, 2 recipe or input wrong, 70 a fault of prep itself.
    """


def main(arguments: Sequence[str] | None = None) -> NoReturn:
    """Run one command; every fault becomes plain text on stderr and an exit status."""
    sys.exit(run(sys.argv[1:] if arguments is None else list(arguments)))


def run(arguments: list[str]) -> int:
    """The exit status of one command."""
    try:
        status = prep.main(args=arguments, prog_name="prep", standalone_mode=False)
    except PrepError as fault:
        return _report(fault)
    except click.ClickException as fault:
        return _say_usage(fault)
    except (click.Abort, KeyboardInterrupt):
        click.echo("stopped", err=True)
        return INTERRUPTED
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # whoever read us has gone: let the flush go too
        return 0
    except Exception as fault:  # noqa: BLE001  # the last door: all that gets here is our own fault, or the disk's
        return _say_disk(fault) if isinstance(fault, OSError) and fault.errno in DISK else _say_bug()
    return status if isinstance(status, int) else 0


def _report(fault: PrepError) -> int:
    held = fault.faults if isinstance(fault, Faults) else (fault,)
    status = max(one.exit_status for one in held)
    click.echo(str(fault), err=True)
    if len(held) > 1:
        click.echo(f"\n{len(held)} faults", err=True)
    return _say_bug() if status == OUR_BUG else status


def _say_disk(fault: OSError) -> int:
    from prep.errors import CannotWriteFile

    return _report(
        CannotWriteFile(
            "the disk refuses to be written to",
            where=str(fault.filename or "the output folder"),
            found=fault.strerror or str(fault),
            fix="make room, or choose another folder; what was there before is untouched",
        )
    )


def _say_usage(fault: click.ClickException) -> int:
    click.echo(f"error[usage]: {fault.format_message()}", err=True)
    context = getattr(fault, "ctx", None)
    if context is not None:
        click.echo(f"  fix:   `{context.command_path} --help` lists what may be written", err=True)
    return 2


def _say_bug() -> int:
    import traceback

    traceback.print_exc()
    click.echo("\nThis is a fault of prep itself, not of your files. Please report it with the lines above.", err=True)
    return OUR_BUG
