"""The gate on mounted file systems that behave like a network share at its worst, and on a disk that is really full."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from pathlib import Path

import pytest

from benchmarks.soak_watch import soak
from fixtures.bad_share import WORST, Manners, mounted, why_not
from fixtures.dropping import Dropper, missing, wrongs
from prep.watch.claims import Claims
from prep.watch.ledger import VerdictLedger
from prep.watch.rules import Rules
from prep.watch.tasks import Hash, Judge
from prep.watch.worker import _Bench, answer
from tests.watch.entries import entry
from tests.watch.here import BOX, Turns, put

on_a_share = pytest.mark.skipif(bool(why_not()), reason=why_not() or "a share can be mounted")
Share = Callable[..., Path]


@pytest.fixture
def share(tmp_path: Path) -> Iterator[Share]:
    """A function that mounts the folder `behind`, each time at a place of its own, with the manners asked for."""
    (tmp_path / "behind").mkdir()
    with contextlib.ExitStack() as mounts:
        numbers = iter(range(9))

        def mount(**manners: object) -> Path:
            place = tmp_path / f"mount-{next(numbers)}"
            return mounts.enter_context(mounted(tmp_path / "behind", place, Manners(**manners)))

        yield mount
    assert str(tmp_path) not in Path("/proc/mounts").read_text("utf-8")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of one megabyte."""
    place = tmp_path / "disk"
    place.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", str(place)]
    if shutil.which("mount") is None or subprocess.run(command, capture_output=True, check=False).returncode:
        pytest.skip("no tmpfs may be mounted here")
    yield place
    subprocess.run(["umount", "-l", str(place)], check=True)


def names(folder: Path) -> list[str]:
    """Names in a folder, in the order in which it gives them."""
    return [path.name for path in folder.iterdir()]


def watch(turns: Turns, seconds: float, until: Callable[[], bool]) -> None:
    """Let a gate work by the clock on the wall, until something is so."""
    end = time.monotonic() + seconds
    while not until() and time.monotonic() < end:
        turns.now = time.monotonic()
        turns.gate.scan(turns.now)
        turns.gate.turn(turns.now)
        while turns.gate.judging.jobs:
            turns.gate.turn(time.monotonic())
        time.sleep(0.2)


@on_a_share
def test_share_is_late(share: Share, tmp_path: Path) -> None:
    """What comes or changes behind a late mount is not told at first, what the mount does itself is told at once."""
    late, behind = share(late_s=1.0), tmp_path / "behind"
    old = put(behind / "old.stl", b"12345")
    assert ((late / "old.stl").stat().st_size, (late / "new.stl").exists()) == (5, False)
    assert sorted(names(late)) == ["old.stl"]
    old.write_bytes(b"1234567890")
    put(behind / "new.stl", b"1")
    assert ((late / "old.stl").stat().st_size, (late / "new.stl").exists()) == (5, False)
    assert sorted(names(late)) == ["old.stl"]
    assert (late / "old.stl").read_bytes() == b"1234567890"
    put(late / "own.stl", b"123")
    assert (late / "own.stl").stat().st_size == 3
    time.sleep(1.1)
    assert sorted(names(late)) == ["new.stl", "old.stl", "own.stl"]


@on_a_share
def test_share_is_honest_where_it_must_be(share: Share) -> None:
    """Of two mounts one alone makes a name, whatever each believes; a rename and a removal hold for both."""
    one, other = share(late_s=30.0), share(late_s=30.0)
    assert not (one / "lock").exists()
    os.close(os.open(other / "lock", os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    assert not (one / "lock").exists()
    with pytest.raises(FileExistsError):
        os.open(one / "lock", os.O_CREAT | os.O_EXCL | os.O_WRONLY)
    (other / "lock").replace(other / "moved")
    os.close(os.open(one / "lock", os.O_CREAT | os.O_EXCL | os.O_WRONLY))
    (one / "moved").unlink()
    with pytest.raises(FileNotFoundError):
        (other / "moved").read_bytes()


@on_a_share
def test_share_hides_turns_round_and_fails(share: Share, tmp_path: Path) -> None:
    """Listings come in many orders, some leave out most; reads fail with what shares say; times are coarse."""
    for number in range(40):
        put(tmp_path / "behind" / f"{number}.stl", b"1" * 100)
    place = share(shuffled=True, hide_most=0.3, coarse_s=2.0)
    looks = [tuple(names(place)) for _ in range(40)]
    assert len(set(looks)) > 20
    assert min(map(len, looks)) < 20 < max(map(len, looks)) == 40
    assert (place / "1.stl").stat().st_mtime_ns % 2_000_000_000 == 0
    failing, said = share(errors=0.5), set()
    for _ in range(60):
        try:
            names(failing)
        except OSError as error:
            said.add(error.errno)
    assert said == {errno.EIO, errno.ESTALE, errno.EAGAIN}


@on_a_share
def test_line_that_another_machine_added_is_seen(share: Share) -> None:
    """A ledger whose length a mount tells late, or whose very name it does not know yet, gets no line twice."""
    ledgers = []
    for _ in range(2):
        verdicts = share(late_s=30.0) / "verdicts"
        verdicts.mkdir(exist_ok=True)
        ledgers.append(VerdictLedger(verdicts, Claims(verdicts / "claims")))
    one, other = ledgers
    assert other.refresh() == ()
    assert [one.add(entry(1)), other.add(entry(1))] == [True, False]
    assert [other.add(entry(2)), one.add(entry(2)), other.add(entry(3))] == [True, False, True]
    assert one.refresh() == (entry(3),)
    assert len(one.path.read_bytes().splitlines()) == 3


@on_a_share
@pytest.mark.parametrize(("name", "recipe"), [("part.stl", False), ("part.yaml", True)])
def test_reading_that_breaks_off_waits(share: Share, tmp_path: Path, name: str, recipe: bool) -> None:
    """Where a read fails a file has no content yet: it waits, and never has that of its first half, or none."""
    place = share(errors=0.3)
    put(tmp_path / "behind" / "part.stl", BOX)
    put(tmp_path / "behind" / "part.yaml", b"recipe: 1\nparts:\n  a: {mesh: part.stl}\n")
    behind = Hash(tmp_path / "behind" / name, tmp_path / "behind", recipe=recipe, most=1_000_000)
    whole = answer(behind, _Bench()).sha256
    task = Hash(place / name, place, recipe=recipe, most=1_000_000)
    found = [answer(task, _Bench()) for _ in range(60)]
    assert {one.sha256 or one.waits for one in found} == {whole, True}


@on_a_share
def test_reading_that_breaks_off_refuses_nothing(share: Share, tmp_path: Path) -> None:
    """Where a read fails while a sound mesh is judged there is no verdict: it is read again, not refused."""
    place = share(errors=0.3)
    put(tmp_path / "behind" / "part.stl", BOX)
    task = Judge(place / "part.stl", sha256(BOX).hexdigest(), Rules().asking("part.stl", tmp_path), tmp_path / "p.png")
    found = [answer(task, _Bench()) for _ in range(80)]
    assert {one.report and one.report.verdict for one in found} == {None, "pass"}


def until_open(place: Path) -> Turns:
    """A gate on a share that may refuse at the start, begun again as whatever keeps a gate running would."""
    for _ in range(50):
        with contextlib.suppress(Exception):
            return Turns(place, quiet_s=0.5)
    return Turns(place)


@on_a_share
@pytest.mark.slow
@pytest.mark.usefixtures("here")
def test_one_gate_on_the_worst_share(share: Share, tmp_path: Path) -> None:
    """Files dropped behind the mount in every way get one verdict each for what they hold in the end."""
    behind = tmp_path / "behind"
    put(behind / "gate.yaml", b"stuck: 5 s\n")
    dropper = Dropper(behind, seed=4, pause_s=0.05)
    dropping = threading.Thread(target=dropper.drop, args=(20,))
    turns = until_open(share(**vars(WORST)))
    dropping.start()
    watch(turns, 60.0, lambda: not dropping.is_alive() and not missing(behind, dropper.final))
    dropping.join()
    assert wrongs(behind, dropper.final) == []
    assert turns.gate.judging.traces == []


@on_a_share
@pytest.mark.slow
def test_two_machines_on_the_worst_share(tmp_path: Path) -> None:
    """Two gates, each on its own mount, killed now and then: one line for each content, nothing altered or left."""
    (tmp_path / "inbox").mkdir()
    found = soak(tmp_path / "inbox", files=20, kills=3, seed=3, share=WORST)
    assert found["wrong"] == []
    assert int(found["dropped"]) >= 20
    assert "Traceback" not in (tmp_path / "inbox.stderr").read_text("utf-8")


@on_a_share
@pytest.mark.usefixtures("here")
def test_share_that_is_full_for_a_while(share: Share, tmp_path: Path) -> None:
    """While a share takes but half of what is written nothing half-written shows; with room the verdict comes."""
    switch, behind = tmp_path / "full", tmp_path / "behind"
    place = share(full_while=str(switch))
    put(behind / "part.stl", BOX)
    turns = Turns(place)
    switch.touch()
    turns.go(8.0)
    assert "No space left" in turns.faults
    assert turns.lines == []
    assert whole_files(behind) == []
    switch.unlink()
    turns.go(14.0)
    assert turns.faults == ""
    assert wrongs(behind, {"part.stl": BOX}) == []


@pytest.mark.usefixtures("here")
def test_disk_that_is_really_full(small_disk: Path) -> None:
    """On a full disk the gate lives, says so and leaves nothing half-written; with room the verdict comes."""
    put(small_disk / "part.stl", BOX)
    turns = Turns(small_disk)
    filler = small_disk / "filler"
    with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
        while True:
            file.write(bytes(4096))
    turns.go(8.0)
    assert "No space left" in turns.faults
    assert turns.lines == []
    assert whole_files(small_disk) == []
    filler.unlink()
    turns.go(14.0)
    assert turns.faults == ""
    assert wrongs(small_disk, {"part.stl": BOX}) == []


def whole_files(folder: Path) -> list[str]:
    """What stands in the place of verdicts, and of claims."""
    verdicts = folder / "verdicts"
    found = [*verdicts.glob("[!.]*.*"), *verdicts.glob("claims/[!.]*"), *verdicts.glob(".partial/*")]
    return [path.name for path in found if path.name != "ledger.jsonl" or path.stat().st_size]
