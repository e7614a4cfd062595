"""The command itself: help without imports, faults as plain text, exit statuses."""

from __future__ import annotations

import errno
import subprocess
import sys
from pathlib import Path

import click
import pytest

import prep.cli
from prep.cli import prep as group
from prep.cli import run, short_help
from prep.errors import BadQuantity, ContractBroken, Faults, TooWeak

FOLDER = Path(prep.cli.__file__).parent
WORDS = sorted(path.stem for path in FOLDER.glob("[!_]*.py"))


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch):
    """Makes the command raise, or return, what is given."""

    def make(outcome: object) -> int:
        def behave(**_: object) -> object:
            if isinstance(outcome, BaseException):
                raise outcome
            return outcome

        monkeypatch.setattr(prep.cli.prep, "main", behave)
        return run([])

    return make


def test_help_lists_every_file(capsys: pytest.CaptureFixture[str]) -> None:
    """`prep --help` names every command with the first line of its file."""
    assert run(["--help"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for word in WORDS:
        assert f"{word} {short_help(word)}" in shown


@pytest.mark.parametrize("word", WORDS)
def test_command_has_its_files_name(word: str) -> None:
    """Each file holds a click command of its own name, whose help begins as its file does not end."""
    command = group.get_command(click.Context(group), word)
    assert isinstance(command, click.Command)
    assert command.name == word
    assert command.help
    assert short_help(word).endswith(".")
    assert len(short_help(word)) <= 90
    undocumented = [each.name for each in command.params if isinstance(each, click.Option) and not each.help]
    assert undocumented == []


def test_help_imports_nothing_heavy() -> None:
    """`prep --help` imports click and no other room of the house."""
    code = (
        "import sys; from prep.cli import run; run(['--help']);"
        "heavy = {'numpy', 'scipy', 'pydantic', 'manifold3d', 'rich', 'ruamel', 'matplotlib'} & set(sys.modules);"
        "rooms = {name.split('.')[1] for name in sys.modules if name.startswith('prep.')} - {'cli', 'errors'};"
        "sys.exit(f'{heavy} {rooms}' if heavy or rooms else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def test_module_is_the_command() -> None:
    """`python -m prep` is the same command."""
    done = subprocess.run([sys.executable, "-m", "prep", "--version"], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stdout) == (0, f"prep {prep.__version__}\n")


def test_status_of_a_command(failing) -> None:
    """A command's own status is the exit status; none means passed."""
    assert failing(1) == 1
    assert failing(None) == 0


def test_fault(failing, capsys: pytest.CaptureFixture[str]) -> None:
    """A fault is four plain lines on stderr and status 2, no traceback."""
    assert failing(TooWeak("it slips", where="here", found="3 N, wanted 5 N", fix="add a magnet")) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == "error[too-weak]: it slips\n  where: here\n  found: 3 N, wanted 5 N\n  fix:   add a magnet\n"


def test_full_disk(failing, capsys: pytest.CaptureFixture[str]) -> None:
    """A disk without room is the disk's fault and told plainly; another fault of the system is ours."""
    assert failing(OSError(errno.ENOSPC, "No space left on device", "out/pictures/a.png")) == 2
    err = capsys.readouterr().err
    assert err.startswith("error[cannot-write-file]")
    assert "out/pictures/a.png" in err
    assert "Traceback" not in err
    assert failing(OSError(errno.EBADF, "Bad file descriptor")) == 70


def test_faults(failing, capsys: pytest.CaptureFixture[str]) -> None:
    """Several faults are all printed, and counted."""
    assert failing(Faults([TooWeak("one"), BadQuantity("two")])) == 2
    err = capsys.readouterr().err
    assert "error[too-weak]: one" in err
    assert "error[bad-quantity]: two" in err
    assert err.endswith("2 faults\n")


def test_broken_contract(failing, capsys: pytest.CaptureFixture[str]) -> None:
    """A step that broke its word is our bug: the fault, the traceback, status 70."""
    assert failing(ContractBroken("volume is off")) == 70
    err = capsys.readouterr().err
    assert "error[contract-broken]" in err
    assert "Traceback" in err


def test_our_bug(failing, capsys: pytest.CaptureFixture[str]) -> None:
    """Any other exception is our bug: the traceback, status 70."""
    assert failing(KeyError("oops")) == 70
    err = capsys.readouterr().err
    assert "Traceback" in err
    assert "a fault of prep itself" in err


@pytest.mark.parametrize("stop", [KeyboardInterrupt(), click.Abort()])
def test_interrupted(failing, stop: BaseException, capsys: pytest.CaptureFixture[str]) -> None:
    """Ctrl-C is one plain line and status 130."""
    assert failing(stop) == 130
    assert capsys.readouterr().err == "stopped\n"


@pytest.mark.parametrize(
    ("arguments", "text"),
    [
        (["explian", "x"], "did you mean `prep explain`?"),
        (["qqqq"], "commands are "),
        (["--nope"], "`prep --help` lists"),
        (["explain"], "`prep explain --help` lists"),
    ],
)
def test_usage(arguments: list[str], text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A mistyped command or option is a fault with its fix and status 2."""
    assert run(arguments) == 2
    err = capsys.readouterr().err
    assert err.startswith("error[usage]: ")
    assert text in err


def test_reader_that_leaves() -> None:
    """A reader that leaves early, as `head` does, is no fault."""
    command = f"{sys.executable} -m prep explain faults | head -n 1"
    shell = ["sh", "-c", command]
    done = subprocess.run(shell, check=False, capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("The faults a person can meet\n", "")
