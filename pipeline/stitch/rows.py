"""The rows of a fill and the outline pieces between their ends: the graph that a fill is walked on.

Nodes are row ends: node ``2j`` is the left and ``2j + 1`` the right end of row piece ``j``, so ``i ^ 1`` is the
other end of the same piece. Along its ring every node has a neighbour ``after`` and one ``before`` it; the
stretch of outline from ``i`` to ``after[i]`` is called outline piece ``i``. Each ring holds an even number of
nodes, and all nodes hang together, however narrow the polygon's necks are: the graph never needs a jump.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.polyline import stations
from pipeline.geometry.scanline import Array, Crossings, Ints, Outline, crossings, outline

Flags = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Rows:
    """``heights`` (rows,) and per node: ``u``, ``row``, ``ring``, outline ``edge``, length ``along`` the ring.

    ``place`` counts the nodes of a ring from 0; ``gap`` is the length of outline piece i; ``below`` is the ring
    neighbour on the side of greater heights and ``piece_below`` the outline piece that leads to it.
    ``first`` is the design-wide number of row 0, which anchors the brick pattern.
    """

    shape: Outline
    heights: Array
    first: int
    u: Array
    row: Ints
    ring: Ints
    edge: Ints
    along: Array
    place: Ints
    after: Ints
    before: Ints
    gap: Array
    falls: Flags
    _bodies: dict[float, Polygon | MultiPolygon] = field(default_factory=dict)

    @cached_property
    def v(self) -> Array:
        return self.heights[self.row]

    @cached_property
    def below(self) -> Ints:
        return np.where(self.falls, self.after, self.before)

    @cached_property
    def piece_below(self) -> Ints:
        return np.where(self.falls, np.arange(len(self.u)), self.before)

    @cached_property
    def ring_size(self) -> Ints:
        """How many nodes each ring of the outline has."""
        return np.bincount(self.ring, minlength=len(self.shape.first) - 1)

    @cached_property
    def _area(self) -> Polygon:
        rings = [self.shape.points[a:b] for a, b in pairwise(self.shape.first.tolist()) if b - a > 2]
        return Polygon(rings[0], rings[1:])

    def body(self, grown_mm: float) -> Polygon | MultiPolygon:
        """The filled area, along and across the rows, grown by ``grown_mm``; made when first asked for."""
        key = round(grown_mm, 2)
        if key not in self._bodies:
            grown = overlay.buffer(self._area, key)
            shapely.prepare(grown)
            self._bodies[key] = grown
        return self._bodies[key]

    def length(self) -> Array:
        """Length of every row piece."""
        return self.u[1::2] - self.u[::2]

    def outline_piece(self, node: int) -> Array:
        """The outline's own points strictly between ``node`` and the node after it, ``(n, 2)``."""
        other = int(self.after[node])
        a, b = int(self.edge[node]), int(self.edge[other])
        first, stop = self.shape.first[self.ring[node]], self.shape.first[self.ring[node] + 1] - 1
        wraps = b < a or (a == b and self.along[other] <= self.along[node])
        if not wraps:
            return self.shape.points[a + 1 : b + 1]
        return np.vstack([self.shape.points[a + 1 : stop], self.shape.points[first : b + 1]])


@dataclass(frozen=True, eq=False)
class Bridge:
    """A hidden way ``points`` from node ``near`` to ``into``, one end of a cut in a row (see ``parted``).

    The cut's other end, ``last``, is where the walk ends.
    """

    near: int
    into: int
    last: int
    points: Array


def parted(rows: Rows, left: int, u: float) -> Rows:
    """``rows`` with the row piece that begins at node ``left`` cut in two at ``u``.

    The cut's ends are the nodes ``left + 1`` and ``left + 2``; they have a ring of their own, of no length.
    """
    at = [left + 1, left + 1]
    spot = np.array([[u, rows.heights[rows.row[left]]]])
    points = len(rows.shape.points)
    shape = Outline(np.vstack([rows.shape.points, spot, spot]), np.append(rows.shape.first, points + 2))

    def shifted(own: Ints) -> Ints:
        return np.insert(own + 2 * (own > left), at, [left + 2, left + 1])

    return Rows(
        shape, rows.heights, rows.first, np.insert(rows.u, at, u), np.insert(rows.row, at, rows.row[left]),
        np.insert(rows.ring, at, len(shape.first) - 2), np.insert(rows.edge, at, points),
        np.insert(rows.along, at, 0.0), np.insert(rows.place, at, [0, 1]), shifted(rows.after),
        shifted(rows.before), np.insert(rows.gap, at, 0.0), np.insert(rows.falls, at, [True, False]),
    )  # fmt: skip


def heights_of(shape: Outline, row_mm: float) -> tuple[Array, int]:
    """Heights of rows exactly ``row_mm`` apart, the rest split on both edges, and the first one's number."""
    low, high = float(shape.points[:, 1].min()), float(shape.points[:, 1].max())
    count = max(1, round((high - low) / row_mm))
    steps = np.full(count, row_mm)
    heights = np.cumsum(steps) - 0.5 * steps
    heights += 0.5 * (low + high - steps.sum())
    return heights, int(np.floor(heights[0] / row_mm + 0.5))


def lay_rows(area: Polygon, angle_deg: float, row_mm: float, slit_mm: float) -> Rows:
    """The rows of ``area`` at ``angle_deg``; gaps under ``slit_mm`` along a row are sewn over."""
    shape = outline(area, angle_deg)
    heights, first = heights_of(shape, row_mm)
    hits = crossings(shape, heights)
    order = np.lexsort((hits.u, hits.line))
    order = order[_outside_slits(hits, order, slit_mm)]
    return _linked(shape, heights, first, hits, order)


def _outside_slits(hits: Crossings, order: Ints, slit_mm: float) -> Flags:
    """Which of the sorted crossings stay once narrow gaps (both sides on one ring) are closed."""
    keep = np.ones(len(order), dtype=bool)
    right, left = order[1:-1:2], order[2::2]
    narrow = (
        (hits.line[right] == hits.line[left])
        & (hits.ring[right] == hits.ring[left])
        & (hits.u[left] - hits.u[right] < slit_mm)
    )
    keep[1:-1:2] = keep[2::2] = ~narrow
    return keep


def _linked(shape: Outline, heights: Array, first: int, hits: Crossings, order: Ints) -> Rows:
    count = len(order)
    travelled = stations(shape.points)
    along = travelled[hits.edge] + np.hypot(
        hits.u - shape.points[hits.edge, 0], heights[hits.line] - shape.points[hits.edge, 1]
    )
    node_of = np.full(len(hits.u), -1, dtype=np.int64)
    node_of[order] = np.arange(count)
    round_rings = node_of[node_of >= 0]
    ring = hits.ring[order]
    size = np.bincount(ring, minlength=len(shape.first) - 1)
    start = np.cumsum(size) - size
    place = np.empty(count, dtype=np.int64)
    place[round_rings] = np.arange(count) - start[ring[round_rings]]
    after = round_rings[start[ring] + (place + 1) % np.maximum(size[ring], 1)]
    before = round_rings[start[ring] + (place - 1) % np.maximum(size[ring], 1)]
    along = along[order]
    perimeter = travelled[shape.first[1:] - 1] - travelled[shape.first[:-1]]
    gap = (along[after] - along) % np.maximum(perimeter[ring], 1e-12)
    return Rows(
        shape, heights, first, hits.u[order], hits.line[order], ring, hits.edge[order], along, place, after,
        before, gap, hits.falls[order],
    )  # fmt: skip
