"""Force between coaxial discs, and to steel."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.special import j1

from prep.physics.pull_force import MU_0, pull_force, steel_pull

GAPS = np.array([0.0, 0.2, 0.5, 1.0, 2.0, 3.0])

# Reference table at 1.30 T, agreed on by four independent routes: charged discs, elliptic-integral field over the
# pole faces, magpylib's field over the pole faces, pairs of current sheets. Four decimals, N.
DISCS = [
    (3, 1, 3, 1, [2.2996, 1.4357, 0.9089, 0.4908, 0.1772, 0.0756]),
    (4, 2, 4, 2, [5.3158, 3.8314, 2.7389, 1.7229, 0.7874, 0.4011]),
    (5, 2, 5, 2, [7.2443, 5.3773, 3.9824, 2.6464, 1.3336, 0.7352]),
    (6, 2, 6, 2, [9.1983, 6.9576, 5.2735, 3.6355, 1.9633, 1.1500]),
    (6, 3, 6, 3, [11.9605, 9.4203, 7.3580, 5.2340, 2.9396, 1.7717]),
    (8, 3, 8, 3, [17.7617, 14.3576, 11.5639, 8.6253, 5.2928, 3.4558]),
    (10, 2, 10, 2, [17.0127, 13.3164, 10.5371, 7.7943, 4.8460, 3.2522]),
    (10, 3, 10, 3, [23.6358, 19.3886, 15.8950, 12.1913, 7.8978, 5.4318]),
    (10, 5, 10, 5, [33.2235, 28.3211, 23.9461, 18.9990, 12.8485, 9.1003]),
    (12, 3, 12, 3, [29.5100, 24.4306, 20.2545, 15.8157, 10.6175, 7.5654]),
    (15, 3, 15, 3, [38.2787, 31.9609, 26.7774, 21.2663, 14.7751, 10.9035]),
    (20, 5, 20, 5, [81.9722, 72.1797, 63.3903, 53.3026, 40.2647, 31.7417]),
    (10, 2, 6, 2, [3.2665, 3.2566, 3.1638, 2.8756, 2.1556, 1.5376]),
    (8, 3, 5, 2, [4.3899, 4.1999, 3.8537, 3.2214, 2.1228, 1.3812]),
    (6.35, 3.175, 6.35, 3.175, [13.3966, 10.6613, 8.4141, 6.0717, 3.4940, 2.1500]),
    (9.525, 3.175, 9.525, 3.175, [23.1811, 19.0604, 15.6354, 11.9782, 7.7166, 5.2693]),
    (12.7, 3.175, 12.7, 3.175, [33.0533, 27.5848, 23.0396, 18.1624, 12.3802, 8.9385]),
    (3, 2, 3, 2, [3.4584, 2.3703, 1.5976, 0.9208, 0.3648, 0.1678]),
    (5, 1, 5, 1, [4.2532, 2.8283, 1.9486, 1.2115, 0.5681, 0.2986]),
    (8, 2, 8, 2, [13.1156, 10.1424, 7.9030, 5.6986, 3.3624, 2.1412]),
    (12, 2, 12, 2, [20.8838, 16.4678, 13.1554, 9.8874, 6.3567, 4.4172]),
    (20, 3, 20, 3, [52.7661, 44.3942, 37.5491, 30.2859, 21.7235, 16.5758]),
]


@pytest.mark.parametrize(("d1", "t1", "d2", "t2", "newton"), DISCS)
def test_discs_pull_as_in_the_reference_table(d1, t1, d2, t2, newton):
    """Every pair at every gap agrees with the table to its last digit, equal and unequal alike."""
    assert pull_force(d1, t1, 1.3, d2, t2, 1.3, GAPS) == pytest.approx(newton, abs=5.1e-5)


def test_six_digits_are_right_at_gap_zero():
    """At contact of equal discs, where the integrand is singular, the force is still right to 1e-10.

    The four potentials at gap 0 are taken from adaptive quadrature of the Bessel integral, f(0) from its exact value.
    """
    r, t, br = 5.0, 3.0, 1.3

    def potential(h):
        return quad(lambda q: j1(q * r) ** 2 * math.exp(-q * h) / q, 0, 60 / h, limit=2000, epsabs=0, epsrel=1e-12)[0]

    exact = np.pi * br**2 * r**2 / MU_0 * 1e-6 * (0.5 - 2 * potential(t) + potential(2 * t))
    assert pull_force(2 * r, t, br, 2 * r, t, br, 0.0) == pytest.approx(exact, rel=1e-10)


@pytest.mark.parametrize(("d1", "d2", "gap"), [(10, 10, 0.01), (10, 9.99, 0.0), (10, 6, 0.3), (6, 6, 4.0)])
def test_the_bessel_integral_gives_the_same(d1, d2, gap):
    """The force by angles agrees with the integral over Bessel functions of Vokoun and others (2009) to 1e-7."""
    t1, t2, br = 3.0, 2.0, 1.3
    r1, r2 = d1 / 2, d2 / 2

    def integrand(q):
        stack = math.exp(-q * gap) * -math.expm1(-q * t1) * -math.expm1(-q * t2)
        return j1(q * r1) * j1(q * r2) * stack / q

    edges = np.concatenate([[0.0], np.arange(1, 4001) * np.pi / max(r1, r2)])
    x, w = np.polynomial.legendre.leggauss(10)
    nodes = (edges[:-1, None] + np.diff(edges)[:, None] * (x + 1) / 2).ravel()
    weights = (np.diff(edges)[:, None] * w / 2).ravel()
    head = np.pi * br**2 * r1 * r2 / MU_0 * 1e-6 * sum(map(lambda q, k: k * integrand(q), nodes, weights))
    # beyond the last edge J1 J1 falls off as 1/q: the tail is below one part in 1 / (pi r q^2)
    tail = 0.0 if gap * edges[-1] > 30 else 1 / (np.pi * max(r1, r2) * edges[-1])
    assert pull_force(d1, t1, br, d2, t2, br, gap) == pytest.approx(head, rel=max(1e-7, 2 * tail))


def test_flat_poles_pull_with_the_square_of_the_remanence():
    """A long equal pair in contact tends to pi R^2 Br^2 / (2 mu_0)."""
    limit = np.pi * 0.005**2 * 1.3**2 / (2 * MU_0)
    assert pull_force(10, 1e5, 1.3, 10, 1e5, 1.3, 0.0) == pytest.approx(limit, rel=1e-8)


@pytest.mark.parametrize(("distance", "tolerance"), [(50.0, 5e-3), (5e3, 5e-7), (5e5, 1e-9)])
def test_far_away_discs_are_dipoles(distance, tolerance):
    """Far away the force is 3 mu_0 m1 m2 / (2 pi z^4), z between the middles, with no digit lost."""
    m = 1.3 / MU_0 * np.pi * (1.5e-3) ** 2 * 1e-3
    dipole = 3 * MU_0 * m**2 / (2 * np.pi * (distance * 1e-3) ** 4)
    assert pull_force(3, 1, 1.3, 3, 1, 1.3, distance - 1.0) == pytest.approx(dipole, rel=tolerance)


def test_the_worked_far_value():
    """Two 3x1 discs 50 mm apart pull with the published 5.1138e-6 N."""
    assert pull_force(3, 1, 1.3, 3, 1, 1.3, 49.0) == pytest.approx(5.1138e-6, rel=1e-5)


@pytest.mark.parametrize(
    ("d1", "t1", "d2", "t2", "gap"), [(10, 3, 10, 3, 0.2), (10, 2, 6, 2, 0.5), (6, 2, 6, 2, 3.0), (8, 3, 5, 2, 60.0)]
)
def test_magpylib_pulls_the_same(d1, t1, d2, t2, gap):
    """An independent library's field, integrated over the other disc's charged faces, pulls the same to 1e-6."""
    magpy = pytest.importorskip("magpylib")
    lower = magpy.magnet.Cylinder(polarization=(0, 0, 1.3), dimension=(d1 * 1e-3, t1 * 1e-3))
    x, w = np.polynomial.legendre.leggauss(24)
    edges = np.unique(np.concatenate([[0.0], d2 / 2 * (1 - 0.5 ** np.arange(0, 12)), [d2 / 2]]))
    radius = (edges[:-1, None] + np.diff(edges)[:, None] * (x + 1) / 2).ravel()
    weight = (np.diff(edges)[:, None] * w / 2).ravel() * 2 * np.pi * radius

    def through_face(z):
        points = np.stack([radius, 0 * radius, np.full_like(radius, t1 / 2 + z)], axis=1) * 1e-3
        return weight @ lower.getB(points)[:, 2]

    force = 1.3 / MU_0 * (through_face(gap) - through_face(gap + t2)) * 1e-6
    assert pull_force(d1, t1, 1.3, d2, t2, 1.3, gap) == pytest.approx(force, rel=1e-6)


@pytest.mark.parametrize(
    ("d", "t", "newton"),
    # reference table: to thick steel at 0, 0.2, 0.5 and 1 mm, three decimals
    [
        (3, 1, [2.300, 1.046, 0.491, 0.177]),
        (6, 2, [9.198, 5.743, 3.636, 1.963]),
        (10, 3, [23.636, 16.896, 12.191, 7.898]),
        (20, 5, [81.972, 65.975, 53.303, 40.265]),
        (12.7, 6.35, [53.586, 42.645, 33.656, 24.287]),
    ],
)
def test_steel_mirrors_the_magnet(d, t, newton):
    """Thick steel pulls as the magnet's twin at double the gap."""
    assert steel_pull(d, t, 1.3, np.array([0, 0.2, 0.5, 1.0])) == pytest.approx(newton, abs=6e-4)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    st.floats(1, 30),
    st.floats(0.2, 15),
    st.floats(1, 30),
    st.floats(0.2, 15),
    st.floats(0, 300),
    st.sampled_from([1e-3, 1, 1e3]),
)
def test_force_scales_falls_and_is_mutual(d1, t1, d2, t2, gap, scale):
    """The pull is mutual, grows with the square of the scale, and with the product of the remanences."""
    force = pull_force(d1, t1, 1.3, d2, t2, 1.1, gap)
    assert force > 0
    assert pull_force(d2, t2, 1.1, d1, t1, 1.3, gap) == pytest.approx(force, rel=1e-9)
    scaled = pull_force(scale * d1, scale * t1, 2.6, scale * d2, scale * t2, 1.1, scale * gap)
    assert scaled == pytest.approx(2 * scale**2 * force, rel=1e-7)


def test_the_two_routes_meet():
    """Where the far form takes over from the near one, the force does not jump."""
    below, above = pull_force(10, 3, 1.3, 8, 2, 1.3, np.array([30.0, np.nextafter(30.0, 31.0)]))
    assert above == pytest.approx(below, rel=1e-10)


@pytest.mark.parametrize("gap", [-1e-9, np.array([1.0, -0.5])])
def test_discs_do_not_stand_in_one_another(gap):
    """A gap below 0 is refused by both laws, alone or among others."""
    with pytest.raises(ValueError, match="0 or more"):
        pull_force(6, 2, 1.3, 6, 2, 1.3, gap)
    with pytest.raises(ValueError, match="0 or more"):
        steel_pull(6, 2, 1.3, gap)
