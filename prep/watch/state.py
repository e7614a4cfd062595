"""`GateState`: what a gate says of itself on the board and in its heartbeat."""

from __future__ import annotations

from prep.contract import Frozen


class GateState(Frozen):
    """A gate at the end of a scan.

    Attributes
    ----------
    folder : name of the folder that is watched
    process : row of the processes table
    bed : bed of the process in words
    wall : wall limit in words
    rules : sentences on what is asked of every file, and which defaults apply
    last_good_scan : UTC, ISO 8601; empty before the first
    scan_seconds : that it took
    known : files of the folder that the gate has a verdict for
    copying, stuck : file, and what is said of it
    gates : host:pid of every gate alive on the folder, this one first
    interval_s : between two scans
    told : names of those who are told
    faults : what keeps the gate from doing all it should: a broken gate.yaml, a full disk, a listing that failed
    """

    folder: str
    process: str
    bed: str
    wall: str
    rules: tuple[str, ...] = ()
    last_good_scan: str = ""
    scan_seconds: float = 0.0
    known: int = 0
    copying: tuple[tuple[str, str], ...] = ()
    stuck: tuple[tuple[str, str], ...] = ()
    gates: tuple[str, ...] = ()
    interval_s: float = 0.0
    told: tuple[str, ...] = ()
    faults: tuple[str, ...] = ()
