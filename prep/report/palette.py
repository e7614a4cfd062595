"""The tints of pictures, drawings and page: paper, ink, two materials, what was changed, two poles."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

PAPER = "#faf8f3"
INK = "#23282e"
FAINT = "#8b8f93"
STONE = "#d9cdb8"
SLATE = "#a9bcc6"
MOSS = "#b9c4a2"
ROSE = "#d8b9ae"
CHANGED = "#c4552f"
NORTH = "#b8412f"
SOUTH = "#2f5f8c"
METAL = "#9aa0a4"
GLOW = "#f0d478"

MATERIALS = (STONE, SLATE, MOSS, ROSE)
"""Tints for the parts of a model, in their order."""


def linear(tint: str) -> NDArray[np.float32]:
    """A tint "#rrggbb" as linear light, (3,), by the sRGB curve (IEC 61966-2-1)."""
    code = np.array([int(tint[k : k + 2], 16) for k in (1, 3, 5)]) / 255.0
    return np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4).astype(np.float32)


def encoded(light: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Linear light as sRGB bytes, same shape."""
    kept = np.clip(light, 0.0, 1.0)
    code = np.where(kept <= 0.0031308, 12.92 * kept, 1.055 * kept ** (1.0 / 2.4) - 0.055)
    return np.asarray(np.round(code * 255.0), dtype=np.uint8)
