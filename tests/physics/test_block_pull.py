"""Force between blocks."""

from __future__ import annotations

import numpy as np
import pytest

from prep.physics.block_pull import block_pull
from prep.physics.magnet_field import block_field
from prep.physics.pull_force import MU_0

GAPS = (0.0, 0.2, 0.5, 1.0, 2.0, 3.0)


@pytest.mark.parametrize(
    ("size", "newton"),
    # reference table at 1.30 T: the 64-term sum of Akoun and Yonnet, agreeing with integration over the faces
    [
        ((10, 5, 2), [14.1750, 10.7306, 8.1957, 5.7583, 3.2651, 2.0199]),
        ((10, 10, 3), [28.2094, 22.9928, 18.7985, 14.4336, 9.4630, 6.6287]),
        ((20, 10, 2), [32.0218, 25.1217, 20.0203, 15.0563, 9.7813, 6.9175]),
        ((20, 10, 5), [66.5080, 57.4032, 49.3672, 40.3024, 28.9092, 21.7432]),
        ((12.7, 6.35, 3.175), [26.8177, 21.7509, 17.6320, 13.3201, 8.4235, 5.6886]),
        ((10, 10, 10), [54.7199, 47.9995, 41.7483, 34.4079, 24.7966, 18.5755]),
    ],
)
def test_blocks_pull_as_in_the_reference_table(size, newton):
    """Every block pair at every gap agrees with the table to its last digit."""
    assert [block_pull(size, 1.3, size, 1.3, gap) for gap in GAPS] == pytest.approx(newton, abs=6e-5)


def test_the_field_over_the_faces_gives_the_same():
    """An unequal pair pulls as the field of one, integrated over the charged faces of the other."""
    one, two, gap = (10.0, 6.0, 3.0), (7.0, 4.0, 2.0), 0.8
    x, w = np.polynomial.legendre.leggauss(40)

    def over(z):
        field = block_field(*one, 1.3, (x * two[0] / 2)[:, None], (x * two[1] / 2)[None, :], z)
        return w @ field @ w * two[0] * two[1] / 4

    force = 1.2 / MU_0 * (over(gap) - over(gap + two[2])) * 1e-6
    assert block_pull(one, 1.3, two, 1.2, gap) == pytest.approx(force, rel=1e-10)


def test_it_is_mutual_and_falls_to_the_dipole():
    """Exchanging the blocks changes nothing, and far away they are dipoles."""
    one, two = (10.0, 6.0, 3.0), (7.0, 4.0, 2.0)
    assert block_pull(one, 1.3, two, 1.1, 0.4) == pytest.approx(block_pull(two, 1.1, one, 1.3, 0.4), rel=1e-10)
    m1, m2 = (br / MU_0 * np.prod(size) * 1e-9 for size, br in ((one, 1.3), (two, 1.1)))
    dipole = 3 * MU_0 * m1 * m2 / (2 * np.pi * 0.2**4)
    assert block_pull(one, 1.3, two, 1.1, 200 - 2.5) == pytest.approx(dipole, rel=5e-3)
