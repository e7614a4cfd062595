"""Entries and a state to draw boards from."""

from __future__ import annotations

from prep.watch.entry import Entry, Relation
from prep.watch.state import GateState

VERDICTS = ("pass", "warn", "fail", "refused")
SAYS = {
    "pass": ("nothing to look at; thinnest wall 1.62 mm", ""),
    "warn": (
        "longest side 2.1 mm if the file is in mm: small for a part; 53.3 mm if inch",
        "read it with `--unit inch`",
    ),
    "fail": ("a wall of 0.42 mm at (12.0, 40.1, 6.0) mm, limit 0.80 mm", "make it 0.38 mm thicker"),
    "refused": ("the file ends early: 1 200 of 4 000 triangles", "export it again"),
}


def entry(number: int, **changed: object) -> Entry:
    """The verdict on one of many files."""
    verdict = VERDICTS[number % 4]
    name = str(changed.pop("file", f"timer body rev{number}.stl"))
    told = {
        "file": name,
        "sha256": f"{number:064x}",
        "size": 84 + 50 * 1000 * (number + 1),
        "kind": "mesh",
        "verdict": verdict,
        "reason": SAYS[verdict][0],
        "action": SAYS[verdict][1],
        "dropped_by": "kj",
        "dropped_at": f"2026-05-{1 + number // 60 % 28:02d}T{number // 60 % 24:02d}:{number % 60:02d}:00+00:00",
        "judged_at": f"2026-05-{1 + number // 3600:02d}T{number // 60 % 24:02d}:{number % 60:02d}:05+00:00",
        "gate": "bench:1",
        "seconds": 2.5,
        "relations": (
            Relation(kind="differs", other="timer body rev0.stl", says="differs from rev0 by up to 0.8 mm over 12 %"),
        )
        if number % 5 == 3
        else (),
        "json_path": f"verdicts/{number}.json",
        "html_path": f"verdicts/{number}.html",
    }
    return Entry.model_validate(told | changed)


def state(**changed: object) -> GateState:
    """A gate that has just looked."""
    told: dict[str, object] = {
        "folder": "inbox",
        "process": "extrusion-0.4",
        "bed": "bed 220 x 220 x 250 mm",
        "wall": "walls from 0.8 mm",
        "rules": ("no gate.yaml here: process extrusion-0.4, no longest side asked",),
        "last_good_scan": "2026-05-04T13:05:00+00:00",
        "scan_seconds": 0.02,
        "known": 12,
        "gates": ("bench:1", "desk:7"),
        "interval_s": 2.0,
    }
    return GateState.model_validate(told | changed)
