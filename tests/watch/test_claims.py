"""Claims: one owner at a time, dead owners replaced, nobody's claim taken away by mistake."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from prep.watch.claims import Claims, gate_name, started, this_machine

ELSEWHERE = {"machine": "another/0123", "pid": 1, "started": "1", "gate": "another:1"}


def plant(claims: Claims, name: str, turn: int, owner: dict[str, object], age_s: float = 0.0) -> Path:
    """A lock file as another gate would leave it, so many seconds old."""
    claims.folder.mkdir(exist_ok=True)
    path = claims.path(name, turn)
    path.write_text(json.dumps(owner), encoding="utf-8")
    then = path.stat().st_mtime - age_s
    os.utime(path, (then, then))
    return path


def dead_pid() -> int:
    """The number of a process that has ended."""
    done = subprocess.Popen([sys.executable, "-c", ""])
    done.wait()
    return done.pid


def test_one_owner(tmp_path: Path) -> None:
    """What is claimed cannot be claimed again, by this process or another, until it is released."""
    one, other = Claims(tmp_path / "claims"), Claims(tmp_path / "claims")
    claim = one.take("abc")
    assert claim is not None
    assert claim.still_held()
    assert one.take("abc") is None
    assert other.take("abc") is None
    assert other.take("abd") is not None
    claim.release()
    assert other.take("abc") is not None


def test_many_at_once_one_winner(tmp_path: Path) -> None:
    """Of many that want a claim at the same moment, one at a time gets it, whoever was dead before."""
    inside: list[int] = []
    most: list[int] = []
    done: list[int] = []

    def want(number: int) -> None:
        claims = Claims(tmp_path / "claims", owner=Claims(tmp_path).owner | {"gate": str(number)})
        for _ in range(400):
            claim = claims.take("abc")
            if claim is not None:
                inside.append(number)
                most.append(len(inside))
                done.append(number)
                inside.remove(number)
                claim.release()

    plant(Claims(tmp_path / "claims"), "abc", 0, Claims(tmp_path).owner | {"pid": dead_pid(), "started": "1"})
    threads = [threading.Thread(target=want, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(most) == 1
    assert len(done) > 20
    assert not list((tmp_path / "claims").glob("abc.*"))


def test_dead_owner_of_this_machine_is_replaced_at_once(tmp_path: Path) -> None:
    """A claim of a process that has ended, or whose number another process now has, is free without waiting."""
    claims = Claims(tmp_path / "claims")
    plant(claims, "dead", 0, claims.owner | {"pid": dead_pid()})
    plant(claims, "reused", 0, claims.owner | {"started": "1"})
    for name in ("dead", "reused"):
        claim = claims.take(name)
        assert claim is not None
        assert claim.turn == 1
        claim.release()
        assert claims.turns(name) == []


def test_lease_of_another_machine(tmp_path: Path) -> None:
    """A claim of another machine holds as long as its lease by the share's clock, and is free after."""
    claims = Claims(tmp_path / "claims", lease_s=60.0)
    plant(claims, "young", 0, ELSEWHERE, age_s=50.0)
    plant(claims, "old", 0, ELSEWHERE, age_s=70.0)
    assert claims.take("young") is None
    assert claims.take("old") is not None


def test_lock_from_the_future_is_not_kept_for_ever(tmp_path: Path) -> None:
    """A lock file dated an hour from now, as before a clock was set right, is free; one of seconds from now is not."""
    claims = Claims(tmp_path)
    plant(claims, "soon", 0, ELSEWHERE, age_s=-50.0)
    plant(claims, "far", 0, ELSEWHERE, age_s=-3600.0)
    assert claims.take("soon") is None
    assert claims.take("far") is not None


@pytest.mark.parametrize("ahead_s", [-3600.0, 3600.0])
def test_lease_by_the_clock_of_the_share(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ahead_s: float) -> None:
    """A lease is counted by the share's clock alone, whether that of this machine is ahead of it or behind."""
    claims = Claims(tmp_path / "claims", lease_s=60.0)
    plant(claims, "young", 0, ELSEWHERE, age_s=50.0)
    plant(claims, "old", 0, ELSEWHERE, age_s=70.0)
    real, real_ns = time.time, time.time_ns
    monkeypatch.setattr("prep.watch.claims.time.time", lambda: real() + ahead_s)
    monkeypatch.setattr("prep.watch.claims.time.time_ns", lambda: real_ns() + int(ahead_s * 1e9))
    assert claims.take("young") is None
    assert claims.take("old") is not None


@pytest.mark.parametrize("ahead_s", [-3600.0, 3600.0])
def test_lease_on_a_share_whose_clock_is_wrong(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ahead_s: float) -> None:
    """Where the share gives its files times of another hour, a lease lasts as long as anywhere."""
    real = Claims.share_now
    monkeypatch.setattr(Claims, "share_now", lambda claims: real(claims) + ahead_s)
    claims = Claims(tmp_path / "claims", lease_s=60.0)
    plant(claims, "young", 0, ELSEWHERE, age_s=50.0 - ahead_s)
    plant(claims, "old", 0, ELSEWHERE, age_s=70.0 - ahead_s)
    assert claims.take("young") is None
    assert claims.take("old") is not None


def test_half_written_claim_is_free_after_its_lease(tmp_path: Path) -> None:
    """A lock file whose owner died before it wrote its name counts by its age."""
    claims = Claims(tmp_path / "claims", lease_s=60.0)
    plant(claims, "empty", 0, {}, age_s=10.0)
    plant(claims, "gone", 0, {}, age_s=70.0)
    assert claims.take("empty") is None
    assert claims.take("gone") is not None


def test_renewing_keeps_it(tmp_path: Path) -> None:
    """A renewed claim is young again; an owner that lost its claim renews nothing of the new owner's."""
    slow, quick = Claims(tmp_path / "claims", owner=dict(ELSEWHERE)), Claims(tmp_path / "claims", lease_s=60.0)
    claim = slow.take("abc")
    assert claim is not None
    then = claim.path.stat().st_mtime - 100.0
    os.utime(claim.path, (then, then))
    claim.renew()
    assert quick.take("abc") is None
    os.utime(claim.path, (then, then))
    taken = quick.take("abc")
    assert taken is not None
    assert not claim.still_held()
    before = taken.path.read_bytes()
    claim.renew()
    claim.release()
    assert taken.path.read_bytes() == before
    assert taken.still_held()


def test_renewing_leaves_a_lock_of_another_as_it_is(tmp_path: Path) -> None:
    """An owner whose lock file was taken away, and made again by another, neither writes to that nor makes it young."""
    slow, quick = Claims(tmp_path / "claims"), Claims(tmp_path / "claims")
    claim = slow.take("abc")
    assert claim is not None
    claim.path.unlink()
    claim.renew()
    taken = quick.take("abc")
    assert taken is not None
    assert (taken.path, len(taken.text)) == (claim.path, len(claim.text))
    os.utime(taken.path, (1_500_000_000, 1_500_000_000))
    claim.renew()
    assert taken.path.read_bytes() == taken.text
    assert taken.path.stat().st_mtime == 1_500_000_000
    taken.renew()
    assert taken.path.stat().st_mtime > 1_500_000_000


def test_stale_claim_replaced_meanwhile_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever finds a claim stale, and is overtaken by one who replaces it, backs off."""
    claims = Claims(tmp_path / "claims")
    path = plant(claims, "abc", 0, claims.owner | {"pid": dead_pid()})
    real = Claims._is_free

    def overtaken(self: Claims, lock: Path, text: bytes) -> bool:
        free = real(self, lock, text)
        path.unlink()
        assert Claims(tmp_path / "claims", owner=dict(ELSEWHERE))._make("abc", 0) is not None
        return free

    monkeypatch.setattr(Claims, "_is_free", overtaken)
    assert claims.take("abc") is None
    assert claims.turns("abc") == [0]
    assert json.loads(path.read_bytes())["gate"] == "another:1"


def test_leftover_of_a_higher_turn_counts(tmp_path: Path) -> None:
    """A claim made below a turn that a killed gate has left is given back, and the next turn is taken instead."""
    claims = Claims(tmp_path / "claims")
    plant(claims, "abc", 3, claims.owner | {"pid": dead_pid()})
    claim = claims.take("abc")
    claim = claim or claims.take("abc")
    assert claim is not None
    assert claim.turn == 4
    claim.release()
    assert claims.turns("abc") == []


def test_lock_that_the_share_keeps(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A lock file that cannot be taken away just now blocks nobody of this process, and goes with the next claim."""
    one, other = Claims(tmp_path / "claims"), Claims(tmp_path / "claims")
    for claims, turn in ((one, 0), (other, 1)):
        claim = one.take("abc")
        assert claim is not None
        monkeypatch.setattr(Path, "unlink", lambda *_, **__: (_ for _ in ()).throw(OSError(errno.EIO, "refused")))
        claim.release()
        monkeypatch.undo()
        assert one.turns("abc") == [0]
        again = claims.take("abc")
        assert again is not None
        assert again.turn == turn
        again.release()
        assert one.turns("abc") == []


def test_lock_of_which_half_fits_is_none(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a disk that takes but half of a lock file nothing is claimed, and nothing is left."""
    real = os.write
    monkeypatch.setattr("prep.watch.claims.os.write", lambda handle, data: real(handle, data[: len(data) // 2]))
    with pytest.raises(OSError, match="No space left"):
        Claims(tmp_path / "claims").take("abc")
    assert list((tmp_path / "claims").iterdir()) == []


def test_folder_that_cannot_be_listed_is_not_an_empty_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the claims cannot be listed a claim fails aloud and leaves no lock behind."""
    (tmp_path / "claims").mkdir()
    monkeypatch.setattr("prep.watch.claims.os.scandir", lambda _: (_ for _ in ()).throw(OSError(errno.ESTALE, "old")))
    with pytest.raises(OSError, match="old"):
        Claims(tmp_path / "claims").take("abc")
    assert list((tmp_path / "claims").iterdir()) == []


def test_sweep_takes_away_what_the_dead_left(tmp_path: Path) -> None:
    """Claims of the dead go, whether or not anybody wants them; those of the living stay."""
    claims = Claims(tmp_path / "claims")
    held = claims.take("held")
    plant(claims, "dead", 0, claims.owner | {"pid": dead_pid()})
    plant(claims, "far", 2, ELSEWHERE, age_s=10.0)
    plant(claims, "gone", 0, ELSEWHERE, age_s=100.0)
    Claims(tmp_path / "claims").sweep()
    assert held is not None
    assert {path.name for path in claims.folder.iterdir() if not path.name.startswith(".")} == {"held.0", "far.2"}


def test_who_we_are() -> None:
    """The process that runs is alive and has a name; one that has ended is not."""
    assert gate_name().endswith(f":{os.getpid()}")
    assert "/" in this_machine()
    assert started(os.getpid()) == started(os.getpid())
    assert started(os.getpid()) is not None
    assert started(dead_pid()) is None
