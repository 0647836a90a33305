"""Where a part may be entered and left."""

from __future__ import annotations

import shapely
from shapely.geometry import Point, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.polyline import spot_of
from pipeline.model import Part, Spot

OUT_MM = 0.5
"""An end of a column so far beside its parent is no way out: the thread would lie on the finished satin."""


def nearest_end(part: Part, target: BaseGeometry) -> Spot:
    """The place nearest to ``target`` where the thread may come into ``part`` or leave it.

    Tatami takes any place on or in its area, a run any place on its lines, an open satin column the middle of
    either end, a closed one any place between its rails.
    """
    if part.kind == "tatami":
        place = part.area
    elif part.lines:
        place = shapely.MultiLineString([line.points for line in part.lines])
    elif part.column is None:
        place = part.area
    else:
        middle = (part.column.left + part.column.right) / 2.0
        place = shapely.LinearRing(middle) if part.column.closed else shapely.MultiPoint(middle[[0, -1]])
    return spot_of(shapely.get_coordinates(shapely.shortest_line(place, target))[0])


def way_out(part: Part, parent: Polygon, joint: Spot) -> Spot:
    """The place where the thread leaves ``part`` for its ``parent``, which is sewn later, at their ``joint``.

    That is the nearest end, or amid an open column whose ends both lie clear of the parent: a serif is sewn from
    both of its ends to the stem.
    """
    end = nearest_end(part, Point(joint))
    if part.column is None or part.column.closed or shapely.distance(Point(end), parent) <= OUT_MM:
        return end
    middle = shapely.LineString((part.column.left + part.column.right) / 2.0)
    return spot_of(shapely.get_coordinates(shapely.shortest_line(middle, Point(joint)))[0])
