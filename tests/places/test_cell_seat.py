"""`cell_seat`: seats measured against the sizes of IEC 60086-2, and cells that come out again or are refused."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from fixtures.drawn import box
from fixtures.gauges import distances, first_hits, gauge_bore, new_faces, spots_on
from prep.errors import CellTrapped, DoesNotFit
from prep.geometry.solid import Solid, Topology, subtract, unite
from prep.geometry.wire_channel import channel
from prep.geometry.wire_route import WireEnd, route_wire
from prep.places.cell_seat import COIN_CONTACT_MM, PLATE_MM, SPRING_MM, CellSeat, cell_seat
from prep.places.place import Place
from prep.tables import Tables
from tests.by_hand import nearest_by_hand

MESHES = Path(__file__).resolve().parents[2] / "../shared/meshes"
TABLES = Tables.load()
PROCESS = TABLES.processes.get("extrusion-0.4")
FIT = 0.3
"""Sliding fit per side of that process."""

X, Y, Z = np.eye(3)
HOST = Solid.of(*box((90.0, 60.0, 24.0), (0.0, 0.0, -12.0)))
"""Its top face is z = 0."""

LID = Solid.of(*box((90.0, 60.0, 2.0), (0.0, 0.0, 1.0)))
LARGEST = {
    "CR2032": (20.0, 3.2), "CR2025": (20.0, 2.5), "CR2016": (20.0, 1.6), "CR1632": (16.0, 3.2), "CR1220": (12.5, 2.0),
    "LR44": (11.6, 5.4), "AA": (14.5, 50.5), "AAA": (10.5, 44.5),
}  # fmt: skip
"""Largest diameter and height, mm: IEC 60086-2 for the coins, Linden's Handbook of Batteries, table 4.9a, else."""


def seat(name: str, host: Solid = HOST, at=(0.0, 0.0, 0.0), inward=-Z, **more) -> CellSeat:
    """A seat for a cell of the table on a face of a part."""
    wanted = {"process": PROCESS, "wall_mm": 1.2, "others": {"lid": LID}} | more
    return cell_seat(host, Place.of(np.array(at), np.asarray(inward), X), TABLES.cells.get(name), **wanted)


def stands_clear(host: Solid, cut: Solid, wall: float) -> None:
    """What was cut lies the wall away from every face of the part but the one that looks up, by hand."""
    faces = new_faces((host.vertices, host.triangles), (cut.vertices, cut.triangles))
    others = host.corners[host.triangle_normals[:, 2] < 0.9]
    assert nearest_by_hand(spots_on(faces, 1.0), others, reach=wall + 6.0).min() >= wall - 1e-6


@pytest.mark.parametrize("name", ["CR2032", "CR2025", "CR2016", "CR1632", "CR1220", "LR44"])
def test_a_coin_cell_seat(name) -> None:
    """As wide as the largest cell and its fit, as deep as the cell and its two contacts; nothing sealed, no handle."""
    found = seat(name)
    cut = subtract(HOST, [found.cutter])
    wide, high = LARGEST[name]
    depth = high + 2.0 * COIN_CONTACT_MM
    turn = (np.arange(360) + 0.5) * math.tau / 360.0
    ways = np.stack([np.cos(turn), np.sin(turn), np.zeros(360)], axis=1)
    reach, _ = first_hits(cut.corners, np.full((360, 3), [0.0, 0.0, -depth / 2.0]), ways)
    assert np.median(reach) == pytest.approx(wide / 2.0 + FIT, abs=0.01)
    assert reach.min() >= wide / 2.0 + FIT - 1e-9
    assert gauge_bore(cut.corners, [0.0, 0.0, -depth / 2.0], Z).floor == pytest.approx(depth / 2.0, abs=1e-9)
    assert cut.topology == Topology(1, 0, 0)
    assert found.at_mm == ((0.0, 0.0, pytest.approx(-COIN_CONTACT_MM - high / 2.0)),)
    assert (2.0 * found.radius_mm, found.length_mm) == (wide, high)
    assert found.mouth.half_mm == (wide / 2.0 + FIT, wide / 2.0 + FIT)
    assert found.comes_off == ("lid",)
    assert any("swallowing hazard" in text for text in found.says)
    stands_clear(HOST, cut, 1.2)


def test_a_1220_is_twelve_and_a_half_wide() -> None:
    """The code of a CR1220 rounds its diameter down: the seat is for 12.5 mm, not for 12 (IEC 60086-2)."""
    assert seat("CR1220").mouth.half_mm[0] == pytest.approx(12.5 / 2.0 + FIT)


def test_a_finger_and_contacts_reach_the_coin() -> None:
    """Beside the cell a bite 4 mm deep goes down past its underside, and square to it two slots for contacts."""
    cut = subtract(HOST, [seat("CR2032").cutter])
    starts = np.tile([0.0, 0.0, -4.0], (4, 1))
    reach, _ = first_hits(cut.corners, starts, np.stack([X, Y, -Y, -X]))
    np.testing.assert_allclose(reach, [14.3, 11.5, 11.5, 10.3], atol=0.02)


@pytest.mark.parametrize(("name", "count"), [("AA", 1), ("AAA", 2)])
def test_long_cells_lie_side_by_side(name, count) -> None:
    """The trough holds the largest cells with fit on every side, spring and plate at the ends, and is no deeper."""
    found = seat(name, count=count)
    cut = subtract(HOST, [found.cutter])
    wide, long = LARGEST[name]
    length, width = long + SPRING_MM + PLATE_MM, count * wide + (count + 1) * FIT
    assert found.mouth.half_mm == pytest.approx((length / 2.0, width / 2.0))
    starts = np.array([[0, 0, -wide / 2.0], [0, 0, -wide / 2.0], [length / 4.0, 0, -wide / 2.0], [0, 0, -wide / 2.0]])
    reach, _ = first_hits(cut.corners, starts, np.stack([X, -X, Y, -Z]))
    np.testing.assert_allclose(reach, [length / 2.0, length / 2.0, width / 2.0, wide / 2.0 + FIT], atol=0.01)
    surface = (cut.vertices, cut.triangles)
    for middle in found.at_mm:
        line = np.array(middle) + np.linspace(-0.5, 0.5, 60)[:, None] * (long - wide) * X
        assert distances(surface, line).min() >= wide / 2.0 - 1e-6
        ends, _ = first_hits(cut.corners, np.array([middle, middle]), np.stack([X, -X]))
        np.testing.assert_allclose(ends, [long / 2.0 + PLATE_MM, long / 2.0 + SPRING_MM], atol=1e-9)
    assert len(found.at_mm) == count
    assert cut.topology == Topology(1, 0, 0)
    stands_clear(HOST, cut, 1.2)


def test_a_stack() -> None:
    """Three button cells stand on one another, plus out, with one room for contacts at each end."""
    found = seat("LR44", count=3)
    np.testing.assert_allclose(np.array(found.at_mm)[:, 2], [-3.5, -8.9, -14.3])
    assert found.axis == (0.0, 0.0, 1.0)
    assert found.mouth.depth_mm == pytest.approx(3 * 5.4 + 1.6)
    assert "1.20 mm between the largest and smallest" in found.says[1]


@given(st.sampled_from(["CR2032", "LR44", "AAA"]), st.floats(-20.0, 20.0), st.floats(-10.0, 10.0), st.floats(0.0, 6.3))
@settings(max_examples=8, deadline=None, derandomize=True)
def test_drawn_seats(name, x, y, turn) -> None:
    """Wherever it fits, on a block turned anyhow, the volume predicted is the volume cut, and walls are kept."""
    c, s = math.cos(turn), math.sin(turn)
    move = np.array([[c, -s, 0.0, 7.0], [s, c, 0.0, -5.0], [0.0, 0.0, 1.0, 0.0]])
    host, lid = HOST.moved(move), LID.moved(move)
    found = cell_seat(
        host, Place.of(move @ [x, y, 0.0, 1.0], -Z, move[:, 0]), TABLES.cells.get(name),
        process=PROCESS, wall_mm=0.0, others={"lid": lid},
    )  # fmt: skip
    cut = subtract(host, [found.cutter])
    assert host.volume_mm3 - cut.volume_mm3 == pytest.approx(found.shared.volume_mm3, abs=found.shared.error_mm3)
    assert cut.topology == Topology(1, 0, 0)
    stands_clear(host, cut, found.wall_mm - 0.05)


def test_the_notch_turns_where_there_is_wall() -> None:
    """Near a side the notch turns away from it."""
    found = seat("CR2032", at=(31.0, 0.0, 0.0))
    cut = subtract(HOST, [found.cutter])
    reach, _ = first_hits(cut.corners, np.array([[31.0, 0.0, -2.0]]), X[None])
    assert reach[0] < 12.0
    assert found.wall_mm >= 1.2
    stands_clear(HOST, cut, 1.2)


def test_a_wire_ends_at_a_contact() -> None:
    """From the side of the part a channel leads to a contact slot and opens into it: one handle."""
    found = seat("CR2032")
    cut = subtract(HOST, [found.cutter])
    way = route_wire(
        cut, [LID], [found.cutter], WireEnd(np.array([45.0, 10.0, -12.0]), -X), found.wires[0],
        width_mm=2.2, wall_mm=1.2, bend_mm=4.0,
    )  # fmt: skip
    both = subtract(cut, channel(way, up=Z))
    assert both.topology == Topology(1, 1, 0)
    back, _ = first_hits(
        both.corners, found.wires[0].at_mm[None] + 0.5 * found.wires[0].into, -found.wires[0].into[None]
    )
    assert back[0] == pytest.approx(0.5 + 2.0 * 11.5, abs=0.01)


# --- what does not go ------------------------------------------------------------------------------


def test_too_thin_a_part() -> None:
    """In 5 mm a CR2032's seat leaves 0.2 mm of floor: refused, with what is missing."""
    thin = Solid.of(*box((90.0, 60.0, 5.0), (0.0, 0.0, -2.5)))
    with pytest.raises(DoesNotFit, match=r"short by 1\.00 mm") as told:
        seat("CR2032", thin)
    assert "0.20 mm of wall" in told.value.found


def test_over_the_edge() -> None:
    """A mouth that runs over the edge of its face breaks out, and that is said."""
    with pytest.raises(DoesNotFit) as told:
        seat("AA", at=(30.0, 0.0, 0.0))
    assert "breaks out" in told.value.found


def test_a_ledge_of_the_part_traps_the_cell() -> None:
    """A bar of the part itself over the mouth keeps the cell in: refused with where and how much."""
    bar = unite([Solid.of(*box((4.0, 60.0, 4.0), (8.0, 0.0, 12.0))),
                 *[Solid.of(*box((4.0, 4.0, 16.0), (8.0, s * 28.0, 5.0))) for s in (1, -1)]])  # fmt: skip
    with pytest.raises(CellTrapped, match="the part itself") as told:
        seat("CR2032", unite([HOST, bar]), others={})
    assert "12.0" in told.value.where


def test_a_part_that_stays_on_traps_the_cell() -> None:
    """Covers in the way are named; one that may not come off is a fault."""
    case = Solid.of(*box((90.0, 60.0, 3.0), (0.0, 0.0, 5.0)))
    parts = {"lid": LID, "case": case, "foot": Solid.of(*box((9.0, 9.0, 9.0), (70.0, 0.0, 5.0)))}
    assert seat("CR2032", others=parts, opens=["case", "lid"]).comes_off == ("case", "lid")
    with pytest.raises(CellTrapped, match="case is in its way"):
        seat("CR2032", others=parts, opens=["lid"])


def test_without_a_cover_a_lid_is_asked_for() -> None:
    """Nothing over the mouth: nothing must come off, and the person is told that the cell would fall out."""
    found = seat("CR2032", others={})
    assert found.comes_off == ()
    assert any("give it a lid" in text for text in found.says)


@pytest.mark.skipif(not MESHES.is_dir(), reason="no folder shared/meshes beside the repository")
def test_in_a_palm_rest() -> None:
    """In the flat underside of a real part: a CR2032's seat with its wall, and a wire to it from the side."""
    mesh = trimesh.load(MESHES / "palm-rest.stl")
    mesh.merge_vertices()
    host = Solid.of(np.array(mesh.vertices), np.array(mesh.faces))
    found = seat("CR2032", host, at=(9.0, -172.0, 0.0), inward=Z, others={})
    cut = subtract(host, [found.cutter])
    assert cut.topology == Topology(1, 0, 0)
    assert host.volume_mm3 - cut.volume_mm3 == pytest.approx(found.shared.volume_mm3, abs=found.shared.error_mm3)
