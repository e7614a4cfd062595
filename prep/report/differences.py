"""`differences`: two reports side by side, as rows of what changed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import dist

from prep.build.record import Record
from prep.contract import Finding, Item
from prep.units import show_g, show_mm, show_mm3, show_n, show_point

MOVED_MM = 0.005
WEIGHED_G = 0.005
SIZED_SHARE = 1e-6


@dataclass(frozen=True)
class Change:
    """One thing that differs between two reports.

    Attributes
    ----------
    about : "verdict", "mass", "part", "item", "check", "step" or "process"
    what : which one
    was, now : in words; empty where it was not there
    """

    about: str
    what: str
    was: str
    now: str


def differences(old: Record, new: Record) -> tuple[Change, ...]:
    """What moved, what changed weight, and which verdicts changed, worst news first within each kind."""
    return (
        *_plain("verdict", "model", old.verdict, new.verdict),
        *_model(old, new),
        *_parts(old, new),
        *_items(old, new),
        *_steps(old, new),
        *_checks(old, new),
    )


def differences_text(old: Record, new: Record) -> str:
    """The same as plain lines for a terminal."""
    changes = differences(old, new)
    head = f"{old.project} {old.revision} -> {new.project} {new.revision}"
    if not changes:
        return f"{head}: nothing changed"
    lines = [head]
    about = ""
    for change in changes:
        if change.about != about:
            about = change.about
            lines.append(f"\n{about}")
        lines.append(f"  {change.what}: {change.was or 'not there'} -> {change.now or 'gone'}")
    return "\n".join(lines)


def _plain(about: str, what: str, was: str, now: str) -> Iterable[Change]:
    if was != now:
        yield Change(about, what, was, now)


def _model(old: Record, new: Record) -> Iterable[Change]:
    if abs(old.model.mass_g - new.model.mass_g) > WEIGHED_G:
        yield Change("mass", "model", show_g(old.model.mass_g), show_g(new.model.mass_g))
    if dist(old.model.centre_mm, new.model.centre_mm) > MOVED_MM:
        yield Change("mass", "balance point", show_point(old.model.centre_mm), show_point(new.model.centre_mm))
    yield from _plain("process", "row", str(old.process.get("name", "")), str(new.process.get("name", "")))


def _parts(old: Record, new: Record) -> Iterable[Change]:
    for name in dict.fromkeys([*old.parts, *new.parts]):
        was, now = old.parts.get(name), new.parts.get(name)
        if was is None or now is None:
            yield Change("part", name, "there" if was else "", "there" if now else "")
            continue
        if was.input.sha256 != now.input.sha256:
            yield Change("part", f"{name}, file read", was.input.sha256[:12], now.input.sha256[:12])
        if max(abs(a - b) for a, b in zip(was.output.extents_mm, now.output.extents_mm, strict=True)) > MOVED_MM:
            yield Change("part", f"{name}, size", _size(was.output.extents_mm), _size(now.output.extents_mm))
        if abs(was.output.volume_mm3 - now.output.volume_mm3) > SIZED_SHARE * max(was.output.volume_mm3, 1.0):
            volumes = show_mm3(was.output.volume_mm3), show_mm3(now.output.volume_mm3)
            yield Change("part", f"{name}, volume", *volumes)
        if abs(was.output.mass_g - now.output.mass_g) > WEIGHED_G:
            yield Change("part", f"{name}, mass", show_g(was.output.mass_g), show_g(now.output.mass_g))
        if was.wall and now.wall and abs(was.wall.thinnest_mm - now.wall.thinnest_mm) > MOVED_MM:
            walls = show_mm(was.wall.thinnest_mm), show_mm(now.wall.thinnest_mm)
            yield Change("part", f"{name}, thinnest wall", *walls)


def _items(old: Record, new: Record) -> Iterable[Change]:
    was = {item.id: item for item in old.items}
    now = {item.id: item for item in new.items}
    for word in dict.fromkeys([*was, *now]):
        before, after = was.get(word), now.get(word)
        if before is None or after is None:
            yield Change("item", word, _held(before) if before else "", _held(after) if after else "")
            continue
        if before.item != after.item or abs(before.mass_g - after.mass_g) > WEIGHED_G:
            yield Change("item", word, _held(before), _held(after))
        if dist(before.at_mm, after.at_mm) > MOVED_MM:
            moved = f"{show_point(after.at_mm)}, moved {show_mm(dist(before.at_mm, after.at_mm))}"
            yield Change("item", f"{word}, place", show_point(before.at_mm), moved)
        if before.pole_out != after.pole_out:
            yield Change("item", f"{word}, pole out", before.pole_out or "none", after.pole_out or "none")


def _steps(old: Record, new: Record) -> Iterable[Change]:
    was = {step.name: step for step in old.steps}
    now = {step.name: step for step in new.steps}
    for name in dict.fromkeys([*was, *now]):
        before, after = was.get(name), now.get(name)
        if before is None or after is None:
            yield Change("step", name, before.step if before else "", after.step if after else "")
            continue
        pulls, pulled = (record.facts.get("pull_counted_on_n") for record in (before, after))
        if isinstance(pulls, float) and isinstance(pulled, float) and abs(pulls - pulled) > 0.005:
            yield Change("step", f"{name}, pull", show_n(pulls), show_n(pulled))


def _checks(old: Record, new: Record) -> Iterable[Change]:
    was, now = _by_check(old.checks), _by_check(new.checks)
    for key in dict.fromkeys([*was, *now]):
        before, after = was.get(key), now.get(key)
        says = [f"{one.verdict}, {one.says}" if one else "" for one in (before, after)]
        if (before and before.verdict) != (after and after.verdict):
            yield Change("check", " ".join(word for word in key if word), *says)


def _by_check(findings: tuple[Finding, ...]) -> dict[tuple[str, str], Finding]:
    """The worst finding of every check on every part."""
    order = ("pass", "warn", "fail")
    kept: dict[tuple[str, str], Finding] = {}
    for finding in findings:
        key = (finding.check, finding.part or "")
        if key not in kept or order.index(finding.verdict) > order.index(kept[key].verdict):
            kept[key] = finding
    return kept


def _held(item: Item) -> str:
    return f"{item.item}, {show_g(item.mass_g)} in {item.part}"


def _size(extents: tuple[float, float, float]) -> str:
    return " x ".join(f"{value:.2f}" for value in extents) + " mm"
