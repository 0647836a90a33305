from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.geometry import MultiPolygon, Point, Polygon, box

from pipeline.geometry.offset import moved
from pipeline.geometry.path import way_inside
from pipeline.geometry.polygon import filled, multipolygon, opened


def test_neighbours_whose_edge_differs_in_the_last_bits_do_not_swallow_each_other() -> None:
    """Measured on a flag: in floating point alone the second operand's intersection is all of the first."""
    edge = np.array([[2.0333333333333337, 65.59555555555556], [80.0, 24.444444444444443]])
    upper = Polygon([(76.87, 13.28), (1.86, 65.38), *edge, (80.0, 20.0)])
    lower = Polygon([(2.25, 65.86), (80.0, 37.78), *(edge[::-1] + np.array([[0.0, 3.6e-15], [4.4e-16, 0.0]]))])
    one, other = multipolygon(upper), multipolygon(lower)
    assert one.intersection(other).area < 1e-3
    assert other.intersection(one).area < 1e-3
    assert one.union(other).area == pytest.approx(upper.area + lower.area, abs=1e-3)


def test_leftovers_are_dropped_and_order_is_repeatable() -> None:
    mixed = shapely.GeometryCollection(
        [box(5, 0, 6, 1), Point(0, 0), box(0, 0, 1, 1), MultiPolygon([box(2, 0, 3, 1)])]
    )
    assert [p.bounds[0] for p in multipolygon(mixed).geoms] == [0.0, 2.0, 5.0]
    assert multipolygon(Polygon([(0, 0), (2, 2), (2, 0), (0, 2)])).area == pytest.approx(2.0)


def test_opening_by_a_disc_loses_what_the_closed_form_says() -> None:
    """Loss at a corner of angle φ: r²(cot(φ/2) − (π − φ)/2)."""
    radius = 2.0
    lost = 400.0 - opened(box(0, 0, 20, 20), radius).area
    right = radius**2 * (1 - np.pi / 4)
    assert lost == pytest.approx(4 * right, rel=0.03)


def test_filled_closes_every_hole() -> None:
    assert filled(multipolygon(box(0, 0, 9, 9).difference(box(3, 3, 5, 5)))).area == pytest.approx(81.0)


@pytest.mark.parametrize("distance", [-1.5, -0.5, 0.5, 2.0])
def test_offset_of_a_square_is_exact(distance: float) -> None:
    grown = moved(box(0, 0, 10, 10), distance)
    corners = np.pi * distance**2 if distance > 0 else 4 * distance**2
    assert grown.area == pytest.approx(100 + 40 * distance + corners, rel=1e-3)
    if distance > 0:
        assert moved(box(0, 0, 10, 10), distance, "mitre").area == pytest.approx((10 + 2 * distance) ** 2, rel=1e-6)


def test_offset_keeps_holes_and_islands() -> None:
    shape = multipolygon(box(0, 0, 30, 30).difference(box(5, 5, 25, 25)).union(box(12, 12, 18, 18)))
    grown = moved(shape, -1.0)
    assert len(grown.geoms) == 2
    assert sum(len(p.interiors) for p in grown.geoms) == 1


def test_way_goes_straight_where_it_can_and_round_the_corner_where_it_must() -> None:
    angle = multipolygon(box(0, 0, 30, 5).union(box(0, 0, 5, 30)))
    straight = way_inside(angle, (1.0, 1.0), (29.0, 1.0), 0.5, 0.1)
    assert straight is not None
    assert len(straight) == 2
    bent = way_inside(angle, (29.0, 2.0), (2.0, 29.0), 0.5, 0.1)
    assert bent is not None
    assert angle.buffer(0.2).covers(shapely.LineString(bent))
    shortest = 2 * np.hypot(24.0, 3.0)
    assert shapely.LineString(bent).length < shortest * 1.1


def test_no_way_between_separate_pieces() -> None:
    assert way_inside(multipolygon(box(0, 0, 5, 5).union(box(8, 0, 12, 5))), (1, 1), (9, 1), 0.3, 0.1) is None
