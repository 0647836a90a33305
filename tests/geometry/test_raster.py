"""The raster against exact distances and areas, worked out cell by cell by shapely."""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.raster import Grid, paint_polygons, paint_segments

GRID = Grid(-3.0, -2.0, 7.3, 60, 50)


def centres(grid: Grid) -> np.ndarray:
    rows, columns = np.indices((grid.height, grid.width))
    return grid.places(rows.ravel(), columns.ravel())


def within(segment: np.ndarray, width: float, grid: Grid) -> np.ndarray:
    """Cells whose centre is within half of ``width`` of ``segment``: the definition, one by one."""
    line = LineString(segment) if np.any(segment[0] != segment[1]) else Point(segment[0])
    return (shapely.distance(line, shapely.points(centres(grid))) <= width / 2).reshape(grid.height, grid.width)


@pytest.mark.parametrize("width", [0.05, 0.25, 1.3, 4.0])
def test_a_thick_segment_is_every_centre_within_half_its_width(width: float) -> None:
    rng = np.random.default_rng(int(width * 100))
    for turn in range(60):
        segment = rng.uniform(-5.0, 9.0, (2, 2))
        if turn % 5 == 0:
            segment[1] = segment[0]
        if turn % 7 == 0:
            segment[1, turn % 2] = segment[0, turn % 2]
        into = GRID.full(0, np.int32)
        paint_segments(GRID, segment[None], width, 1, into)
        np.testing.assert_array_equal(into == 1, within(segment, width, GRID))


def test_the_last_segment_wins_and_the_others_stay_beneath() -> None:
    rng = np.random.default_rng(4)
    segments = rng.uniform(-2.0, 5.0, (40, 2, 2))
    wanted = GRID.full(0, np.int16)
    for number, segment in enumerate(segments, start=1):
        wanted[within(segment, 0.8, GRID)] = number
    into = GRID.full(0, np.int16)
    paint_segments(GRID, segments, 0.8, np.arange(1, 41), into)
    np.testing.assert_array_equal(into, wanted)


def test_order_holds_across_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    segments = np.random.default_rng(5).uniform(-2.0, 5.0, (50, 2, 2))
    whole, pieces = GRID.full(0, np.int16), GRID.full(0, np.int16)
    paint_segments(GRID, segments, 0.8, np.arange(1, 51), whole)
    monkeypatch.setattr("pipeline.geometry.raster.CHUNK", 7)
    paint_segments(GRID, segments, 0.8, np.arange(1, 51), pieces)
    np.testing.assert_array_equal(whole, pieces)


def test_painting_into_a_view_that_cannot_be_flattened_is_refused() -> None:
    into = GRID.full(0, np.int16)[:, 1:]
    with pytest.raises(ValueError, match="contiguous"):
        paint_segments(GRID, np.zeros((1, 2, 2)), 1.0, 1, into)


def test_no_segments_and_segments_far_away_paint_nothing() -> None:
    into = GRID.full(0, np.int16)
    paint_segments(GRID, np.empty((0, 2, 2)), 1.0, 1, into)
    paint_segments(GRID, np.full((3, 2, 2), 1000.0), 1.0, 1, into)
    assert not into.any()


def filled(area: MultiPolygon) -> NDArray[np.bool_]:
    """The cells that ``area`` is painted into."""
    into: NDArray[np.bool_] = GRID.full(False, np.bool_)
    paint_polygons(GRID, [area], [1], into)
    return into


def test_polygons_with_holes_are_filled_as_shapely_contains_their_centres() -> None:
    rng = np.random.default_rng(6)
    spots = centres(GRID)
    for _ in range(40):
        disc = Point(*rng.uniform(0, 5, 2)).buffer(1.5)
        shape = Polygon(rng.uniform(-4, 8, (3, 2))).union(disc).difference(disc.buffer(-0.6))
        area = MultiPolygon(list(shapely.get_parts(shape)))
        wanted = shapely.contains_xy(area, spots[:, 0], spots[:, 1]).reshape(GRID.height, GRID.width)
        np.testing.assert_array_equal(filled(area), wanted)


def test_polygons_are_painted_in_order_and_their_holes_stay_open() -> None:
    grid = Grid(0.0, 0.0, 2.0, 20, 20)
    ring = MultiPolygon([box(0, 0, 10, 10).difference(box(2, 2, 8, 8))])
    into = grid.full(-1, np.int32)
    paint_polygons(grid, [box(1, 1, 5, 5), ring], [7, 9], into)
    assert into[2, 2] == 9  # the ring over the box
    assert into[6, 6] == 7  # the box, seen through the hole
    assert into[14, 14] == -1  # the grid, seen through the hole
    assert np.count_nonzero(into == 9) == round(ring.area / grid.cell_mm2)


def test_an_empty_area_fills_nothing() -> None:
    assert not filled(MultiPolygon()).any()


def test_a_grid_around_bounds_holds_them_with_the_margin() -> None:
    grid = Grid.around((1.0, 2.0, 11.0, 4.5), 20.0, 0.5)
    assert (grid.x0, grid.y0, grid.width, grid.height) == (0.5, 1.5, 220, 70)
    np.testing.assert_allclose(grid.cells(np.array([[0.5, 1.5]])), [[0.0, 0.0]])
    np.testing.assert_allclose(grid.places(np.array([0]), np.array([0])), [[0.525, 1.525]])


def test_twenty_thousand_stitches_are_stamped_in_a_blink() -> None:
    rng = np.random.default_rng(7)
    start, turn = rng.uniform(0, 100, (20_000, 2)), rng.uniform(0, 2 * np.pi, 20_000)
    segments = np.stack([start, start + 4.0 * np.column_stack([np.cos(turn), np.sin(turn)])], axis=1)
    grid = Grid.around((0, 0, 100, 100), 20.0, 1.0)
    into = grid.full(-1, np.int32)
    before = time.process_time()
    paint_segments(grid, segments, 0.25, np.arange(20_000), into)
    assert time.process_time() - before < 1.5  # 0.3 s on the machine that it was written on
