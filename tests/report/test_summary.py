"""The summary a terminal shows."""

from __future__ import annotations

from prep.contract import Finding
from prep.report.summary import finding_line, summary


def test_the_summary_holds_what_the_person_needs(record, model):
    """Verdict first, then parts, items with poles, mass against target, findings with action, and pictures."""
    text = summary(record)
    assert text.splitlines()[0] == "egg <timer> & Co C: WARN"
    assert "1.40 mm at (16.6, 0.0, 1.2) mm, limit 1.20" in text
    lines = text.splitlines()
    assert any(line.split()[:1] == ["M1"] and " N " in line and model.BODY in line for line in lines)
    assert any(line.startswith("mass") and "between" in line for line in lines)
    assert any(line.startswith("target") and line.endswith("met") for line in lines)
    assert "move M1 inward by 0.2 mm" in text.replace("\n    ", " ")
    assert "2 passed" in text
    for picture in record.pictures:
        assert picture.path in text
    assert all(len(line) <= 100 or "mm" in line for line in lines)


def test_a_finding_is_one_line_with_place_number_limit_and_action():
    """All four parts of a finding stand in it."""
    finding = Finding(
        check="wall",
        part="body",
        verdict="fail",
        value=0.42,
        limit=0.8,
        unit="mm",
        at_mm=(12, 40.1, 6),
        says="thinner than the process prints",
        fix="move M3 inward by 0.4 mm",
        made_by="back",
    )
    assert finding_line(finding) == (
        "fail wall, body: thinner than the process prints [(12.0, 40.1, 6.0) mm; 0.42 mm, limit 0.8 mm], from back; "
        "move M3 inward by 0.4 mm"
    )


def test_an_unmet_target_says_so_and_why(record):
    """What is short of the target is not called met, and the reason is in the summary."""
    target = record.model.target.model_copy(update={"mass_g": 60.0, "says": "the walls leave room for 12 g more"})
    text = summary(record.model_copy(update={"model": record.model.model_copy(update={"target": target})}))
    assert "60.00 ± 1 g: NOT met" in text
    assert "the walls leave room for 12 g more" in text


def test_names_cannot_steer_the_terminal(record):
    """Escape codes in a name are not passed on."""
    text = summary(record.model_copy(update={"project": "egg\x1b[2J\r\n\x07"}))
    assert "\x1b" not in text
    assert "\r" not in text
