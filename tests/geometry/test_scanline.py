"""Scanline crossings against shapely's own intersections, and the promises that fills lean on."""

import numpy as np
import pytest
import shapely
from shapely.geometry import LineString, Point, Polygon, box

from pipeline.geometry.scanline import crossings, outline, turned, turned_back

SHAPES = {
    "square": box(0, 0, 10, 10),
    "square with vertices on lines": Polygon([(0, 0), (5, 1), (10, 0), (9, 5), (10, 10), (5, 9), (0, 10), (1, 5)]),
    "ring": Point(5, 5).buffer(5).difference(Point(5.2, 4.7).buffer(2)),
    "two holes": box(0, 0, 10, 10).difference(box(1, 1, 3, 9)).difference(Point(7, 5).buffer(2)),
}


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("angle", [0.0, 37.0, 90.0, 123.4])
def test_row_pieces_are_those_that_shapely_finds(name: str, angle: float) -> None:
    shape = outline(SHAPES[name], angle)
    flat = Polygon(
        turned(np.array(SHAPES[name].exterior.coords), angle),
        [turned(np.array(ring.coords), angle) for ring in SHAPES[name].interiors],
    )
    low, high = flat.bounds[1], flat.bounds[3]
    heights = np.arange(low + 0.013, high, 0.37)
    hits = crossings(shape, heights)
    for index, height in enumerate(heights):
        found = np.sort(hits.u[hits.line == index])
        line = flat.intersection(LineString([(-100, height), (100, height)]))
        expected = np.sort(shapely.get_coordinates(line)[:, 0])
        np.testing.assert_allclose(found, expected, atol=1e-9)


def test_vertices_on_lines_are_crossed_an_even_number_of_times() -> None:
    for polygon in SHAPES.values():
        hits = crossings(outline(polygon), np.arange(0.0, 10.01, 0.5))
        assert len(hits.u)
        assert np.all(np.bincount(hits.ring) % 2 == 0)
        for line in np.unique(hits.line):
            assert (hits.line == line).sum() % 2 == 0


def test_crossings_come_in_the_order_of_the_rings() -> None:
    polygon = SHAPES["two holes"]
    shape = outline(polygon)
    heights = np.arange(0.05, 10, 0.2)
    hits = crossings(shape, heights)
    rings = list(shapely.get_rings(polygon))
    place = np.array(
        [rings[r].project(Point(u, heights[line])) for r, u, line in zip(hits.ring, hits.u, hits.line, strict=True)]
    )
    for ring in range(len(rings)):
        assert np.all(np.diff(place[hits.ring == ring]) > 0)
    falls = shape.points[hits.edge + 1, 1] > shape.points[hits.edge, 1]
    np.testing.assert_array_equal(falls, hits.falls)


def test_angle_runs_anticlockwise_as_seen_with_y_down() -> None:
    along = turned(np.array([[np.cos(np.deg2rad(30)), -np.sin(np.deg2rad(30))]]), 30.0)
    np.testing.assert_allclose(along, [[1.0, 0.0]], atol=1e-12)
    spots = np.random.default_rng(3).uniform(-50, 50, (20, 2))
    np.testing.assert_allclose(turned_back(turned(spots, 71.0), 71.0), spots, atol=1e-12)
