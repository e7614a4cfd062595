"""The gate and its rules: broken, half there, called otherwise, or on a share that folds capitals."""

from __future__ import annotations

import dataclasses
import errno
from pathlib import Path

import pytest

from prep.errors import CannotOpenFile, NoFolder, UnknownKey
from prep.watch.gate import Gate
from prep.watch.listing import Listing, Seen
from tests.watch.here import BOX, Turns, put

pytestmark = pytest.mark.usefixtures("here")


def test_broken_rules_keep_the_last_good_ones(tmp_path: Path) -> None:
    """A gate.yaml broken while the gate runs is told with its line, and the old rules stay."""
    rules = put(tmp_path / "gate.yaml", b"wall: 1.5 mm\n")
    turns = Turns(tmp_path).go(1.0)
    put(rules, b"wal: 2 mm\n")
    turns.go(3.0)
    assert "`wal` is not a key" in turns.faults
    assert "gate.yaml:1" in turns.faults
    assert turns.gate.rules.wall == 1.5
    put(rules, b"wall: 2.5 mm\n")
    turns.go(3.0)
    assert (turns.faults, turns.gate.rules.wall) == ("", 2.5)


def test_several_faults_of_the_rules_on_one_line(tmp_path: Path) -> None:
    """The board has the first fault with its line and what to do, and says how many more there are."""
    turns = Turns(tmp_path).go(1.0)
    put(tmp_path / "gate.yaml", b"wall: 2\nproces: x\nquiet: soon\n")
    said = turns.go(3.0).faults
    assert said.startswith("gate.yaml:1: ")
    assert "(and 2 more)" in said
    assert "mm" in said
    assert said.endswith("the last good rules are kept")


@pytest.mark.parametrize("name", ["gate.yml", "Gate.YAML", "gate.yaml.txt"])
def test_rules_under_another_name_are_told(tmp_path: Path, name: str) -> None:
    """A file that was meant to be gate.yaml is not passed over in silence."""
    put(tmp_path / name, b"wall: 2 mm\n")
    turns = Turns(tmp_path).go(1.0)
    assert f"{name} is not read: rename it to gate.yaml" in turns.faults
    (tmp_path / name).rename(tmp_path / "gate.yaml")
    turns.go(3.0)
    assert (turns.faults, turns.gate.rules.wall) == ("", 2.0)


def test_rules_that_may_not_be_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A gate.yaml that the system refuses for a while is a fault at the start, and waited for while a gate runs."""
    put(tmp_path / "gate.yaml", b"wall: 2 mm\n")
    turns = Turns(tmp_path).go(1.0)
    real, refused = Path.read_bytes, [True]

    def read(path: Path) -> bytes:
        if refused[0] and path.name == "gate.yaml":
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(path)

    monkeypatch.setattr(Path, "read_bytes", read)
    with pytest.raises(CannotOpenFile, match=r"gate\.yaml cannot be read"):
        Gate(tmp_path)
    put(tmp_path / "gate.yaml", b"wall: 3 mm\n")
    turns.go(3.0)
    assert "Permission denied" in turns.faults or "let the account" in turns.faults
    assert turns.gate.rules.wall == 2.0
    refused[0] = False
    turns.go(1.0)
    assert (turns.faults, turns.gate.rules.wall) == ("", 3.0)


def test_broken_rules_at_the_start_are_a_fault(tmp_path: Path) -> None:
    """A gate does not start with rules it cannot read, nor on what is no folder."""
    put(tmp_path / "gate.yaml", b"proces: x\n")
    with pytest.raises(UnknownKey, match="proces"):
        Gate(tmp_path)
    with pytest.raises(NoFolder, match="no folder to watch"):
        Gate(tmp_path / "nowhere")


def test_name_that_no_file_can_hold(tmp_path: Path) -> None:
    """Half a letter among those who are told is shown as what it is, and ends no gate."""
    put(tmp_path / "gate.yaml", b'told: ["\\uD800"]\n')
    put(tmp_path / "part.stl", BOX)
    assert len(Turns(tmp_path).go(4.0).lines) == 1


class FoldingListing(Listing):
    """A share that folds capitals, and lists names as they were written."""

    def look(self) -> dict[str, Seen]:
        """gate.yaml as somebody wrote it."""
        written = [(name.replace("gate.yaml", "Gate.yaml"), seen) for name, seen in super().look().items()]
        return {name: dataclasses.replace(seen, name=name) for name, seen in written}


def test_rules_on_a_share_that_folds_capitals(tmp_path: Path) -> None:
    """Where Gate.yaml is gate.yaml it counts, its changes are seen, and nobody is told to rename it."""
    rules = put(tmp_path / "gate.yaml", b"wall: 1.5 mm\n")
    turns = Turns(tmp_path, FoldingListing(tmp_path)).go(1.0)
    assert (turns.faults, turns.gate.rules.wall) == ("", 1.5)
    put(rules, b"wall: 2.5 mm\n")
    turns.go(4.0)
    assert (turns.faults, turns.gate.rules.wall) == ("", 2.5)
