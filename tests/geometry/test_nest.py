"""What each shell is, against a count of rays."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.mutated import box, joined
from prep.geometry.nest import nest


def labelled(*boxes):
    """Surface, shell of every triangle and signed volumes."""
    points, triangles = joined(*boxes)
    shell = np.repeat(np.arange(len(boxes)), 12)
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return points, triangles, shell, np.bincount(shell, np.einsum("ij,ij->i", a, np.cross(b, c)) / 6)


def material(solid_boxes, point):
    """Winding number at a point of boxes given as (low, high, sign)."""
    return sum(sign for low, high, sign in solid_boxes if (low < point).all() and (point < high).all())


@settings(max_examples=120, deadline=None, derandomize=True)
@given(st.integers(0, 2**32 - 1), st.integers(1, 5))
def test_bodies_hold_what_the_rule_says(seed, count):
    """Whatever boxes stand in whatever way, after turning no point winds below nothing around its own body."""
    draw = np.random.default_rng(seed)
    boxes, facts = [], []
    for _ in range(count):  # nested at random, never crossing: each shrinks one before it, or stands apart
        parent = facts[draw.integers(len(facts))] if facts and draw.random() < 0.7 else None
        if parent is None:
            low, high = np.full(3, 100.0 * len(facts)), np.full(3, 100.0 * len(facts) + 90)
        else:
            middle = (parent[0] + parent[1]) / 2 + (parent[1] - parent[0]) * draw.uniform(-0.05, 0.05, 3)
            half = (parent[1] - parent[0]) * draw.uniform(0.3, 0.4)
            low, high = middle - half, middle + half
        inward = bool(draw.random() < 0.5)
        boxes.append(box(low, high, inward=inward))
        facts.append((low, high, -1 if inward else 1))
    found = nest(*labelled(*boxes))
    assert sorted(k for body in found.bodies for k in body) == list(range(count))
    sign = [-f[2] if k in found.turn else f[2] for k, f in enumerate(facts)]
    for body in found.bodies:
        assert sign[body[0]] == 1
        for cavity in body[1:]:
            assert sign[cavity] == -1
            assert (facts[body[0]][0] <= facts[cavity][0]).all()
            assert (facts[cavity][1] <= facts[body[0]][1]).all()
    for low, high, _ in facts:
        point = low + 0.01 * (high - low)
        turned = [(f[0], f[1], s) for f, s in zip(facts, sign, strict=True)]
        assert material(turned, point) >= 0 or any(len(body) > 2 for body in found.bodies)


def test_flat_doubled_and_crowded():
    """A shell without volume is flat, a second copy doubled, bounds that overlap a crowd."""
    flat = (box((9, 9, 9), (10, 10, 10))[0] * [1, 1, 0], box((0, 0, 0), (1, 1, 1))[1])
    apart = nest(*labelled(box((0, 0, 0), (1, 1, 1)), flat, box((3, 0, 0), (4, 1, 1)), box((0, 0, 0), (1, 1, 1))))
    assert apart.flat == (1,)
    assert apart.doubled == (3,)
    assert apart.bodies == ((0,), (2,))
    assert not apart.crowded
    assert nest(*labelled(box((0, 0, 0), (1, 1, 1)), box((0.5, 0, 0), (4, 1, 1)))).crowded


def test_a_large_outer_shell(monkeypatch):
    """With one sample in place of three, a cavity is a cavity all the same."""
    shells = labelled(box((0, 0, 0), (4, 4, 4)), box((1, 1, 1), (2, 2, 2), inward=True))
    assert nest(*shells).bodies == ((0, 1),)
    monkeypatch.setattr("prep.geometry.nest._MANY", 0)
    assert nest(*shells).bodies == ((0, 1),)
    assert nest(*shells).turn == ()
