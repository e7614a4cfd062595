"""`write_thumbnail`: a small picture of a mesh, or of the parts of a model, for the board."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from prep.geometry.solid import Solid
from prep.report.camera import Camera
from prep.report.palette import STONE, linear
from prep.report.paper import Paper
from prep.report.pictures import CORNER
from prep.report.shading import Subject, shade
from prep.report.whole import write_whole

WIDTH, HEIGHT = 320, 240


def write_thumbnail(path: Path, *solids: Solid) -> Path:
    """Write a shaded view of solids from a corner, 320 by 240 pixels; the same solids give the same bytes."""
    camera = Camera.fitted(solids, np.array(CORNER), width=WIDTH, height=HEIGHT, margin=0.06)
    paper = Paper(WIDTH, HEIGHT)
    paper.picture(shade(Subject.of(solids, [linear(STONE)] * len(solids)), camera), 0, 0)
    return write_whole(path, paper.png())
