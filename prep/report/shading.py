"""`shade`: a picture of solids by casting rays: two lights, soft corners, and a line wherever the surface breaks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from prep.geometry.rays import RayScene
from prep.geometry.solid import Array, Indices, Solid
from prep.report.camera import Camera
from prep.report.palette import INK, PAPER, encoded, linear
from prep.report.smoothing import corner_normals

Floats = NDArray[np.float32]
Mask = NDArray[np.bool_]
Paint = Callable[[Indices, Floats], Floats]

TILE = 4
"""Side of the square of pixels that share the sky directions between them."""
SKY_RAYS = 4
"""Sky directions that every second pixel tries itself; a tile together tries `SKY_RAYS` x `TILE`^2 / 2."""
FINE = 3
"""Samples along each side of a pixel where the surface breaks."""
CHUNK = 16384
"""Broken pixels looked at together, which bounds memory."""
FACETED_ABOVE = 400_000
"""Meshes finer than this are drawn with their own facets, which are below a pixel anyway."""
CREASE_COSINE = np.float32(np.cos(np.radians(24.0)))
CREASE_WEIGHT = np.float32(0.5)
LIGHTS = np.array([[-0.48, 0.66, 0.58], [0.80, 0.05, 0.60], [-0.27, 0.36, 0.89], [0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
"""Towards key light, fill light, gloss, eye and zenith, in the picture's axes."""


@dataclass(frozen=True, eq=False)
class Subject:
    """Solids ready for a picture.

    Attributes
    ----------
    scene : RayScene
    paint : function of a row of triangles (n,) and the shares (n, 2) of their second and third corner
        The tint there, (n, 3) linear light.
    normals : (m, 3, 3) float32, or None
        For shading, at the corners of every triangle; None where facets are too fine to be seen.
    """

    scene: RayScene
    paint: Paint
    normals: Floats | None

    @classmethod
    def of(cls, solids: Sequence[Solid], tints: Sequence[Floats]) -> Subject:
        """A subject from solids and, for each, one tint (3,) or one per triangle (m, 3), in linear light."""
        each = [np.broadcast_to(t, (len(s.triangles), 3)) for s, t in zip(solids, tints, strict=True)]
        painted = np.concatenate(each).astype(np.float32)
        return cls.painted(solids, lambda triangle, _: painted[triangle])

    @classmethod
    def painted(cls, solids: Sequence[Solid], paint: Paint) -> Subject:
        """A subject whose tint is a function of the place on its triangles, rows counted over all solids."""
        coarse = sum(len(solid.triangles) for solid in solids) <= FACETED_ABOVE
        normals = np.concatenate([corner_normals(solid) for solid in solids]) if coarse else None
        return cls(RayScene(solids), paint, normals)


@dataclass(frozen=True, eq=False)
class Seen:
    """What a bundle of rays met; rows of missed rays are zero, their depth infinite.

    Attributes
    ----------
    triangle : (n,) int32, -1 where nothing is met
    depth : (n,) float64, mm
    point : (n, 3) float64, mm
    normal : (n, 3) float32, rounded for the eye
    tint : (n, 3) float32, linear light
    """

    triangle: Indices
    depth: Array
    point: Array
    normal: Floats
    tint: Floats

    @property
    def hit(self) -> Mask:
        """Which rays met something, (n,)."""
        return np.asarray(self.triangle >= 0)


def shade(subject: Subject, camera: Camera) -> NDArray[np.uint8]:
    """A picture (height, width, 3) in sRGB bytes, row 0 at the top.

    One ray per pixel first; pixels on an outline, a jump in depth or a crease are then looked at again with `FINE`^2
    rays, which smooths their edges and finds the lines. Corners darken by the share of sky that is blocked.

    Notes
    -----
    The directions are fixed, so the same solids give the same bytes. Cost: a ray and `SKY_RAYS` shadow rays per
    pixel, (`FINE` + 1)^2 per broken pixel.
    """
    light = np.broadcast_to(linear(PAPER), (camera.height, camera.width, 3)).astype(np.float32)
    top, bottom, left, right = _window(subject, camera)
    rows, columns = np.mgrid[top:bottom, left:right]
    shape = rows.shape
    if rows.size == 0:
        return encoded(light)
    seen = _see(subject, camera, columns.ravel() + 0.5, rows.ravel() + 0.5)
    sky = _soft(*_open_sky(subject, seen, rows.ravel(), columns.ravel()), seen, shape, camera.mm_per_pixel)
    inside = light[top:bottom, left:right]
    inside[seen.hit.reshape(shape)] = _lit(camera, seen, sky.ravel())[seen.hit]
    broken = _grown(_breaks(seen, shape, camera.mm_per_pixel).max(axis=0) > 0.0)
    lines = np.zeros(shape, dtype=np.float32)
    spread = _spread(sky, seen.hit.reshape(shape))
    here = np.argwhere(broken)
    for start in range(0, len(here), CHUNK):
        row, column = here[start : start + CHUNK].T
        colour, line = _fine(subject, camera, row + top, column + left, spread[row, column])
        inside[row, column] = colour
        lines[row, column] = line
    drawn = np.clip(_blurred(lines) * (1.5 * FINE), 0.0, 0.88)[..., None]
    light[top:bottom, left:right] = inside * (1.0 - drawn) + linear(INK) * drawn
    return encoded(light)


def _window(subject: Subject, camera: Camera) -> tuple[int, int, int, int]:
    spots = camera.pixels(subject.scene.vertices)
    low = np.floor(spots.min(axis=0)).astype(int) - 2
    high = np.ceil(spots.max(axis=0)).astype(int) + 2
    left, right = np.clip([low[0], high[0]], 0, camera.width)
    top, bottom = np.clip([low[1], high[1]], 0, camera.height)
    return int(top), int(bottom), int(left), int(right)


def _see(subject: Subject, camera: Camera, columns: Array, rows: Array) -> Seen:
    origins = camera.origins(columns, rows)
    way = -camera.out
    hits = subject.scene.cast(origins, np.broadcast_to(way, origins.shape))
    met = np.flatnonzero(hits.triangle >= 0)
    triangle = hits.triangle[met]
    point = np.zeros_like(origins)
    point[met] = origins[met] + hits.distance_mm[met, None] * way
    share = _shares(subject.scene, triangle, point[met])
    normal = np.zeros(origins.shape, dtype=np.float32)
    normal[met] = _rounded(subject, triangle, share)
    tint = np.zeros(origins.shape, dtype=np.float32)
    tint[met] = subject.paint(triangle, share)
    return Seen(hits.triangle, hits.distance_mm, point, normal, tint)


def _shares(scene: RayScene, triangle: Indices, point: Array) -> Floats:
    """Shares of the second and third corner at places on triangles, (n, 2)."""
    corner = (scene.vertices[scene.triangles[triangle]] - point[:, None]).astype(np.float32)
    first, second, third = (np.cross(corner[:, k - 2], corner[:, k - 1]) for k in range(3))
    normal = first + second + third
    square = np.maximum(np.einsum("ij,ij->i", normal, normal), np.float32(1e-30))
    share = np.stack([np.einsum("ij,ij->i", part, normal) / square for part in (second, third)], axis=1)
    return np.asarray(np.clip(share, 0.0, 1.0))


def _rounded(subject: Subject, triangle: Indices, share: Floats) -> Floats:
    """Normals for the eye at places on triangles, (n, 3)."""
    if subject.normals is None:
        return subject.scene.normals[triangle].astype(np.float32)
    corner = subject.normals[triangle]
    second, third = share[:, :1], share[:, 1:]
    mixed = corner[:, 0] * (1.0 - second - third) + corner[:, 1] * second + corner[:, 2] * third
    return np.asarray(mixed / np.maximum(np.linalg.norm(mixed, axis=1, keepdims=True), 1e-6))


def _lit(camera: Camera, seen: Seen, sky: Floats) -> Floats:
    axes = np.stack([camera.right, camera.up, camera.out])
    rig = (LIGHTS @ axes / np.linalg.norm(LIGHTS, axis=1, keepdims=True)).astype(np.float32)
    key, fill, glance, front, up = np.maximum(rig @ seen.normal.T, np.array([[0], [0], [0], [0], [-1]], np.float32))
    dome = 0.72 + 0.28 * up
    for _ in range(5):
        glance *= glance
    amount = (0.38 * dome + 0.16 * front) * sky + 0.56 * key * (0.35 + 0.65 * sky) + 0.18 * fill * (0.25 + 0.75 * sky)
    return np.asarray(seen.tint * amount[:, None] + (0.05 * glance * sky)[:, None], dtype=np.float32)


def _open_sky(subject: Subject, seen: Seen, rows: NDArray[np.int_], columns: NDArray[np.int_]) -> tuple[Floats, Floats]:
    """Share of `SKY_RAYS` directions about the normal that leave the model, (n,), and where it was tried, 1 or 0."""
    sky, tried = np.zeros((2, len(seen.triangle)), dtype=np.float32)
    met = np.flatnonzero(seen.hit & ((rows + columns) % 2 == 0))
    if len(met) == 0:
        return sky, tried
    normal = seen.normal[met]
    flat = subject.scene.normals[seen.triangle[met]].astype(np.float32)
    across, above = _frames(normal)
    start = seen.point[met] + flat * (subject.scene.diagonal_mm * 2e-5)
    slots = TILE * TILE // 2
    slot = (rows[met] % TILE) * (TILE // 2) + columns[met] % TILE // 2
    kind = rows[met] // TILE % 2 * 2 + columns[met] // TILE % 2  # four kinds of tile, each with its own directions
    pattern = _sky_pattern(4 * SKY_RAYS * slots)
    free = np.zeros(len(met), dtype=np.float32)
    for turn in range(SKY_RAYS):
        local = pattern[(turn * slots + slot) * 4 + kind]
        way = across * local[:, :1] + above * local[:, 1:2] + normal * local[:, 2:]
        sunk = np.einsum("ij,ij->i", way, flat)
        way += flat * np.maximum(0.03 - sunk, 0.0)[:, None]
        free += ~subject.scene.blocked(start, way)
    sky[met] = free / SKY_RAYS
    tried[met] = 1.0
    return sky, tried


def _sky_pattern(count: int) -> Floats:
    """Directions over a half sphere, denser where the surface is lit most, (count, 3); turns of the golden angle."""
    turn = np.arange(count)
    mixed = (turn * 37) % count  # 37 and a power of two share no factor: neighbours in a tile look far apart
    height = (mixed + 0.5) / count
    angle = mixed * np.pi * (3.0 - np.sqrt(5.0))
    radius = np.sqrt(height)
    return np.stack([radius * np.cos(angle), radius * np.sin(angle), np.sqrt(1.0 - height)], axis=1).astype(np.float32)


def _frames(normal: Floats) -> tuple[Floats, Floats]:
    """Two unit directions square to each normal.

    References
    ----------
    T. Duff et al., "Building an orthonormal basis, revisited", J. Computer Graphics Techniques 6(1), 2017.
    """
    x, y, z = normal.T
    sign = np.where(z >= 0.0, np.float32(1.0), np.float32(-1.0))
    a = -1.0 / (sign + z)
    b = x * y * a
    across = np.stack([1.0 + sign * x * x * a, sign * b, -sign * x], axis=1)
    above = np.stack([b, sign + y * y * a, -y], axis=1)
    return across, above


def _soft(sky: Floats, tried: Floats, seen: Seen, shape: tuple[int, int], mm_per_pixel: float) -> Floats:
    """The sky averaged over pixels about each on the same surface, (rows, columns); 1 where none was tried."""
    total, weight = sky.reshape(shape), tried.reshape(shape)
    normal = seen.normal.reshape(*shape, 3)
    point = (seen.point - seen.point.mean(axis=0)).astype(np.float32).reshape(*shape, 3)
    # first over a tile, then over its neighbours, both kinds of tile counting the same
    within, across = ((-2, -1, 1), np.float32(1.0)), ((-TILE, TILE), np.float32(0.5))
    for axis, (shifts, say) in ((1, within), (0, within), (1, across), (0, across)):
        sums, counts = total.copy(), weight.copy()
        for shift in shifts:
            near = np.einsum("ijk,ijk->ij", normal, np.roll(normal, shift, axis)) > 0.85
            rise = np.einsum("ijk,ijk->ij", normal, np.roll(point, shift, axis) - point)
            near &= np.abs(rise) < 2.0 * mm_per_pixel
            near = near * say
            sums += np.roll(total, shift, axis) * near
            counts += np.roll(weight, shift, axis) * near
        total, weight = sums, counts
    return np.where(weight > 0.0, total / np.maximum(weight, 1e-6), 1.0).astype(np.float32)


def _breaks(seen: Seen, shape: tuple[int, ...], spacing_mm: float) -> Floats:
    """How strongly the surface breaks towards the next column and the next row, (2, ..., rows, columns)."""
    hit = seen.hit.reshape(shape)
    point = seen.point.reshape(*shape, 3)
    normal = seen.normal.reshape(*shape, 3)
    broken = np.zeros((2, *shape), dtype=np.float32)
    for which, axis in enumerate((-1, -2)):
        here, there = (_cut(len(shape), axis, part) for part in (slice(None, -1), slice(1, None)))
        way = (point[there] - point[here]).astype(np.float32)
        cosine = np.einsum("...i,...i->...", normal[here], normal[there])
        rise = np.minimum(
            np.abs(np.einsum("...i,...i->...", way, normal[here])),
            np.abs(np.einsum("...i,...i->...", way, normal[there])),
        )
        both = hit[here] & hit[there]
        crease = both & (cosine < CREASE_COSINE)
        outline = (hit[here] != hit[there]) | (both & (rise > 1.2 * spacing_mm))
        broken[which][here] = np.maximum(outline, crease * CREASE_WEIGHT)
    return broken


def _cut(dimensions: int, axis: int, part: slice) -> tuple[slice, ...]:
    cut = [slice(None)] * dimensions
    cut[axis] = part
    return tuple(cut)


def _fine(
    subject: Subject, camera: Camera, row: NDArray[np.int_], column: NDArray[np.int_], sky: Floats
) -> tuple[Floats, Floats]:
    """Light (n, 3) and share of line (n,) of pixels, from `FINE`^2 samples of each and one row and column beyond."""
    side = FINE + 1
    step = (np.arange(side) + 0.5) / FINE
    rows = np.broadcast_to(row[:, None, None] + step[None, :, None], (len(row), side, side))
    columns = np.broadcast_to(column[:, None, None] + step[None, None, :], (len(row), side, side))
    seen = _see(subject, camera, columns.ravel(), rows.ravel())
    lit = _lit(camera, seen, np.repeat(sky, side * side))
    lit[~seen.hit] = linear(PAPER)
    colour = lit.reshape(len(row), side, side, 3)[:, :FINE, :FINE].mean(axis=(1, 2))
    breaks = _breaks(seen, (len(row), side, side), camera.mm_per_pixel / FINE)
    line = breaks.max(axis=0)[:, :FINE, :FINE].mean(axis=(1, 2))
    return colour, line


def _grown(mask: Mask) -> Mask:
    padded = np.pad(mask, 1)
    grown = np.zeros_like(mask)
    for down in range(3):
        for along in range(3):
            grown |= padded[down : down + mask.shape[0], along : along + mask.shape[1]]
    return grown


def _spread(sky: Floats, hit: Mask) -> Floats:
    """The sky carried over the outline onto pixels whose middle missed."""
    total = _blurred(np.where(hit, sky, np.float32(0.0)))
    weight = _blurred(hit.astype(np.float32))
    return np.asarray(np.where(hit, sky, total / np.maximum(weight, 1e-3)), dtype=np.float32)


def _blurred(values: Floats) -> Floats:
    padded = np.pad(values, 1)
    across = padded[:, :-2] + 2.0 * padded[:, 1:-1] + padded[:, 2:]
    return np.asarray((across[:-2] + 2.0 * across[1:-1] + across[2:]) / 16.0, dtype=np.float32)
