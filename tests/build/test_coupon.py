"""The step wedge as files: what is written, and readings from the empty table to a wall for a window."""

from __future__ import annotations

import csv
import json
import math

import numpy as np
import pytest
import trimesh

from prep.build.coupon import STEPS_MM, steps_for, write_step_wedge
from prep.errors import BadValue, CannotWriteFile, FolderTaken
from prep.physics.transmission import transmission_of
from prep.tables import Tables

TABLES = Tables.load()
FDM = TABLES.processes.get("extrusion-0.4")
JET = TABLES.processes.get("jetting-0.027")


def fill(template, shop, share):
    """Put a share into every row of the template and save it as the shop's table."""
    rows = list(csv.DictReader(template.read_text(encoding="utf-8").splitlines()))
    shop.mkdir()
    with (shop / "transmission.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        for row in rows:
            assert row["share"] == ""
            writer.writerow(row | {"share": f"{share(float(row['thickness_mm'])):.5f}"})
    return Tables.load(shop)


def test_from_the_empty_table_to_the_wall(tmp_path):
    """Readings with noise, filled into the template, give the curve within its stated error and the wall for 35 %."""
    wedge = write_step_wedge(tmp_path / "wedge", FDM, "pla")
    draw = np.random.default_rng(2)
    tables = fill(
        wedge.files[-1], tmp_path / "shop", lambda d: 0.8 * math.exp(-0.35 * d) * (1.0 + draw.normal(0.0, 0.005))
    )
    fit = transmission_of(tables, "pla")
    assert fit.verified
    assert fit.readings == len(STEPS_MM)
    assert abs(fit.surface - 0.8) < fit.surface_error
    assert abs(fit.per_mm - 0.35) < fit.per_mm_error
    wanted = math.log(fit.surface / 0.35) / fit.per_mm
    assert fit.thickness_for(0.35) == pytest.approx(wanted, rel=1e-12)
    assert fit.thickness_for(0.35) == pytest.approx(math.log(0.8 / 0.35) / 0.35, rel=0.02)


def test_clean_readings_give_the_wall_within_half_a_percent(tmp_path):
    """Readings good to the template's five decimals give the wall for 35 % within half a percent of the closed form."""
    wedge = write_step_wedge(tmp_path / "wedge", FDM, "glow green", standing=True)
    tables = fill(wedge.files[-1], tmp_path / "shop", lambda d: 0.8 * math.exp(-0.35 * d))
    wall = transmission_of(tables, "Glow Green").thickness_for(0.35)
    assert wall == pytest.approx(math.log(0.8 / 0.35) / 0.35, rel=0.005)


def test_files(tmp_path):
    """The mesh, its codes, the instructions and the empty table are written; the mesh is the wedge of the codes."""
    wedge = write_step_wedge(tmp_path, FDM, "pla black", (0.2, 0.4, 0.8))
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(path.name for path in wedge.files)
    codes = json.loads((tmp_path / "step-wedge.json").read_text(encoding="utf-8"))
    assert [well["code"] for well in codes["wells"]] == ["0", "0.2", "0.4", "0.8"]
    mesh = trimesh.load(tmp_path / "step-wedge.3mf", force="mesh")
    assert mesh.is_watertight
    assert mesh.euler_number == 0
    text = (tmp_path / "how-to.txt").read_text(encoding="utf-8")
    assert text == wedge.how_to
    assert "whole layers of 0.2 mm" in text
    assert max(len(line) for line in text.splitlines()) <= 120


def test_same_bytes_twice(tmp_path):
    """The same wedge is written as the same bytes."""
    first, second = (write_step_wedge(tmp_path / name, JET, "jetted-clear") for name in ("a", "b"))
    assert [path.read_bytes() for path in first.files] == [path.read_bytes() for path in second.files]


@pytest.mark.parametrize(
    ("process", "asked", "standing", "steps"),
    [
        (FDM, (0.5, 1.19, 0.41), False, (0.4, 1.2)),
        (FDM, (0.4, 0.9, 1.4, 1.4), True, (0.45, 0.9, 1.35)),
        (JET, (0.4, 0.8), False, (0.405, 0.81)),
        (JET, (0.8, 0.4), True, (0.4, 0.8)),
        (FDM, (0.05, 0.4), False, (0.2, 0.4)),
    ],
)
def test_steps_are_whole_layers_or_beads(process, asked, standing, steps):
    """Steps lying flat are whole layers, standing whole beads where there are beads, thinnest first and none twice."""
    assert steps_for(process, asked, standing=standing) == pytest.approx(steps)


@pytest.mark.parametrize(
    "asked", [(0.4,), (0.4, 0.41), (0.0, 1.0), (-1.0, 1.0), (1.0, 9.0), tuple(0.2 * k for k in range(1, 15))]
)
def test_steps_that_make_no_wedge_are_refused(asked):
    """One step, steps that round to one, no wall, a block and too many steps are refused with an example."""
    with pytest.raises(BadValue) as caught:
        steps_for(FDM, asked)
    assert "--steps" in caught.value.fix


def test_readings_are_never_written_over(tmp_path):
    """A folder that holds a table, perhaps filled in, is left alone."""
    write_step_wedge(tmp_path, FDM, "pla")
    (tmp_path / "transmission.csv").write_text("mine", encoding="utf-8")
    with pytest.raises(FolderTaken, match="readings already"):
        write_step_wedge(tmp_path, FDM, "pla")
    assert (tmp_path / "transmission.csv").read_text(encoding="utf-8") == "mine"


def test_a_folder_that_cannot_be_written(tmp_path):
    """A system that refuses is told as a fault."""
    (tmp_path / "step-wedge.json").mkdir()
    with pytest.raises(CannotWriteFile):
        write_step_wedge(tmp_path, FDM, "pla")
