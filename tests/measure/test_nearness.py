"""Growing cells by a disc, and patches of them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from pipeline.measure.nearness import grown, patches


@pytest.mark.parametrize("reach", [0.4, 1.0, 1.5, 2.9, 4.2, 8.0, 13.7])
def test_grown_is_the_exact_distance(reach: float) -> None:
    """Held against SciPy's exact Euclidean distance transform."""
    cells = np.random.default_rng(7).random((61, 83)) < 0.004
    wanted = ndimage.distance_transform_edt(~cells) <= reach
    np.testing.assert_array_equal(grown(cells, reach), wanted)


def test_nothing_grows_to_nothing() -> None:
    assert not grown(np.zeros((9, 9), dtype=bool), 4.0).any()


def test_a_strip_is_as_long_as_it_is_and_a_ring_as_its_circumference() -> None:
    strip = np.zeros((30, 90), dtype=bool)
    strip[10:16, 5:85] = True
    (found,) = patches(strip, 3)
    assert found.cells == 480
    assert found.length == pytest.approx(80.0, rel=0.12)
    assert 10 <= found.middle[0] < 16
    y, x = np.indices((120, 120)) - 60
    ring = (np.hypot(x, y) <= 50) & (np.hypot(x, y) >= 45)
    assert patches(ring, 1)[0].length == pytest.approx(2 * np.pi * 47.5, rel=0.12)


def test_pieces_near_one_another_are_one_if_asked() -> None:
    dotted = np.zeros((20, 60), dtype=bool)
    dotted[9:11, 5:55:5] = True
    assert len(patches(dotted, 99)) == 10
    (one,) = patches(dotted, 99, join=2.5)
    assert one.cells == 20
    assert one.length == pytest.approx(46.0, rel=0.25)


def test_the_largest_come_first_and_small_ones_are_left_out() -> None:
    cells = np.zeros((20, 20), dtype=bool)
    cells[1, 1] = cells[4:7, 4:7] = cells[12:17, 12:17] = True
    assert [patch.cells for patch in patches(cells, 9, least_cells=2)] == [25, 9]
    assert [patch.cells for patch in patches(cells, 1)] == [25]
