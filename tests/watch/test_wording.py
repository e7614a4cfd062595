"""One reason and one action, as a colleague reads them."""

from __future__ import annotations

import pytest

from prep.build.checked import CheckedFile, FaultRecord
from prep.contract import Finding
from prep.errors import WrongUnit
from prep.geometry.longest import check_longest
from prep.recipe.gate_rules import read_rules
from prep.watch.verdicts import report_about
from prep.watch.wording import of_fault, one_reason


def checked(*findings: Finding) -> CheckedFile:
    """A file with these findings."""
    base = report_about("a.stl", "mesh", FaultRecord(code="x", what="x")).files[0]
    part = {
        "input": {
            "path": "a.stl",
            "sha256": "0",
            "unit": "mm",
            "triangles": 12,
            "shells": 1,
            "extents_mm": (1.0, 2.0, 3.0),
            "volume_mm3": 6.0,
        },
        "fingerprint": "s1",
        "verdict": "fail",
        "worst": None,
        "checks": findings,
    }
    return CheckedFile.model_validate(base.model_dump() | {"verdict": "fail", "faults": (), "parts": {"a": part}})


def finding(check: str, verdict: str, **more: object) -> Finding:
    """What a check found."""
    return Finding.model_validate({"check": check, "part": "a", "verdict": verdict, "says": f"says {check}"} | more)


def test_the_worst_speaks() -> None:
    """The heaviest finding is the reason, with place and limit; its remedy is the action."""
    wall = finding(
        "wall", "fail", limit=0.8, unit="mm", at_mm=(1.0, 2.0, 3.0), fix="thicken it, or accept it with a reason"
    )
    reason, action = one_reason(checked(finding("gap", "warn"), wall))
    assert reason == "says wall, at (1.0, 2.0, 3.0) mm, limit 0.8 mm"
    assert action == "thicken it"


def test_a_doubtful_unit_speaks_first() -> None:
    """A unit in doubt makes every other number doubtful, so it is said before a failing wall."""
    reason, action = one_reason(checked(finding("wall", "fail"), finding("unit", "warn", fix="give `--unit inch`")))
    assert reason == "says unit"
    assert action == 'export it again in mm, or add to gate.yaml, under `longest`: - {match: "a.stl", unit: inch}'
    _, action = one_reason(checked(finding("unit", "warn", value=5.0, fix="state its size with `--longest`")))
    assert action.endswith(
        'if that size is right, add to gate.yaml, under `longest`: - {match: "a.stl", longest: 5 mm}'
    )


def test_what_is_to_be_added_to_the_rules_can_be_added(tmp_path) -> None:
    """The line that an action gives is one that gate.yaml takes, whatever the file is called, and fits that file."""
    for name in ("a.stl", 'say "hi" [2].stl', "船 *.stl"):
        file = checked(finding("unit", "warn", fix="give `--unit inch`")).model_copy(update={"path": name})
        line = one_reason(file)[1].partition("under `longest`: ")[2]
        (tmp_path / "gate.yaml").write_text(f"longest:\n  {line}\n", encoding="utf-8")
        expected = read_rules(tmp_path).expected(name)
        assert expected is not None
        assert expected.unit == "inch"


def test_how_many_more() -> None:
    """A part with several faults of the same weight says how many there are, so that it is not sent back four times."""
    three = checked(finding("wall", "fail"), finding("wall", "fail"), finding("web", "fail"), finding("gap", "warn"))
    assert one_reason(three)[0] == "says wall (and 2 more)"


def test_a_warning_without_a_remedy_says_where_to_look() -> None:
    """Nobody is told to look first and not at what."""
    file = checked(finding("solid", "warn")).model_copy(update={"verdict": "warn"})
    assert one_reason(file) == ("says solid", "see what was found on its page")


def test_faults_on_one_line() -> None:
    """Line breaks and control characters go, options become keys of gate.yaml, a recipe's line is named."""
    fault = FaultRecord(
        code="x",
        what="bad\n\x1b[31mred",
        where="some/where/tray.yaml:7, part body",
        found="1\t2",
        fix="give `--longest 3`",
    )
    reason, action = of_fault(fault, "a.stl")
    assert reason == "bad [31mred: 1 2 (tray.yaml:7)"
    assert action == "give `longest 3`"


def test_a_size_that_no_unit_explains() -> None:
    """A part of another size is another part: nobody is sent to change its unit."""
    with pytest.raises(WrongUnit) as inch:
        check_longest((4.0, 1.0, 1.0), 101.6, 1.0, "mm")
    assert of_fault(FaultRecord.of(inch.value), "a.stl")[1].endswith('{match: "a.stl", unit: inch}')
    with pytest.raises(WrongUnit) as other:
        check_longest((70.0, 1.0, 1.0), 92.0, 1.0, "mm")
    assert of_fault(FaultRecord.of(other.value), "a.stl")[1] == "drop the right file, or correct `longest` in gate.yaml"


def test_a_wall_at_the_limit_is_told_as_such() -> None:
    """A wall that passes a hair under its limit, as round walls of facets do, does not read as a mistake."""
    file = checked(finding("wall", "pass", value=0.79, limit=0.8))
    reason, _ = one_reason(file.model_copy(update={"verdict": "pass"}))
    assert reason.endswith("thinnest wall 0.79 mm, as good as the limit of 0.80 mm")
