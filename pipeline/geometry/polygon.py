"""Areas: one form for all of them, and cleaning."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay

NOTHING = MultiPolygon()
POLYGON = 3
"""The type id of polygons; multi-part geometries and collections have higher ones."""
GRID_DIGITS = 5
"""Corners lie on a grid of 10 nm. Where two neighbours' shared edge differs in its last bits only, GEOS 3.11 to
3.14 can return all of one as their intersection; on the grid such corners are the same. Coarser grids break more
than they mend."""


def multipolygon(shape: BaseGeometry, least_mm2: float = 0.0) -> MultiPolygon:
    """The polygons of any geometry, made valid, on the common grid, in a repeatable order.

    Lines and points that an overlay leaves behind are dropped, so are polygons of at most ``least_mm2``.
    """
    pieces = _polygons(np.array([shape], dtype=object))
    pieces = _polygons(shapely.transform(pieces, lambda spots: np.round(spots, GRID_DIGITS)))
    if len(pieces) > 1 and not shapely.multipolygons(pieces).is_valid:
        pieces = _polygons(np.array([overlay.union_all(pieces, grid_size=10.0**-GRID_DIGITS)], dtype=object))
    kept = pieces[shapely.area(pieces) > least_mm2]
    found: MultiPolygon = shapely.multipolygons(kept[np.lexsort(shapely.bounds(kept).reshape(-1, 4).T[::-1])])
    return found


def _polygons(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """All polygons of ``shapes``, made valid one by one: a collection of several kinds cannot be."""
    parts = pieces_of(shapes)
    valid = shapely.is_valid(parts)
    if valid.all():
        return parts
    return np.concatenate([parts[valid], pieces_of(overlay.make_valid(parts[~valid]))])


def pieces_of(shapes: NDArray[np.object_]) -> NDArray[np.object_]:
    """All polygons of ``shapes``, out of collections within collections: one level fewer in every round."""
    parts = shapes
    while len(parts) and (shapely.get_type_id(parts) > POLYGON).any():
        parts = shapely.get_parts(parts)
    return np.asarray(parts[shapely.get_type_id(parts) == POLYGON])


def largest(shape: BaseGeometry) -> Polygon | None:
    """The largest polygon of any geometry, the first of equals; None if it has none."""
    return next(iter(polygons(shape)), None)


def polygons(shape: BaseGeometry) -> list[Polygon]:
    """The polygons of any geometry, largest first, as they come of equals."""
    pieces = (piece for piece in shapely.get_parts(shape) if isinstance(piece, Polygon) and not piece.is_empty)
    return sorted(pieces, key=lambda piece: -piece.area)


def holding(shape: BaseGeometry, part: Polygon) -> Polygon:
    """The polygon of ``shape`` that shares most with ``part``, which lies in it; ``part`` itself if it has none."""
    pieces = polygons(shape)
    if len(pieces) < 2:
        return pieces[0] if pieces else part
    return max(pieces, key=lambda piece: float(overlay.intersection(piece, part).area))


def opened(shape: BaseGeometry, radius_mm: float) -> MultiPolygon:
    """What is left of ``shape`` where a disc of ``radius_mm`` fits, inside the shape itself."""
    core = overlay.buffer(shape, -radius_mm, quad_segs=8)
    return multipolygon(overlay.intersection(overlay.buffer(core, radius_mm * 1.001, quad_segs=8), shape))


def filled(shape: MultiPolygon) -> MultiPolygon:
    """``shape`` with every hole closed."""
    return multipolygon(overlay.union_all([Polygon(p.exterior) for p in shape.geoms]))
