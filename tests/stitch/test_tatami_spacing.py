"""Rounding to the machine's grid, shortest stitches and corners."""

import numpy as np
import pytest
from shapely.geometry import LineString, Polygon, box

from pipeline.geometry.polyline import spaced
from pipeline.geometry.scanline import turned
from pipeline.stitch.spacing import (
    EDGE,
    FIELD,
    TURN,
    Slide,
    halved,
    on_grid,
    strands_of,
    stretched,
    with_corners,
    without_short,
)


def slid(spots: np.ndarray, angle: float) -> np.ndarray:
    """Places along rows at ``angle``, given as points, as the needle points that they become."""
    flat, slide = turned(spots, angle), Slide.at(angle)
    return slide.on_grid(slide.place(flat[:, 0], flat[:, 1]), slide.aside(flat[:, 1]))


@pytest.mark.parametrize("angle", [12.0, 37.0, 60.0, 118.0, 171.0])
def test_sliding_points_stay_on_their_rows(angle: float) -> None:
    spots = np.random.default_rng(1).uniform(0, 90, (500, 2))
    moved, rounded = slid(spots, angle), on_grid(spots)
    np.testing.assert_allclose(moved * 10, np.rint(moved * 10), atol=1e-9)
    off = turned(moved, angle) - turned(spots, angle)
    assert np.abs(off[:, 1]).std() < 0.5 * np.abs((turned(rounded, angle) - turned(spots, angle))[:, 1]).std()
    assert np.abs(off[:, 0]).max() < 0.45


@pytest.mark.parametrize("angle", [12.0, 37.0, 60.0, 118.0, 171.0])
def test_no_other_of_the_five_places_is_nearer_to_the_row(angle: float) -> None:
    """Against trying all five; the table decides to a thousandth of the grid."""
    spots = np.random.default_rng(2).uniform(0, 90, (300, 2))
    off = np.abs(turned(slid(spots, angle), angle)[:, 1] - turned(spots, angle)[:, 1])
    flat = turned(spots, angle)
    major = int(abs(np.sin(np.deg2rad(angle))) > abs(np.cos(np.deg2rad(angle))))
    along = np.array([np.cos(np.deg2rad(angle)), -np.sin(np.deg2rad(angle))])
    least = np.full(len(spots), np.inf)
    for shift in range(-2, 3):
        place = np.rint(spots[:, major] * 10) / 10 + 0.1 * shift
        on_row = spots + ((place - spots[:, major]) / along[major])[:, None] * along
        on_row[:, 1 - major] = np.rint(on_row[:, 1 - major] * 10) / 10
        least = np.minimum(least, np.abs(turned(on_row, angle)[:, 1] - flat[:, 1]))
    assert (off - least).max() < 2e-4


@pytest.mark.parametrize("angle", [0.0, 90.0])
def test_rows_that_lie_between_grid_lines_all_go_the_same_way(angle: float) -> None:
    rows = np.column_stack([np.full(200, 7.0), 0.05 + 0.2 * np.arange(200)])
    for snapped in (on_grid(rows), slid(rows, angle)):
        np.testing.assert_allclose(np.diff(snapped[:, 1]), 0.2, atol=1e-9)


def test_of_two_points_too_close_the_higher_rank_stays_and_ends_always_do() -> None:
    line = np.array([[0.0, 0], [2, 0], [2.3, 0], [4, 0], [4.2, 0], [4.3, 0]])
    rank = np.array([TURN, FIELD, TURN, FIELD, EDGE, FIELD], dtype=np.int8)
    keep = without_short(line, rank, 0.5, 7.0)
    np.testing.assert_array_equal(keep, [True, False, True, False, False, True])


def test_a_chain_of_short_stitches_is_thinned_to_the_shortest_allowed() -> None:
    line = np.column_stack([np.arange(0, 10.01, 0.1), np.zeros(101)])
    keep = without_short(line, np.zeros(101, dtype=np.int8), 0.5, 7.0)
    steps = np.diff(line[keep][:, 0])
    assert steps.min() >= 0.5 - 1e-9
    assert steps.max() <= 1.0 + 1e-9


def test_a_corner_that_was_left_out_comes_back() -> None:
    area = Polygon([(0, 0), (10, 0), (10, 10), (9, 10), (9, 1), (0, 1)])
    line = np.array([[0.5, 0.9], [8.6, 0.9], [9.1, 0.9], [9.1, 9.5]])
    keep = np.array([True, False, False, True])
    assert with_corners(line, keep, area, 0.2, 0.5).sum() == 3
    np.testing.assert_array_equal(with_corners(line, keep, box(0, 0, 10, 10), 0.2, 0.5), keep)


def test_spacing_keeps_corners_and_strands_follow_the_flags() -> None:
    line = spaced(np.array([[0.0, 0], [5, 0], [5, 1]]), 2.0)
    assert np.hypot(*np.diff(line, axis=0).T).max() <= 2.0
    assert [5.0, 0.0] in line.tolist()
    travel = np.array([False, True, True, False, False])
    strands = strands_of(line, travel, "cover")
    assert [s.layer for s in strands] == ["cover", "travel", "cover"]
    np.testing.assert_array_equal(np.vstack([s.points for s in strands]), line)


def test_a_short_stitch_at_a_tip_is_stretched_by_no_more_than_need_be() -> None:
    area = Polygon([(0, 0), (10, -0.3), (10, 0.5)])
    line = np.array([[8.0, 0.0], [9.8, 0.0], [9.8, 0.3], [8.0, 0.1]])
    moved = stretched(line, area, 0.3, 0.5, 7.0)
    lengths = np.hypot(*np.diff(moved, axis=0).T)
    assert lengths.min() >= 0.5 - 1e-9
    np.testing.assert_array_equal(moved[[0, -1]], line[[0, -1]])
    assert np.hypot(*(moved - line).T).max() <= 0.3
    np.testing.assert_allclose(moved * 10, np.rint(moved * 10), atol=1e-9)
    assert area.buffer(0.3).covers(LineString(moved))


def test_nothing_is_stretched_where_no_stitch_is_short() -> None:
    line = np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 0.5]])
    assert stretched(line, box(0, 0, 2, 1), 0.2, 0.5, 7.0) is line


def test_what_cannot_be_stretched_stays_as_it_is() -> None:
    """Both points are the line's ends, or there is no place to go inside the area."""
    ends = np.array([[0.0, 0.0], [0.2, 0.0]])
    np.testing.assert_array_equal(stretched(ends, box(0, 0, 2, 1), 0.2, 0.5, 7.0), ends)


def test_a_stitch_too_long_is_halved_on_the_grid() -> None:
    line = np.array([[0.0, 0.0], [4.0, 0.0], [11.3, 0.5], [11.3, 7.5]])
    found, kind = halved(line, np.array([TURN, FIELD, EDGE, FIELD], dtype=np.int8), 7.0)
    np.testing.assert_allclose(found, np.insert(line, 2, [7.7, 0.3], axis=0), atol=0.051)
    np.testing.assert_array_equal(kind, [TURN, FIELD, EDGE, EDGE, FIELD])
