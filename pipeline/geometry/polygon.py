"""Areas: one form for all of them, and cleaning."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

NOTHING = MultiPolygon()


def multipolygon(shape: BaseGeometry, least_mm2: float = 0.0) -> MultiPolygon:
    """The polygons of any geometry, made valid, as one ``MultiPolygon`` in a repeatable order.

    Lines and points that an overlay leaves behind are dropped, so are polygons of at most ``least_mm2``.
    """
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    pieces = [p for p in shapely.get_parts(_flat(shape)) if isinstance(p, Polygon) and p.area > least_mm2]
    return MultiPolygon(sorted(pieces, key=lambda p: p.bounds))


def _flat(shape: BaseGeometry) -> NDArray[np.object_]:
    """The parts of nested collections, one level deep at a time until none is left."""
    parts = np.atleast_1d(shapely.get_parts(shape))
    while any(part.geom_type in ("GeometryCollection", "MultiPolygon") for part in parts):
        parts = shapely.get_parts(parts)
    return parts


def opened(shape: BaseGeometry, radius_mm: float) -> MultiPolygon:
    """What is left of ``shape`` where a disc of ``radius_mm`` fits, inside the shape itself."""
    core = shape.buffer(-radius_mm, quad_segs=8)
    return multipolygon(core.buffer(radius_mm * 1.001, quad_segs=8).intersection(shape))


def filled(shape: MultiPolygon) -> MultiPolygon:
    """``shape`` with every hole closed."""
    return multipolygon(shapely.union_all([Polygon(p.exterior) for p in shape.geoms]))
