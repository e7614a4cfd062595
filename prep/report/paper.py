"""`Paper`: a sheet measured in pixels from its top left corner, on which pictures, lines and words are put."""

from __future__ import annotations

import io
from collections.abc import Sequence
from functools import cache
from typing import Any, Literal

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.patches import Circle, PathPatch
from matplotlib.path import Path as Outline
from numpy.typing import NDArray

from prep.geometry.solid import Array
from prep.report.camera import Camera
from prep.report.palette import FAINT, INK, PAPER

DPI = 100.0
STEPS = (1.0, 2.0, 5.0)
FONT = "DejaVu Sans"
TITLE, NOTE, FINE_PRINT = 21.0, 17.0, 15.0
"""Sizes of letters in pixels; pictures are often shown at half their size."""
BROAD = 0.66
"""Width of a bold letter in letter sizes, on the broad side."""
SETTINGS: Any = {
    "svg.hashsalt": "prep",
    "svg.fonttype": "path",
    "hatch.linewidth": 0.55,
    "path.simplify": False,
    "text.usetex": False,
}
"""Drawn with the font that comes with the drawing library, so that the bytes do not depend on the machine."""

Point = tuple[float, float]
Level = Literal["left", "center", "right"]
Height = Literal["top", "center", "bottom", "baseline"]


class Paper:
    """A sheet of `width` x `height` pixels; column and row run from the top left corner.

    Parameters
    ----------
    width, height : int, pixels
    """

    def __init__(self, width: int, height: int) -> None:
        self.width = width
        self.height = height
        self._figure = Figure(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor=PAPER)
        FigureCanvasAgg(self._figure)
        self.axes: Axes = self._figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set_xlim(0.0, width)
        self.axes.set_ylim(height, 0.0)
        self.axes.axis("off")

    def picture(self, pixels: NDArray[np.uint8], left: int, top: int) -> None:
        """Lay a picture (rows, columns, 3) with its corner at a place, pixel on pixel."""
        self._figure.figimage(pixels, left, self.height - top - pixels.shape[0], origin="upper", zorder=-1)

    def words(
        self,
        at: Point,
        text: str,
        *,
        size: float = NOTE,
        tint: str = INK,
        bold: bool = False,
        level: Level = "left",
        height: Height = "baseline",
        turn: float = 0.0,
        halo: bool = False,
    ) -> None:
        """Write words, `size` in pixels; what the font lacks is a box, and no character is read as a formula."""
        backing = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.6, "alpha": 0.9} if halo else None
        self.axes.text(
            at[0],
            at[1],
            printable(text),
            fontfamily=FONT,
            fontsize=size * 72.0 / DPI,
            color=tint,
            fontweight="bold" if bold else "normal",
            ha=level,
            va=height,
            rotation=turn,
            rotation_mode="anchor",
            parse_math=False,
            bbox=backing,
            zorder=20,
        )

    def line(
        self, points: Sequence[Point] | Array, *, tint: str = INK, width: float = 1.2, dashed: bool = False
    ) -> None:
        """Draw a line through places (n, 2)."""
        along = np.asarray(points, dtype=np.float64)
        self.axes.plot(
            along[:, 0],
            along[:, 1],
            color=tint,
            linewidth=width * 72.0 / DPI,
            linestyle=(0, (4, 3)) if dashed else "solid",
            solid_capstyle="butt",
            zorder=12,
        )

    def arrow(self, tail: Point, tip: Point, *, tint: str = INK, width: float = 1.0, both: bool = False) -> None:
        """Draw an arrow with a slim head at its tip, or at both ends."""
        self.axes.annotate(
            "",
            xy=tip,
            xytext=tail,
            arrowprops={
                "arrowstyle": "<|-|>,head_length=0.42,head_width=0.13"
                if both
                else "-|>,head_length=0.5,head_width=0.2",
                "color": tint,
                "linewidth": width * 72.0 / DPI,
                "shrinkA": 0.0,
                "shrinkB": 0.0,
                "mutation_scale": 14.0,
            },
            zorder=15,
        )

    def ring(
        self, at: Point, radius: float, *, edge: str = INK, fill: str = "none", width: float = 1.2, dashed: bool = False
    ) -> None:
        """Draw a circle."""
        self.axes.add_patch(
            Circle(
                at,
                radius,
                facecolor=fill,
                edgecolor=edge,
                linewidth=width * 72.0 / DPI,
                linestyle=(0, (3, 2)) if dashed else "solid",
                zorder=14,
            )
        )

    def area(
        self,
        outlines: Sequence[Array],
        *,
        fill: str,
        edge: str = INK,
        width: float = 1.2,
        hatch: str | None = None,
        level: float = 3.0,
        within: Array | None = None,
    ) -> None:
        """Fill closed outlines (k, 2) as one area; those that run the other way are holes.

        Parameters
        ----------
        within : (k, 2), optional
            Closed outline beyond which nothing is drawn.
        """
        rings = [ring for ring in outlines if len(ring) > 2]
        if not rings:
            return
        corners = np.concatenate([np.vstack([ring, ring[:1]]) for ring in rings])
        codes = np.concatenate([[Outline.MOVETO, *[Outline.LINETO] * (len(r) - 1), Outline.CLOSEPOLY] for r in rings])
        shape = Outline(corners, codes.astype(np.uint8))
        layers = [
            PathPatch(
                shape,
                facecolor="none" if hatch else fill,
                edgecolor=edge,
                linewidth=width * 72.0 / DPI,
                joinstyle="round",
                zorder=level + 0.5,
            )
        ]
        if hatch:
            with mpl.rc_context(SETTINGS):
                lined = PathPatch(shape, facecolor=fill, edgecolor=FAINT, linewidth=0.0, hatch=hatch, zorder=level)
            layers.append(lined)
        for layer in layers:
            self.axes.add_patch(layer)
            if within is not None:
                layer.set_clip_path(Outline(np.vstack([within, within[:1]]), closed=True), self.axes.transData)

    def scale_bar(self, right: float, row: float, mm_per_pixel: float, longest: float) -> None:
        """Draw a bar of a round length, at most `longest` pixels, that ends at a place."""
        length_mm = round_length(longest * mm_per_pixel)
        left = right - length_mm / mm_per_pixel
        middle = (left + right) / 2.0
        self.area([box(left, row - 2.5, middle, row + 2.5)], fill=INK, width=0.9, level=12.0)
        self.area([box(middle, row - 2.5, right, row + 2.5)], fill="white", width=0.9, level=12.0)
        self.words((middle, row - 8.0), f"{length_mm:g} mm", size=FINE_PRINT, level="center")

    def axis_glyph(self, camera: Camera, at: Point, size: float = 30.0) -> None:
        """Draw how the model's axes lie in a picture, letters at their ends."""
        axes = np.stack([camera.right, -camera.up, camera.out], axis=1)
        for letter, direction in zip("xyz", axes, strict=True):
            along = direction[:2] * size
            tip = (at[0] + along[0], at[1] + along[1])
            if float(np.hypot(*along)) < 0.2 * size:
                self.ring(at, 3.4, fill=PAPER if direction[2] > 0.0 else INK, width=1.0)
                self.words((at[0] - 11.0, at[1] + 13.0), letter, size=FINE_PRINT, level="center", height="center")
                continue
            tint = INK if direction[2] > -0.05 else FAINT
            self.line([at, tip], tint=tint, width=1.5)
            reach = 1.0 + 11.0 / float(np.hypot(*along))
            spot = (at[0] + along[0] * reach, at[1] + along[1] * reach)
            self.words(spot, letter, size=FINE_PRINT, tint=tint, level="center", height="center")

    def png(self) -> bytes:
        """The sheet as PNG, without a date or a maker's name in it."""
        return self._saved("png", {"Software": None})

    def svg(self) -> bytes:
        """The sheet as SVG, letters as outlines, without a date in it."""
        return self._saved("svg", {"Date": None, "Creator": None})

    def _saved(self, kind: str, metadata: dict[str, None]) -> bytes:
        buffer = io.BytesIO()
        with mpl.rc_context(SETTINGS):
            self._figure.savefig(buffer, format=kind, dpi=DPI, metadata=metadata, facecolor=PAPER)
        return buffer.getvalue()


def round_length(longest: float) -> float:
    """The largest of 1, 2, 5 times a power of ten that is not above `longest`."""
    power = 10.0 ** np.floor(np.log10(longest))
    return float(max(step * power for step in STEPS if step * power <= longest * (1.0 + 1e-9)))


def printable(text: str) -> str:
    """The text in one line, with a box for every character the font lacks."""
    known = _characters()
    line = " ".join(text.split())
    return "".join(letter if ord(letter) in known else "\N{WHITE SQUARE}" for letter in line)


def shortened(text: str, room: float, size: float = TITLE) -> str:
    """The text, cut off with three dots where `room` pixels may not hold it."""
    line = " ".join(text.split())
    most = max(int(room / (BROAD * size)), 4)
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"


@cache
def _characters() -> frozenset[int]:
    return frozenset(get_font(findfont(FontProperties(family=FONT))).get_charmap())


def box(left: float, top: float, right: float, bottom: float) -> Array:
    """Outline of a rectangle, (4, 2)."""
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def swatch(left: float, top: float, side: float) -> Array:
    """Outline of a small square, (4, 2)."""
    return box(left, top, left + side, top + side)
