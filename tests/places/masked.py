"""Parts with masks made by hand: shells of true offsets, with a window."""

from __future__ import annotations

import manifold3d
import numpy as np

from prep.geometry.cut_skin import Skin, cut_half_spaces
from prep.geometry.patch import Patch
from prep.geometry.solid import Solid
from prep.tables import Tables

GAP = 0.05
WALL = 2.0
LAND = 1.2
PROCESS = Tables.load().processes.get("extrusion-0.4")


def as_solid(body: manifold3d.Manifold) -> Solid:
    """A kernel body as a solid."""
    mesh = body.to_mesh64()
    return Solid.of(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts))


def as_kernel(solid: Solid) -> manifold3d.Manifold:
    """A solid as a kernel body, made from its triangles anew."""
    return manifold3d.Manifold(manifold3d.Mesh64(np.array(solid.vertices), solid.triangles.astype(np.uint64)))


def block(low, high) -> manifold3d.Manifold:
    """A box between two corners."""
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    return manifold3d.Manifold.cube(tuple((high - low).tolist())).translate(tuple(low.tolist()))


def above(z: float) -> manifold3d.Manifold:
    """Half space over a height."""
    return block((-500, -500, z), (500, 500, 500))


def between(part: Solid, *limits: tuple[int, float, float]) -> Patch:
    """The region of a part inside half spaces (axis, at, sense)."""
    cut = cut_half_spaces(Skin.of(part), list(limits))
    return Patch.of(cut.skin, cut.inside)


def ball(keep: manifold3d.Manifold, *limits, radius: float = 20.0, sides: int = 96):
    """A ball, the part of a shell round it inside `keep`, and the region inside the limits."""
    part = manifold3d.Manifold.sphere(radius, sides)
    shell = manifold3d.Manifold.sphere(radius + WALL, sides) - manifold3d.Manifold.sphere(radius + GAP, sides)
    solid = as_solid(part)
    return solid, as_solid(shell ^ keep), between(solid, *limits)


def hemisphere():
    """A ball whose upper half is covered; the window is the zone just under it."""
    return ball(above(0.5), (2, 0.5, -1.0), (2, -5.0, 1.0))


def windowed_ball():
    """A ball covered all round but for a cap on top."""
    return ball(manifold3d.Manifold() + block((-500, -500, -500), (500, 500, 15)), (2, 15.0, 1.0))


def cup():
    """Half a hollow ball, open upward; the mask folds over its rim, the window is both skins below."""
    hollow = manifold3d.Manifold.sphere(20.0, 96) - manifold3d.Manifold.sphere(17.0, 96)
    shell = manifold3d.Manifold.sphere(20.0 + WALL, 96) - manifold3d.Manifold.sphere(17.0 - WALL, 96)
    room = manifold3d.Manifold.sphere(20.0 + GAP, 96) - manifold3d.Manifold.sphere(17.0 - GAP, 96)
    part = as_solid(hollow - above(0.0))
    mask = (shell ^ block((-99, -99, -6), (99, 99, WALL))) - (room - above(GAP))
    return part, as_solid(mask), between(part, (2, -6.0, -1.0), (2, -12.0, 1.0))


def snapped_ring():
    """A tube whose bore narrows at 45 degrees to its mouth, a ring of mask under the slope; the window is below."""

    def disc(low: float, high: float, radius: float, mouth: float | None = None) -> manifold3d.Manifold:
        return manifold3d.Manifold.cylinder(high - low, radius, mouth or radius, 64).translate((0.0, 0.0, low))

    part = as_solid(disc(-15, 1.5, 20) - disc(-16, 0, 15) - disc(0, 1.4, 15, 13.6) - disc(1.4, 2, 13.6))
    mask = as_solid(disc(-2.5, 0.0, 15.0 - GAP) - disc(-9.0, 9.0, 15.0 - GAP - WALL))
    return part, mask, between(part, (2, -2.6, -1.0), (2, -8.0, 1.0))


def banded_cylinder():
    """An upright cylinder with a band left open between two caps."""
    part = manifold3d.Manifold.cylinder(40.0, 12.0, 12.0, 64)
    outer = manifold3d.Manifold.cylinder(44.1, 14.0, 14.0, 64).translate((0, 0, -2.05))
    inner = manifold3d.Manifold.cylinder(40.1, 12.05, 12.05, 64).translate((0, 0, -0.05))
    shell = outer - inner
    solid = as_solid(part)
    lower, upper = shell ^ block((-50, -50, -50), (50, 50, 15)), shell ^ above(25.0)
    return solid, (as_solid(upper), as_solid(lower)), between(solid, (2, 15.0, 1.0), (2, 25.0, -1.0))


def five_faces():
    """A box covered on five faces, with a square window in the top one."""
    part = block((-20, -15, 0), (20, 15, 20))
    shell = block((-22, -17, 0), (22, 17, 22)) - block((-20.05, -15.05, -1), (20.05, 15.05, 20.05))
    solid = as_solid(part)
    mask = shell - block((-8, -6, 10), (8, 6, 30))
    limits = ((0, -8.0, 1.0), (0, 8.0, -1.0), (1, -6.0, 1.0), (1, 6.0, -1.0), (2, 10.0, 1.0))
    return solid, as_solid(mask), between(solid, *limits)


def grooved():
    """A box with a groove along x in its front; the mask reaches into the groove, the window is on its top."""
    part = block((-20, -15, 0), (20, 15, 30)) - block((-30, -20, 10), (30, -9, 20))
    keep = block((-22, -17, 2), (22, 15, 32)) - block((-20.05, -15.05, 0), (20.05, 30, 30.05))
    tongue = block((-20, -15.1, 10.05), (20, -9.05, 19.95))
    mask = (keep + tongue) - block((-10, -8, 25), (10, 8, 40)) - part
    solid = as_solid(part)
    limits = ((0, -10.0, 1.0), (0, 10.0, -1.0), (1, -8.0, 1.0), (1, 8.0, -1.0), (2, 25.0, 1.0))
    return solid, as_solid(mask), between(solid, *limits)


def ring():
    """A torus wholly covered but for a window on top: it comes off by halves."""
    section = manifold3d.CrossSection.circle(6.0, 48).translate((20.0, 0.0))
    part = manifold3d.Manifold.revolve(section, 96)
    outer = manifold3d.Manifold.revolve(manifold3d.CrossSection.circle(8.0, 48).translate((20.0, 0.0)), 96)
    inner = manifold3d.Manifold.revolve(manifold3d.CrossSection.circle(6.05, 48).translate((20.0, 0.0)), 96)
    solid = as_solid(part)
    mask = (outer - inner) - block((14, -4, 3), (26, 4, 20))
    limits = ((0, 14.0, 1.0), (0, 26.0, -1.0), (1, -4.0, 1.0), (1, 4.0, -1.0), (2, 3.0, 1.0))
    return solid, as_solid(mask), between(solid, *limits)


def eyed_slab():
    """A slab with a square ring left open on top: the square in its middle is an island."""
    part = block((-25, -25, 0), (25, 25, 8))
    shell = block((-27, -27, 2), (27, 27, 10)) - block((-25.05, -25.05, 0), (25.05, 25.05, 8.05))
    outer = shell - block((-12, -12, 5), (12, 12, 20))
    island = block((-5, -5, 8.05), (5, 5, 10))
    solid = as_solid(part)
    skin = Skin.of(solid)
    for axis in (0, 1):
        for at in (-12.0, -5.0, 5.0, 12.0):
            skin = cut_half_spaces(skin, [(axis, at, 1.0)]).skin
    middle = np.abs(skin.vertices[skin.triangles].mean(axis=1))
    wide = middle[:, :2].max(axis=1)
    top = (skin.vertices[skin.triangles][:, :, 2] > 7.9).all(axis=1)
    return solid, (as_solid(outer), as_solid(island)), Patch.of(skin, top & (wide < 12.0) & (wide > 5.0))


def sphere_in_socket():
    """A ball more than half sunk in a tight mask of one piece that must not be parted: no way out."""
    return ball(manifold3d.Manifold() + block((-500, -500, -500), (500, 500, 12)), (2, 12.0, 1.0))


def drawn(seed: int):
    """A body of one to three boxes, balls and cylinders, shelled, with a window from one side; deterministic."""
    rng = np.random.default_rng(seed)

    def lump(grow: float) -> manifold3d.Manifold:
        again = np.random.default_rng(seed + 1)
        whole = manifold3d.Manifold()
        for _ in range(int(again.integers(1, 4))):
            kind, size = again.integers(3), again.uniform(8.0, 14.0, 3)
            at = tuple(again.uniform(-6.0, 6.0, 3).tolist())
            if kind == 0:
                one = manifold3d.Manifold.cube(tuple((2.0 * (size + grow)).tolist()), center=True)
            elif kind == 1:
                one = manifold3d.Manifold.sphere(size[0] + grow, 40)
            else:
                one = manifold3d.Manifold.cylinder(
                    2.0 * (size[2] + grow), size[0] + grow, size[0] + grow, 40, center=True
                )
            whole += one.translate(at)
        return whole

    solid = as_solid(lump(0.0))
    axis, sense = int(rng.integers(3)), float(rng.choice([-1.0, 1.0]))
    low, high = solid.bounds_mm[:, axis]
    reach = (high - low) * rng.uniform(0.15, 0.4)
    at = high - reach if sense > 0.0 else low + reach
    window = np.array([[-500.0] * 3, [500.0] * 3])
    window[0 if sense > 0.0 else 1, axis] = at
    shell = lump(WALL) - lump(GAP) - block(*window)
    bodies = shell.decompose()
    return solid, tuple(as_solid(body) for body in bodies), between(solid, (axis, float(at), sense))
