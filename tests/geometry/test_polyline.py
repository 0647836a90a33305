"""Polylines: what is left out changes nothing."""

import numpy as np
import shapely
from shapely.geometry import LineString

from pipeline.geometry.polyline import divided, numbered, spaced, without_straight


def test_points_on_straight_stretches_go_and_corners_and_reversals_stay() -> None:
    ends = np.array([[0.0, 0], [7, 3], [7, 9], [1, 9], [7, 9], [9, 11]])
    line = shapely.get_coordinates(shapely.segmentize(LineString(ends), 0.2))
    np.testing.assert_allclose(without_straight(line, 1e-9), ends, atol=1e-12)


def test_a_gentle_bend_keeps_its_points() -> None:
    turn = np.linspace(0, 1, 2000)
    bend = np.column_stack([300 * np.cos(turn), 300 * np.sin(turn)])
    assert len(without_straight(bend, 1e-9)) == len(bend)
    assert len(without_straight(bend[:2], 1e-9)) == 2


def test_segments_are_divided_evenly_and_no_further_than_asked() -> None:
    """A multiple of what is asked for is not cut once more, a point that repeats stays."""
    line = np.array([[0.0, 0], [3, 0], [3, 4.5], [3, 4.5]])
    found = spaced(line, 1.5)
    np.testing.assert_allclose(found, [[0, 0], [1.5, 0], [3, 0], [3, 1.5], [3, 3], [3, 4.5], [3, 4.5]], atol=1e-12)
    np.testing.assert_array_equal(divided(line, np.array([2, 3, 1])), found)
    owner, number = numbered(np.array([2, 0, 3]))
    assert (owner.tolist(), number.tolist()) == ([0, 0, 2, 2, 2], [0, 1, 0, 1, 2])
