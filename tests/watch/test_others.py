"""What is known of the other files while several are judged at the same moment."""

from __future__ import annotations

from pathlib import Path

from prep.recipe.gate_rules import Asking
from prep.watch.claims import Claims
from prep.watch.job import Job
from prep.watch.ledger import VerdictLedger
from prep.watch.listing import Seen
from prep.watch.others import Others
from prep.watch.pool import Worker
from prep.watch.settle import Settling
from tests.watch.entries import entry


def test_verdicts_of_all_there_are(tmp_path: Path) -> None:
    """A file with a verdict counts, one that is being compared, and one that another gate has just finished."""
    ledger = VerdictLedger(tmp_path, Claims(tmp_path / "claims"))
    settling = Settling(quiet_s=1.0)
    names = ("own.stl", "known.stl", "compared.stl", "elsewhere.stl", "judged.stl")
    settling.take({name: Seen(name, "file", "1") for name in names}, 0.0, {})
    own, known, compared, elsewhere, _ = (settling.files[name] for name in names)
    jobs = [
        Job(
            tracked=compared,
            seen=compared.seen,
            worker=Worker(1),
            asking=Asking(process="extrusion-0.4", shop=""),
            asked="",
            stamp="1",
            confirming=False,
            draft=entry(2, file="compared.stl", fingerprint="b"),
        )
    ]
    others = Others(settling, ledger, jobs)
    known.know(entry(1, file="known.stl", fingerprint="a"))
    elsewhere.leave(entry(3).sha256, 9.0)
    assert [one.file for one in others.verdicts(own)] == ["known.stl", "compared.stl"]
    assert [one.file for one in others.verdicts(compared)] == ["known.stl"]
    ledger.add(entry(3, file="elsewhere.stl", fingerprint="c"))
    assert [one.file for one in others.verdicts(own)] == ["known.stl", "elsewhere.stl", "compared.stl"]
    del settling.files["compared.stl"]  # it has gone meanwhile: there is nothing left to compare with
    assert [one.file for one in others.verdicts(own)] == ["known.stl", "elsewhere.stl"]
