"""Where a part may be entered and left."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from pipeline.model import Part, Spot


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
    found = shapely.get_coordinates(shapely.shortest_line(place, target))[0]
    return (float(found[0]), float(found[1]))
