"""Ways inside an area: never outside, nearly the shortest, and away from the edge where there is room."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, box

from pipeline.geometry.neighbours import pairs
from pipeline.geometry.path import way_inside
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.geometry.polyline import ring, without_repeats, without_straight

HORSESHOE = box(0, 0, 40, 30).difference(box(15, -1, 25, 20))


@pytest.mark.parametrize("inset", [0.2, 0.6, 1.2])
def test_a_way_round_a_corner_keeps_its_inset(inset: float) -> None:
    way = way_inside(multipolygon(HORSESHOE), (5.0, 5.0), (35.0, 5.0), inset, 0.1)
    assert way is not None
    line = LineString(way)
    assert HORSESHOE.buffer(0.11).covers(line)
    corners = [Point(15, 20), Point(25, 20)]
    near = [line.distance(corner) for corner in corners]
    assert min(near) <= 1.6 * inset + 0.1
    shortest = LineString([(5, 5), (15, 20), (25, 20), (35, 5)]).length
    assert shortest - 0.3 <= line.length <= 1.1 * shortest + 2 * inset


@pytest.mark.parametrize("ends", [((2.0, 2.0), (13.0, 29.0)), ((0.0, 0.0), (14.0, 30.0))])
def test_what_is_in_sight_is_gone_to_straight(ends: tuple[tuple[float, float], tuple[float, float]]) -> None:
    way = way_inside(multipolygon(HORSESHOE), *ends, 0.6, 0.1)
    assert way is not None
    assert way.tolist() == [list(spot) for spot in ends]


@pytest.mark.parametrize("inset", [0.3, 0.8, 1.5])
@pytest.mark.parametrize("ends", [((0.0, 1.0), (0.0, 29.0)), ((1.0, 0.0), (39.0, 0.0)), ((15.0, 3.0), (25.0, 9.0))])
def test_a_way_leaves_the_edge_at_once_and_keeps_from_it(
    inset: float, ends: tuple[tuple[float, float], tuple[float, float]]
) -> None:
    way = way_inside(multipolygon(HORSESHOE), *ends, inset, 0.1)
    assert way is not None
    away = shapely.distance(HORSESHOE.boundary, shapely.points(way[1:-1]))
    assert away.min() >= inset - 0.01
    assert LineString(way).intersection(HORSESHOE.boundary.buffer(0.5 * inset - 0.01)).length <= 3.0 * inset


def test_a_neck_narrower_than_the_inset_is_passed() -> None:
    necked = shapely.union_all([box(0, 0, 10, 10), box(9, 4.7, 21, 5.3), box(20, 0, 30, 10)])
    way = way_inside(multipolygon(necked), (1.0, 1.0), (29.0, 9.0), 1.0, 0.1)
    assert way is not None
    assert necked.buffer(1e-3).covers(LineString(way))


@pytest.mark.parametrize("inset", [0.3, 0.6, 1.2])
@pytest.mark.parametrize("wide", [0.25, 0.4, 0.6, 1.0])
def test_a_way_goes_round_a_slit_however_narrow(wide: float, inset: float) -> None:
    slit = box(0, 0, 40, 30).difference(box(20, -1, 20 + wide, 20))
    for depth in (5.0, 12.0, 19.0):
        way = way_inside(multipolygon(slit), (5.0, depth), (35.0, depth + 0.5), inset, 0.1)
        assert way is not None
        assert slit.buffer(0.11).covers(LineString(way))


@pytest.mark.parametrize("seed", range(4))
def test_neighbours_are_told_both_ways_and_by_their_distance(seed: int) -> None:
    random = np.random.default_rng(seed)
    areas = [multipolygon(box(x, y, x + 3, y + 3)) for x, y in random.uniform(0, 25, (20, 2))]
    for distance in (0.0, 0.7, 2.0):
        near = pairs(areas, distance)
        for k, found in enumerate(near):
            assert found == [j for j in range(len(areas)) if j != k and areas[k].distance(areas[j]) <= distance]


def test_straight_points_go_and_a_reversal_stays() -> None:
    line = np.array([[0.0, 0.0], [2.0, 0.0], [4.0, 0.0], [1.0, 0.0], [1.0, 3.0]])
    assert without_straight(line, 1e-6).tolist() == [[0, 0], [4, 0], [1, 0], [1, 3]]
    close = np.array([[0.0, 0.0], [1e-4, 0.0], [1.0, 0.0], [1.0, 0.0]])
    assert len(without_repeats(close, 1e-6)) == 3
    assert len(without_repeats(close, 1e-3)) == 2
    assert ring(line)[-1].tolist() == [0.0, 0.0]


@pytest.mark.parametrize("width", [0.9, 1.1])
def test_opening_takes_what_is_narrower_than_the_disc(width: float) -> None:
    shape = box(0, 0, 20, 20).union(box(19, 5, 40, 5 + width))
    found = opened(shape, 0.5)
    assert (found.area > 410) == (width > 1.0)
    assert shape.buffer(1e-3).covers(found)


def test_pieces_up_to_the_least_area_are_dropped_and_the_grid_is_fine() -> None:
    both = shapely.union_all([box(0, 0, 1, 1), box(5.00123, 0, 9, 4)])
    assert len(multipolygon(both, 1.0).geoms) == 1
    assert multipolygon(both, 1.0).bounds[0] == pytest.approx(5.00123, abs=1e-6)
