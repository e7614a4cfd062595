"""The whole report on disk."""

from __future__ import annotations

import json

from prep.build.record import Record
from prep.report.write import write_report


def test_the_record_on_disk_names_every_picture(written, record):
    """report.json is the record with its pictures, and each picture and drawing it names is there."""
    text = (written / "report.json").read_text(encoding="utf-8")
    assert text == record.to_json()
    assert Record.from_json(text).pictures == record.pictures
    for picture in json.loads(text)["pictures"]:
        assert (written / picture["path"]).read_bytes()[:4] == b"\x89PNG"
        assert picture["drawing"] is None or (written / picture["drawing"]).read_text().startswith("<?xml")


def test_the_same_build_writes_the_same_bytes(built, written, tmp_path):
    """Every file of the report is the same a second time; progress ends at the whole, and all files are listed."""
    told: list[tuple[str, float]] = []
    files = write_report(built, tmp_path, lambda phase, share: told.append((phase, share)))
    found = sorted(path.relative_to(tmp_path) for path in tmp_path.rglob("*") if path.is_file())
    assert found == sorted(path.relative_to(tmp_path) for path in files)
    assert found == sorted(path.relative_to(written) for path in written.rglob("*") if path.is_file())
    for path in found:
        assert (tmp_path / path).read_bytes() == (written / path).read_bytes(), path
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
