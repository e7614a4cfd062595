"""Light through printed walls: the curve, its inverse, and the fit through a wedge's readings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prep.errors import BadReadings, NoTransmission, WindowTooBright
from prep.physics.fresnel import slab_transmission
from prep.physics.transmission import fit_transmission, transmission_of
from prep.tables import Tables

STEPS = (0.4, 0.6, 0.8, 1.2, 1.6, 2.4, 3.2)


def curve(surface, per_mm, steps=STEPS):
    """The fit through exact readings."""
    return fit_transmission("test", steps, [surface * math.exp(-per_mm * d) for d in steps])


@pytest.mark.parametrize(("share", "mm"), [(0.5, 1.980421), (0.25, 3.960841), (0.1, 6.578815)])
def test_beer_lambert_thickness(share, mm):
    """At 0.35 per mm the walls that pass a half, a quarter and a tenth are those of the exponential law."""
    # Beer-Lambert worked values: T = exp(-0.35 d)
    steps = (1.0, 2.0, 4.0)
    assert curve(1.0, 0.35, steps).thickness_for(share) == pytest.approx(mm, abs=1e-6)
    assert curve(1.0, 0.35, steps).share(mm) == pytest.approx(share, abs=1e-6)


def test_the_window_that_passes_35_percent():
    """A window asked for by light is as thick as the closed form says, within half a percent through noisy readings."""
    noise = np.random.default_rng(11).normal(0.0, 0.001, len(STEPS))
    fit = fit_transmission(
        "test", STEPS, [0.8 * math.exp(-0.35 * d) * (1.0 + e) for d, e in zip(STEPS, noise, strict=True)]
    )
    exact = math.log(0.8 / 0.35) / 0.35
    assert curve(0.8, 0.35).thickness_for(0.35) == pytest.approx(exact, rel=1e-9)
    assert fit.thickness_for(0.35) == pytest.approx(exact, rel=0.005)


def test_stated_errors_hold_what_they_promise():
    """Over many wedges the truth lies within one stated error about two times in three, and within four always."""
    draw = np.random.default_rng(5)
    truth = np.array([0.8, 0.35])
    within, off = 0, []
    for _ in range(300):
        exact = 0.8 * np.exp(-0.35 * np.array(STEPS))
        fit = fit_transmission("test", STEPS, exact * (1.0 + draw.normal(0.0, 0.02, len(STEPS))))
        errors = np.array([fit.surface_error, fit.per_mm_error])
        apart = np.abs(np.array([fit.surface, fit.per_mm]) - truth) / errors
        within += int((apart < 1.0).sum())
        off.append(apart.max())
    assert 0.62 < within / 600 < 0.85
    assert max(off) < 4.0


def test_agrees_with_an_outside_least_squares():
    """The fit is that of a general least-squares routine on the same weights."""
    # scipy.optimize.curve_fit on ln(share) with the stated noise
    from scipy.optimize import curve_fit

    d = np.array(STEPS)
    share = 0.7 * np.exp(-1.1 * d) * (1.0 + np.array([0.01, -0.02, 0.0, 0.015, -0.01, 0.02, 0.0]))
    sigma = np.sqrt(0.02**2 + (0.001 / share) ** 2)
    (level, slope), spread = curve_fit(lambda x, a, b: a - b * x, d, np.log(share), sigma=sigma, absolute_sigma=True)
    fit = fit_transmission("test", d, share)
    assert fit.surface == pytest.approx(math.exp(level), rel=1e-7)
    assert fit.per_mm == pytest.approx(slope, rel=1e-7)
    assert fit.per_mm_error == pytest.approx(math.sqrt(spread[1, 1]), rel=1e-5)


def test_scattered_readings_widen_the_errors():
    """Readings that scatter ten times as much as one reading should give errors about ten times as wide."""
    signs = np.array([1, -1, 1, -1, -1, 1, 1])
    exact = 0.8 * np.exp(-0.35 * np.array(STEPS))
    calm, wild = (fit_transmission("test", STEPS, exact * np.exp(size * signs)) for size in (0.002, 0.2))
    assert 5.0 < wild.per_mm_error / calm.per_mm_error < 15.0
    assert wild.residual > 0.15


@settings(max_examples=40, deadline=None)
@given(st.floats(0.2, 0.95), st.floats(0.01, 9.0), st.floats(0.05, 0.98), st.sampled_from([1e-3, 1.0, 1e3]))
def test_thickness_and_share_are_inverse(surface, per_mm, part, scale):
    """The wall for a share passes that share, at every scale of length."""
    steps = [0.1 * scale, 0.3 * scale]
    fit = curve(surface, per_mm / scale, steps)
    wanted = surface * part
    assert fit.share(fit.thickness_for(wanted)) == pytest.approx(wanted, rel=1e-6)
    assert fit.opaque_mm(wanted) == fit.thickness_for(wanted)


def test_opaque_walls():
    """A wall that stops all but two percent is thicker the clearer the plastic; black needs the least."""
    tables = Tables.load()
    walls = [transmission_of(tables, name).opaque_mm(0.02) for name in ("pla black", "pla white", "pla", "pc")]
    assert walls == sorted(walls)
    assert curve(0.5, 2.0).opaque_mm(0.6) == 0.0


def test_beyond_the_readings_is_said():
    """A thickness outside the steps that were read is told as such, one within is not."""
    fit = curve(0.8, 0.35)
    assert fit.within(0.4)
    assert fit.beyond(1.0) == ""
    assert "0.4-3.2" in fit.beyond(5.0)


def test_too_bright_a_window_is_refused():
    """A share above what the faces let in has no thickness; the fault says how much is possible."""
    with pytest.raises(WindowTooBright, match="no wall of test") as caught:
        curve(0.8, 0.35).thickness_for(0.9)
    assert "0.8" in caught.value.found
    assert "80" in caught.value.fix


@pytest.mark.parametrize(
    ("steps", "shares", "says"),
    [
        ([0.8], [0.5], "1 readings at 1 thickness"),
        ([0.8, 0.8], [0.5, 0.51], "2 readings at 1 thickness"),
        ([0.8, 1.2], [0.5, 0.0], "above 0"),
        ([0.8, 1.2], [45.0, 30.0], "at most 1"),
        ([0.8, 1.2], [0.3, 0.4], "lost per mm"),
    ],
)
def test_readings_that_make_no_curve_are_refused(steps, shares, says):
    """One thickness, shares that are none, and thicker steps that read brighter are refused with the number."""
    with pytest.raises(BadReadings) as caught:
        fit_transmission("test", steps, shares)
    assert says in caught.value.found
    assert caught.value.fix


def test_every_material_ships_a_default_that_says_so():
    """Each row of the materials table has a curve, none is called verified, and its words say what to do."""
    tables = Tables.load()
    for row in tables.materials.rows:
        fit = transmission_of(tables, row.name)
        assert not fit.verified
        assert "unverified default" in fit.says
        assert 0.0 < fit.surface < 1.0


@pytest.mark.parametrize("name", ["pmma rod", "pc rod"])
def test_rods_lose_what_two_polished_faces_lose(name):
    """The surface term of a clear rod is the exact loss of two faces of its index."""
    tables = Tables.load()
    assert transmission_of(tables, name).surface == pytest.approx(
        slab_transmission(tables.materials.get(name).index), abs=1e-4
    )


def test_the_shops_readings_replace_those_that_ship(tmp_path):
    """Readings of the shop count alone: every shipped row of that material is gone, and that is listed."""
    (tmp_path / "transmission.csv").write_text(
        "name,material,thickness_mm,share\nmine a,PLA,0.8,0.4\nmine b,pla,1.6,0.2\n", encoding="utf-8"
    )
    tables = Tables.load(tmp_path)
    fit = transmission_of(tables, "pla")
    assert fit.verified
    assert fit.per_mm == pytest.approx(math.log(2.0) / 0.8)
    assert fit.readings == 2
    assert not transmission_of(tables, "petg").verified
    [override] = tables.transmission.overrides
    assert (override.row, override.was, override.now) == ("pla", "6 shipped", "2 of the shop's own")


def test_a_material_without_readings_is_refused(tmp_path):
    """A material nobody read is refused with the command that mends it; one of the shop's own may be read."""
    with pytest.raises(NoTransmission, match="glow green") as caught:
        transmission_of(Tables.load(), "glow green")
    assert 'prep coupon step-wedge --material "glow green"' in caught.value.fix
    (tmp_path / "transmission.csv").write_text(
        "name,material,thickness_mm,share\na,glow green,0.8,0.4\nb,glow green,1.6,0.2\n", encoding="utf-8"
    )
    assert transmission_of(Tables.load(tmp_path), "Glow Green").verified


def test_a_half_filled_table_is_refused(tmp_path):
    """A reading without its share is named with its line, not taken for darkness."""
    from prep.errors import BadTable

    (tmp_path / "transmission.csv").write_text(
        "name,material,thickness_mm,share\na,pla,0.8,0.4\nb,pla,1.6,\n", encoding="utf-8"
    )
    with pytest.raises(BadTable, match="column `share` is missing") as caught:
        Tables.load(tmp_path)
    assert "transmission.csv:3" in caught.value.where
