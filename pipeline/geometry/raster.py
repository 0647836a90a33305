"""Thick lines and polygons stamped into a grid of cells, in painting order: the last one wins.

Method: a thick segment is the set of points within half its width of it (a capsule, round ends), or a rectangle
about it (square ends). Either is convex, so each grid line across its longer axis cuts it in one span, whose two
ends are known exactly; the spans are stamped together. Polygons are filled by the even-odd rule: every edge flips
its row from the first cell centre on its right, and the running parity is the fill. A cell belongs to a shape when
its centre does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

import numpy as np
import shapely
from numpy.typing import DTypeLike, NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry.polyline import numbered

Array = NDArray[np.float64]
Labels = NDArray[Any]

CHUNK = 1000
"""Segments stamped at a time: more fall out of the processor's cache, fewer cost more calls; same result."""

FUZZ = 1e-9
"""Cells by which a span may miss a centre that lies on its rim, so that rounding does not nibble at edges."""


@dataclass(frozen=True)
class Grid:
    """``height`` rows of ``width`` square cells; row 0 is at the top, ``(x0, y0)`` its outer corner in mm."""

    x0: float
    y0: float
    px_per_mm: float
    width: int
    height: int

    @classmethod
    def around(cls, bounds: tuple[float, float, float, float], px_per_mm: float, margin_mm: float = 0.0) -> Grid:
        """The smallest grid that holds ``bounds`` (least x, least y, largest x, largest y) and a margin."""
        left, top, right, bottom = bounds
        return cls(
            left - margin_mm,
            top - margin_mm,
            px_per_mm,
            max(1, ceil((right - left + 2.0 * margin_mm) * px_per_mm - FUZZ)),
            max(1, ceil((bottom - top + 2.0 * margin_mm) * px_per_mm - FUZZ)),
        )

    @property
    def cell_mm2(self) -> float:
        """The area of one cell."""
        return 1.0 / (self.px_per_mm * self.px_per_mm)

    def full(self, value: Any, dtype: DTypeLike) -> NDArray[Any]:
        """A ``(height, width)`` array of ``value``, to paint into."""
        return np.full((self.height, self.width), value, dtype=dtype)

    def cells(self, places: Array) -> Array:
        """Places in mm, ``(..., 2)``, as columns and rows; cell ``(i, j)`` has its centre at i + ½, j + ½."""
        return (np.asarray(places, dtype=np.float64) - (self.x0, self.y0)) * self.px_per_mm

    def places(self, rows: NDArray[np.intp], columns: NDArray[np.intp]) -> Array:
        """The centres of cells in mm, ``(n, 2)``."""
        return np.column_stack([columns + 0.5, rows + 0.5]) / self.px_per_mm + (self.x0, self.y0)


def paint_segments(
    grid: Grid, segments: Array, width_mm: float, labels: Labels | int, into: Labels, square: bool = False
) -> None:
    """Stamp ``segments`` (``(n, 2, 2)``: start and end in mm), ``width_mm`` thick, with round ends or square ones.

    ``labels`` is ``(n,)`` or one number for all; ``into`` is the contiguous ``(height, width)`` array that
    takes them, later over earlier. What lies beyond the grid is cut off. A segment of no length is a disc, or
    nothing where ends are square.
    """
    ends = grid.cells(np.asarray(segments, dtype=np.float64).reshape(-1, 2, 2))
    marks = np.broadcast_to(np.asarray(labels, dtype=into.dtype), (len(ends),))
    flat = into.reshape(-1)
    if not np.shares_memory(flat, into):
        raise ValueError("the array to paint into must be contiguous")
    if square:
        real = np.hypot(*(ends[:, 1] - ends[:, 0]).T) > FUZZ
        ends, marks = ends[real], marks[real]
    for first in range(0, len(ends), CHUNK):
        chunk = slice(first, first + CHUNK)
        _stamp(grid, ends[chunk], width_mm * grid.px_per_mm / 2.0, marks[chunk], flat, square)


def _stamp(grid: Grid, ends: Array, half: float, marks: Labels, flat: Labels, square: bool) -> None:
    """One chunk. Spans are counted along ``u``, the longer axis of each segment, and lie along ``v``."""
    turn = ends[:, 1] - ends[:, 0]
    steep = np.abs(turn[:, 1]) > np.abs(turn[:, 0])
    ends = np.where(steep[:, None, None], ends[:, :, ::-1], ends)
    back = ends[:, 0, 0] > ends[:, 1, 0]
    ends = np.where(back[:, None, None], ends[:, ::-1], ends)
    reach = half if not square else half * np.abs(_way(ends)[1][:, 1])
    reach_u = np.where(steep, grid.height, grid.width)
    reach_v = np.where(steep, grid.width, grid.height)
    lowest = np.clip(np.ceil(ends[:, 0, 0] - reach - 0.5 - FUZZ), 0, reach_u).astype(np.int64)
    highest = np.clip(np.floor(ends[:, 1, 0] + reach - 0.5 + FUZZ), -1, reach_u - 1).astype(np.int64)
    owner, place = ragged(lowest, np.maximum(highest - lowest + 1, 0))
    if len(owner) == 0:
        return
    low, high = (_square_spans if square else _spans)(ends, half, owner, place)
    low = np.maximum(low, 0)
    high = np.minimum(high, reach_v[owner] - 1)
    stride_u = np.where(steep, grid.width, 1)[owner]
    stride_v = np.where(steep, 1, grid.width)[owner]
    start = place * stride_u + low * stride_v
    count = np.maximum(high - low + 1, 0)
    deep = int(count.max())
    step = np.arange(deep)
    target = start[:, None] + step * stride_v[:, None]
    inside = step < count[:, None]
    flat[target[inside]] = np.repeat(marks[owner], count)


def _way(ends: Array) -> tuple[Array, Array]:
    """Length of each segment, and its direction (none where it has no length)."""
    run = ends[:, 1] - ends[:, 0]
    length = np.hypot(run[:, 0], run[:, 1])
    return length, run / np.where(length > 0, length, 1.0)[:, None]


def _spans(
    ends: Array, radius: float, owner: NDArray[np.intp], place: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last cell across, at cell ``place`` along, of the capsule ``owner``.

    The rim above ``u`` is that of the disc about the point whose tangent touches there, kept on the segment:
    on the straight sides that gives the side, beyond them the round end.
    """
    run = ends[:, 1] - ends[:, 0]
    rise = run[:, 1] / np.where(run[:, 0] > 0, run[:, 0], 1.0)
    base = ends[owner, 0]
    ahead = place + 0.5 - base[:, 0]
    last, tilt, slope = run[owner, 0], radius * _way(ends)[1][owner, 1], rise[owner]
    rims = []
    for side in (-1.0, 1.0):
        touch = np.minimum(np.maximum(ahead + side * tilt, 0.0), last)
        gap = ahead - touch
        half = np.sqrt(np.maximum(radius * radius - gap * gap, 0.0))
        rims.append(base[:, 1] + touch * slope + side * half - 0.5)
    return np.ceil(rims[0] - FUZZ).astype(np.int64), np.floor(rims[1] + FUZZ).astype(np.int64)


def _square_spans(
    ends: Array, half: float, owner: NDArray[np.intp], place: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The same of the rectangle ``owner``: between its two sides and its two ends."""
    size, way = _way(ends)
    along, aside = way.T
    ahead = place + 0.5 - ends[owner, 0, 0]
    # The sides cut v at slope·u ± half / along, the ends where the way along the segment is 0 and its size.
    middle, side = ahead * (aside / along)[owner], (half / along)[owner]
    sign = np.where(aside >= 0.0, 1.0, -1.0)
    steepness = np.maximum(np.abs(aside), 1e-12)
    back = (-sign * along / steepness)[owner] * ahead
    far = back + (sign * size / steepness)[owner]
    base = ends[owner, 0, 1] - 0.5
    low = np.clip(np.maximum(middle - side, np.minimum(back, far)) + base, -1e6, 1e6)
    high = np.clip(np.minimum(middle + side, np.maximum(back, far)) + base, -1e6, 1e6)
    return np.ceil(low).astype(np.int64), np.floor(high).astype(np.int64)


def ragged(first: NDArray[Any], count: NDArray[Any]) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
    """Every number of the runs ``first[i], first[i] + 1, …`` (``count[i]`` of them), with its ``i``."""
    owner, number = numbered(count)
    return owner, first[owner] + number


def paint_polygons(
    grid: Grid, areas: Sequence[MultiPolygon | Polygon], labels: Sequence[int], into: NDArray[Any]
) -> None:
    """Stamp ``areas`` into ``into`` (``(height, width)``), each with its label, later over earlier."""
    for area, label in zip(areas, labels, strict=True):
        window = _filled(grid, area)
        if window is not None:
            rows, columns, inside = window
            into[rows, columns][inside] = label


def _filled(grid: Grid, area: MultiPolygon | Polygon) -> tuple[slice, slice, NDArray[np.bool_]] | None:
    """The window of the grid that ``area`` reaches, and which of its cells are inside; None if none is."""
    edges = grid.cells(_edges(area))
    if len(edges) == 0:
        return None
    lower = np.minimum(edges[:, 0, 1], edges[:, 1, 1])
    upper = np.maximum(edges[:, 0, 1], edges[:, 1, 1])
    first = np.clip(np.ceil(lower - 0.5), 0, grid.height).astype(np.int64)
    past = np.clip(np.ceil(upper - 0.5), 0, grid.height).astype(np.int64)
    owner, row = ragged(first, past - first)
    if len(owner) == 0:
        return None
    start = edges[owner, 0]
    run = edges[owner, 1] - start
    cross = start[:, 0] + (row + 0.5 - start[:, 1]) * run[:, 0] / run[:, 1]
    column = np.clip(np.ceil(cross - 0.5), 0, grid.width).astype(np.int64)
    top, left = int(row.min()), int(column.min())
    height, width = int(row.max()) - top + 1, int(column.max()) - left + 1
    flips = np.bincount((row - top) * width + column - left, minlength=height * width)
    parity = np.cumsum(flips.reshape(height, width) & 1, axis=1, dtype=np.uint8) & 1
    right = min(left + width, grid.width)
    return slice(top, top + height), slice(left, right), parity[:, : right - left].astype(np.bool_)


def _edges(area: MultiPolygon | Polygon) -> Array:
    """Every edge of every ring, ``(n, 2, 2)`` in mm."""
    rings = shapely.get_rings(shapely.get_parts(area))
    spots, owner = shapely.get_coordinates(rings, return_index=True)
    pairs = np.stack([spots[:-1], spots[1:]], axis=1)
    return np.asarray(pairs[owner[:-1] == owner[1:]], dtype=np.float64)
