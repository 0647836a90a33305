"""The shortest way between two places inside an area."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

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
EDGE_COST = 3.0
"""A way nearer to the outline than half the inset counts so many times its length."""
KEPT = 64
"""So many insets are remembered: of a large area many ways are asked for, one after the other."""


def way_inside(
    area: MultiPolygon, start: tuple[float, float], end: tuple[float, float], inset_mm: float, slack_mm: float
) -> NDArray[np.float64] | None:
    """A short polyline ``(n, 2)`` from ``start`` to ``end`` inside ``area``, or None if there is none.

    Corners keep ``inset_mm`` from the outline where there is room; both ends may lie up to ``slack_mm``
    outside. The way is straight if that leaves the outline at once, else the cheapest over the visibility graph of
    the simplified inset outline; only where that does not lead from end to end, as in necks, also of the outline
    itself, and at last of one ``slack_mm`` outside.
    """
    piece = _piece(_rooms(area, slack_mm), start, end)
    if piece is None:
        return None
    clear = core(piece, slack_mm + inset_mm / 2)
    ends = np.array([start, end])
    straight = LineString(ends)
    if piece.covers(straight) and near_edge(straight, clear) <= 2 * (slack_mm + inset_mm):
        return ends
    piece = piece.simplify(slack_mm / 2)
    shapely.prepare(piece)
    shapes: list[Polygon | MultiPolygon] = []
    for inset in (slack_mm + inset_mm, slack_mm, 0.0):
        shapes.append(core(piece, inset))
        entries = shapely.get_coordinates(shapely.shortest_line(shapes[0], shapely.points(ends)))[::2]
        corners = np.vstack([entries, _corners(shapes, MOST_CORNERS[0])])
        way = _over_corners(piece, clear, ends, corners)
        if way is not None:
            return way
    return _over_corners(piece, clear, ends, _corners(shapes, MOST_CORNERS[1]))


@lru_cache(maxsize=KEPT)
def _rooms(area: MultiPolygon, slack_mm: float) -> tuple[Polygon, ...]:
    """The connected pieces of ``area`` and ``slack_mm`` about it; prepared."""
    pieces = shapely.get_parts(overlay.buffer(area, slack_mm, quad_segs=2))
    shapely.prepare(pieces)
    return tuple(pieces)


@lru_cache(maxsize=KEPT)
def core(shape: Polygon | MultiPolygon, inset_mm: float) -> Polygon | MultiPolygon:
    """What of ``shape`` lies ``inset_mm`` or more within its outline, corners kept sharp; prepared."""
    found: Polygon | MultiPolygon = overlay.buffer(shape, -inset_mm, join_style="mitre", mitre_limit=2.0)
    shapely.prepare(found)
    return found


def near_edge(lines: Any, clear: Polygon | MultiPolygon) -> Any:
    """How much of each of ``lines`` lies outside ``clear``, the ``core`` of a shape, in mm."""
    return shapely.length(lines) - shapely.length(overlay.intersection(lines, clear))


def _over_corners(
    piece: Polygon, clear: Polygon | MultiPolygon, ends: NDArray[np.float64], corners: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """The cheapest way from the first to the second of ``ends`` with turns at ``corners`` only."""
    nodes = np.vstack([ends, corners])
    one, other = np.triu_indices(len(nodes), 1)
    lines = shapely.linestrings(np.stack([nodes[one], nodes[other]], axis=1))
    seen = shapely.covers(piece, lines) & (shapely.length(lines) > 0.0)
    one, other, lines = one[seen], other[seen], lines[seen]
    costs = shapely.length(lines) + 1e-6
    beside = ~shapely.covers(clear, lines)
    costs[beside] += (EDGE_COST - 1.0) * near_edge(lines[beside], clear)
    far, before = shortest(len(nodes), one, other, costs, np.array([0]))
    if not np.isfinite(far[0, 1]):
        return None
    return np.asarray(nodes[traced(before[0], 1)])


def _piece(rooms: tuple[Polygon, ...], start: tuple[float, float], end: tuple[float, float]) -> Polygon | None:
    """The connected piece that holds both ends."""
    return next((piece for piece in rooms if piece.covers(Point(start)) and piece.covers(Point(end))), None)


def _corners(shapes: list[Polygon | MultiPolygon], most: int) -> NDArray[np.float64]:
    """Corners of ``shapes`` to turn at, as coarse as the limit on their number asks."""
    for coarse in COARSE_MM:
        corners = np.vstack([_open_rings(shape.simplify(coarse)) for shape in shapes])
        if len(corners) <= most:
            break
    return corners[:: max(1, -(-len(corners) // most))]


def _open_rings(shape: Polygon | MultiPolygon) -> NDArray[np.float64]:
    rings = shapely.get_rings(shapely.get_parts(shape))
    coords, ring = shapely.get_coordinates(rings, return_index=True)
    last = np.ones(len(ring), dtype=bool)
    last[:-1] = ring[1:] != ring[:-1]
    return np.asarray(coords[~last])
