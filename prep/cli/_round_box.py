"""The sample of `prep new`: a round box and its cover, which mate on a flat rim wide enough for magnets."""

from __future__ import annotations

import numpy as np

from prep.geometry.lathe import lathe
from prep.geometry.solid import Solid

OUTER_MM = 30.0
INNER_MM = 19.0
SEAM_MM = 26.0
COVER_MM = 6.0
FLOOR_MM = 3.0


def round_box() -> dict[str, Solid]:
    """Box and cover in the assembly's frame, in mm; the seam is the flat rim at z 26 mm."""
    box = [(OUTER_MM, 0.0), (OUTER_MM, SEAM_MM), (INNER_MM, SEAM_MM), (INNER_MM, FLOOR_MM)]
    cover = [(OUTER_MM, SEAM_MM), (OUTER_MM, SEAM_MM + COVER_MM)]
    return {"box": lathe(np.array(box), np.eye(4)), "cover": lathe(np.array(cover), np.eye(4))}
