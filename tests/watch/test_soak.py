"""The soak in little: two gates, killed again and again, while files arrive in every way people copy them."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from benchmarks.soak_watch import soak
from fixtures.dropping import wrongs


@pytest.mark.slow
def test_soak_in_little(tmp_path: Path) -> None:
    """Forty drops and six kills: one verdict for each final content, no byte changed, every file of a verdict whole."""
    inbox = tmp_path / "inbox"
    inbox.mkdir()
    found = soak(inbox, files=40, kills=6, seed=3)
    assert found["wrong"] == []
    assert found["dropped"] == 41
    assert found["said"] == []


def test_soak_would_notice(tmp_path: Path) -> None:
    """What the soak holds a folder to can be missed: each kind of damage is named."""
    (tmp_path / "verdicts" / "claims").mkdir(parents=True)
    (tmp_path / "verdicts" / "claims" / "abc.0").write_bytes(b"")
    (tmp_path / "verdicts" / "part.json").write_text('{"verdict": {"json_path": "verdicts/part.json"}}', "utf-8")
    line = b'{"file": "a.stl", "sha256": "0", "json_path": "x.json", "html_path": "x.html"}\n'
    (tmp_path / "a.stl").write_bytes(b"changed")
    (tmp_path / "b.stl").write_bytes(b"b")
    (tmp_path / "c.stl").write_bytes(b"c")
    called = {"file": "c.stl", "sha256": hashlib.sha256(b"c").hexdigest(), "verdict": "pass"}
    (tmp_path / "verdicts" / "ledger.jsonl").write_bytes(
        line + line + json.dumps(called | {"json_path": "x.json", "html_path": "x.html"}).encode() + b'\n{"fi'
    )
    said = "; ".join(wrongs(tmp_path, {"a.stl": b"dropped", "c.stl": b"c"}, {"c.stl": "fail"}))
    for damage in (
        "a.stl: no verdict",
        "c.stl: called pass, is fail",
        "2 verdicts for one content",
        "not those dropped",
        "b.stl: not dropped by anybody",
        "half written, or missing",
        "part.json: no line",
        "abc.0: a claim",
        "ends in half a line",
    ):
        assert damage in said, damage
