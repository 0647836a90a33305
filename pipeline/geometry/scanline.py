"""Where parallel lines cross the outlines of a polygon: all lines and edges at once, in the order of the outlines.

The method is the classic scan conversion with half-open edges: a line at height h crosses an edge when
``low <= h < high``, so every ring is crossed an even number of times, whatever vertices lie on lines.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from pipeline.geometry.polyline import numbered

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Outline:
    """The rings of a polygon in one array: ring ``i`` is ``points[first[i]:first[i + 1]]``, closed."""

    points: Array
    first: Ints


@dataclass(frozen=True, eq=False)
class Crossings:
    """Crossings ``(n,)`` one after the other along the rings.

    ``line`` is the index of the crossed line, ``u`` the place on it, ``ring`` and ``edge`` (from point ``edge``
    to ``edge + 1`` of the outline) say where, ``falls`` is true where the ring goes to greater heights.
    """

    line: Ints
    u: Array
    ring: Ints
    edge: Ints
    falls: NDArray[np.bool_]


def outline(polygon: Polygon, angle_deg: float = 0.0) -> Outline:
    """The rings of ``polygon``, exterior first, turned by ``angle_deg`` so that lines at that angle lie flat."""
    coordinates, ring = shapely.get_coordinates(shapely.get_rings(polygon), return_index=True)
    first = np.searchsorted(ring, np.arange(int(ring[-1]) + 2 if len(ring) else 1))
    return Outline(turned(coordinates, angle_deg), first.astype(np.int64))


def turned(points: Array, angle_deg: float) -> Array:
    """Points as (along, across) of lines at ``angle_deg`` anticlockwise as seen with y down."""
    a = np.deg2rad(angle_deg)
    x, y = points[:, 0], points[:, 1]
    return np.column_stack([x * np.cos(a) - y * np.sin(a), x * np.sin(a) + y * np.cos(a)])


def turned_back(points: Array, angle_deg: float) -> Array:
    """The inverse of ``turned``."""
    a = np.deg2rad(angle_deg)
    u, v = points[:, 0], points[:, 1]
    return np.column_stack([u * np.cos(a) + v * np.sin(a), v * np.cos(a) - u * np.sin(a)])


def crossings(shape: Outline, heights: Array) -> Crossings:
    """Every crossing of ``shape`` with the horizontal lines at ``heights`` (ascending)."""
    points = shape.points
    edges = np.setdiff1d(np.arange(len(points)), shape.first[1:] - 1, assume_unique=True)
    v0, v1 = points[edges, 1], points[edges + 1, 1]
    low = np.searchsorted(heights, np.minimum(v0, v1))
    count = np.searchsorted(heights, np.maximum(v0, v1)) - low
    which, local = numbered(count)
    falls = (v1 > v0)[which]
    line = low[which] + np.where(falls, local, count[which] - 1 - local)
    edge = edges[which]
    start, step = points[edge], points[edge + 1] - points[edge]
    share = np.clip((heights[line] - start[:, 1]) / step[:, 1], 0.0, 1.0)
    ring = np.searchsorted(shape.first, edge, side="right") - 1
    return Crossings(line, start[:, 0] + share * step[:, 0], ring, edge, falls)
