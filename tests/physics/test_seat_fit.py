"""`seat_fit`: every term of the sum, by process and way of fixing."""

from __future__ import annotations

import pytest

from fixtures.benches import shipped_tables
from prep.physics.seat_fit import seat_fit

TABLES = shipped_tables()
DISC = TABLES.magnets.get("disc 6x2 N42")
EXTRUSION = TABLES.processes.get("extrusion-0.4")


@pytest.mark.parametrize(
    ("fixing", "diameter", "depth", "tip", "under", "recess"),
    [
        # clearance 0.25 a side, interference 0.14, ribs 0.1, glue 0.2, layer 0.2, tolerance 0.1, written out
        ("glue", 6.5, 2.3, 0.0, 0.2, 0.1),
        ("press", 5.86, 2.1, 0.0, 0.0, 0.1),
        ("ribs", 6.5, 2.1, 5.9, 0.0, 0.1),
        ("buried", 6.5, 2.3, 0.0, 0.0, 0.3),
    ],
)
def test_the_sums_of_a_6x2_by_extrusion(fixing, diameter, depth, tip, under, recess) -> None:
    """Diameter, depth, rib tips, glue and recess are the stated sums."""
    fit = seat_fit(DISC, EXTRUSION, fixing)
    assert (fit.diameter_mm, fit.depth_mm, fit.rib_tip_mm) == pytest.approx((diameter, depth, tip))
    assert (fit.under_mm, fit.recess_mm) == pytest.approx((under, recess))


@pytest.mark.parametrize("process", TABLES.processes.rows, ids=lambda row: row.name)
@pytest.mark.parametrize("fixing", ["glue", "press", "ribs", "buried"])
def test_what_holds_for_every_process(process, fixing) -> None:
    """Glued and buried discs have play, pressed ones none, ribs bite; no magnet of the lot stands proud."""
    for magnet in TABLES.magnets.rows:
        if magnet.shape != "disc":
            continue
        fit = seat_fit(magnet, process, fixing)
        if fixing in {"glue", "buried", "ribs"}:
            assert fit.diameter_mm == pytest.approx(magnet.diameter_mm + 2.0 * process.glue_fit_mm)
        else:
            assert fit.diameter_mm == pytest.approx(magnet.diameter_mm - process.press_mm)
        assert (fit.rib_tip_mm > 0.0) == (fixing == "ribs")
        if fixing == "ribs":
            assert fit.rib_tip_mm < magnet.diameter_mm < fit.diameter_mm
        assert fit.depth_mm - fit.under_mm >= magnet.thickness_mm + magnet.size_tolerance_mm
        assert fit.recess_mm == pytest.approx(fit.depth_mm - fit.under_mm - magnet.thickness_mm)


@pytest.mark.parametrize("fixing", ["glue", "press", "ribs", "buried"])
def test_paint_on_the_walls_is_given_room(fixing) -> None:
    """A film on both sides widens the hole, and the ribs with it, and is written in the sum."""
    bare, painted = seat_fit(DISC, EXTRUSION, fixing), seat_fit(DISC, EXTRUSION, fixing, film_mm=0.06)
    assert painted.diameter_mm - bare.diameter_mm == pytest.approx(0.12)
    assert painted.depth_mm == bare.depth_mm
    if fixing == "ribs":
        assert painted.rib_tip_mm - bare.rib_tip_mm == pytest.approx(0.12)
    assert "0.06 film" in painted.diameter_says
    assert "film" not in bare.diameter_says


def test_the_sums_are_said_in_words() -> None:
    """The words carry every term, and their numbers add up to the size."""
    fit = seat_fit(DISC, EXTRUSION, "glue")
    assert fit.diameter_says == "6 magnet + 2 x 0.25 fit"
    assert fit.depth_says == "2 magnet + 0.1 size tolerance + 0.2 glue line"
    assert sum(float(term.split()[0]) for term in fit.depth_says.split(" + ")) == pytest.approx(fit.depth_mm)
