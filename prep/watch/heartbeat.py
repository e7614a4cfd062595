"""`Heartbeat`: a small file that says a gate is alive, and when it last had a good look at the folder."""

from __future__ import annotations

import calendar
import contextlib
import time
from dataclasses import dataclass
from pathlib import Path

from pydantic import ValidationError

from prep.errors import NoGate
from prep.watch.claims import gate_name, this_machine
from prep.watch.names import VERDICTS
from prep.watch.state import GateState
from prep.watch.whole_file import write_whole

GATES = "gates"
ENDED = "ended"
FORGOTTEN_S = 86_400.0
MACHINE_DIGITS = 4
MISSED = 6
AHEAD_S = 120.0
"""By how much a gate's clock may be ahead of ours; what is later yet is no time to trust."""
"""Scans a gate may miss until it no longer counts as alive."""
LEAST_S = 30.0


class Heartbeat:
    """The file of one gate, in `verdicts/gates`."""

    def __init__(self, verdicts: Path, room: Path) -> None:
        self.folder = verdicts / GATES
        self.room = room
        machine = this_machine().rpartition("/")[2]  # two containers may have one name and one process number
        self.path = self.folder / f"{gate_name().replace(':', '-')}.{machine[:MACHINE_DIGITS]}.json"

    def beat(self, state: GateState) -> None:
        """Write what the gate says of itself.

        Raises
        ------
        OSError
        """
        self.folder.mkdir(parents=True, exist_ok=True)
        write_whole(self.path, state.model_dump_json().encode(), self.room, sync=False)

    def alive(self, interval_s: float) -> tuple[str, ...]:
        """Gates that have written lately by the share's clock, this one first; forgets those long dead."""
        try:
            now = self.path.stat().st_mtime
        except OSError:
            return (gate_name(),)
        found = []
        for path in sorted(self.folder.glob("*.json")):
            with contextlib.suppress(OSError):
                age = now - path.stat().st_mtime
                if age > FORGOTTEN_S and path.stem != ENDED:
                    path.unlink()
                elif path not in (self.path, self.folder / f"{ENDED}.json") and age < _patience(interval_s):
                    found.append(":".join(path.stem.rpartition(".")[0].rpartition("-")[::2]))
        return (gate_name(), *found)

    def end(self) -> None:
        """Stop of its own will; what the gate last said is kept under another name."""
        with contextlib.suppress(OSError):
            self.path.replace(self.folder / f"{ENDED}.json")


@dataclass(frozen=True)
class Status:
    """When anybody last had a good look at a folder.

    Attributes
    ----------
    age_s : seconds since then
    late : whether that is longer than it should be
    """

    state: GateState
    age_s: float
    late: bool


def status_of(folder: Path, within_s: float | None = None) -> Status:
    """The latest good scan of any gate on a folder.

    Parameters
    ----------
    within_s : float, optional
        Longest that it may lie back; the time of several scans if left out, and never under half a minute.

    Raises
    ------
    NoGate
        No gate has had a good look at it.
    """
    states = []
    for path in sorted((folder / VERDICTS / GATES).glob("*.json")):
        with contextlib.suppress(OSError, ValidationError):
            states.append(GateState.model_validate_json(path.read_bytes()))
    scanned = [state for state in states if state.last_good_scan]
    if not scanned:
        raise NoGate(
            "no gate has had a good look at this folder",
            where=str(folder),
            found=f"{len(states)} gates, none of which could list it" if states else "no heartbeat in verdicts/gates",
            fix=f"start one with `prep watch {folder}`",
        )
    state = max(scanned, key=lambda one: one.last_good_scan)
    age = time.time() - calendar.timegm(time.strptime(state.last_good_scan, "%Y-%m-%dT%H:%M:%SZ"))
    patience = _patience(state.interval_s) if within_s is None else within_s
    return Status(state, age, not -AHEAD_S <= age <= patience)


def _patience(interval_s: float) -> float:
    return max(LEAST_S, MISSED * interval_s)
