"""The shortest way between two places inside an area."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, MultiPolygon, Point, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.graph import shortest, traced

MOST_CORNERS = 48, 192
"""Corners of the visibility graph, and on a second try: its cost grows with the square, a coarser way is a little
longer, and in a winding area too few of them miss the way altogether."""
COARSE_MM = (0.15, 0.4, 1.0, 2.5)


def way_inside(
    area: MultiPolygon, start: tuple[float, float], end: tuple[float, float], inset_mm: float, slack_mm: float
) -> NDArray[np.float64] | None:
    """A short polyline ``(n, 2)`` from ``start`` to ``end`` inside ``area``, or None if there is none.

    Corners keep ``inset_mm`` from the outline where there is room; both ends may lie up to ``slack_mm``
    outside. The way is straight if it can be, else the shortest over the visibility graph of the simplified
    inset outline (exact for that outline).
    """
    room = overlay.buffer(area, slack_mm, quad_segs=2)
    straight = LineString([start, end])
    if room.covers(straight):
        return np.array([start, end])
    piece = _piece(room, start, end)
    if piece is None:
        return None
    clear = piece.simplify(slack_mm / 2)
    shapely.prepare(clear)
    for most in MOST_CORNERS:
        way = _over_corners(clear, np.array([start, end]), _corners(piece, inset_mm + slack_mm, most))
        if way is not None:
            return way
    return None


def _over_corners(
    piece: Polygon, ends: NDArray[np.float64], corners: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """The shortest way from the first to the second of ``ends`` with turns at ``corners`` only."""
    nodes = np.vstack([ends, corners])
    one, other = np.triu_indices(len(nodes), 1)
    lines = shapely.linestrings(np.stack([nodes[one], nodes[other]], axis=1))
    seen = shapely.covers(piece, lines)
    lengths = shapely.length(lines[seen]) + 1e-6
    far, before = shortest(len(nodes), one[seen], other[seen], lengths, np.array([0]))
    if not np.isfinite(far[0, 1]):
        return None
    return np.asarray(nodes[traced(before[0], 1)])


def _piece(room: Polygon | MultiPolygon, start: tuple[float, float], end: tuple[float, float]) -> Polygon | None:
    """The connected piece that holds both ends."""
    for piece in shapely.get_parts(room):
        if piece.covers(Point(start)) and piece.covers(Point(end)):
            return piece
    return None


def _corners(piece: Polygon, inset_mm: float, most: int) -> NDArray[np.float64]:
    """Corners to turn at: of the inset outline, as coarse as the limit on their number asks."""
    inner = overlay.buffer(piece, -inset_mm, quad_segs=2)
    for coarse in COARSE_MM:
        corners = np.vstack([_open_rings(inner.simplify(coarse)), _open_rings(piece.simplify(coarse))])
        if len(corners) <= most:
            break
    return corners[:: max(1, -(-len(corners) // most))]


def _open_rings(shape: Polygon | MultiPolygon) -> NDArray[np.float64]:
    rings = shapely.get_rings(shapely.get_parts(shape))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    last = np.ones(len(ring), dtype=bool)
    last[:-1] = ring[1:] != ring[:-1]
    return np.asarray(coords[~last])
