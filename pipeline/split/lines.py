"""Centrelines of hairlines: smooth, meeting exactly, reaching the ends of their shape."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from pipeline.geometry.polyline import Array, at, ring, stations, without_repeats
from pipeline.model import Line, points

STEP_MM = 0.15
"""Centrelines are resampled this close before smoothing."""

SMOOTH_MM = 0.5
"""Length over which a centreline is smoothed: zig-zags of its sampled contacts vanish, bends stay."""

CHORD_MM = 0.02
"""How far a chord may be off the centreline (the promise is 0.05 mm)."""

HEADING_MM = 1.5
"""A centreline is prolonged the way it went over this length at most."""

SHORT_OF_END_MM = 0.05
"""A centreline ends this far inside the outline."""


def smooth(line: Array, closed: bool = False) -> Array:
    """``line`` without its jitter; ends of an open one stay where they are."""
    line = without_repeats(ring(line) if closed else line, 1e-6)
    if len(line) < 3:
        return line
    way = stations(line)
    count = max(3, int(np.ceil(way[-1] / STEP_MM)) + 1)
    even = at(line, np.linspace(0.0, way[-1], count))
    half = max(1, min(round(0.5 * SMOOTH_MM / (way[-1] / (count - 1))), (count - 1) // 2))
    if closed:
        body = even[:-1]
        padded = np.vstack([body[-half:], body, body[:half]]) if half < len(body) else body
    else:
        padded = np.vstack([2 * even[0] - even[half:0:-1], even, 2 * even[-1] - even[-2 : -2 - half : -1]])
    window = np.ones(2 * half + 1) / (2 * half + 1)
    even = np.column_stack([np.convolve(padded[:, axis], window, mode="valid") for axis in (0, 1)])
    thin = shapely.get_coordinates(LineString(ring(even) if closed else even).simplify(CHORD_MM))
    if closed:
        return np.asarray(thin[:-1])
    return np.vstack([line[:1], thin[1:-1], line[-1:]])


def prolonged(line: Array, outline: Polygon, reach_mm: float) -> Array:
    """``line`` with its last point moved on straight, at most ``reach_mm``, to just inside ``outline``."""
    way = stations(line)
    back = at(line, np.array([max(0.0, way[-1] - min(max(0.5, reach_mm), HEADING_MM))]))[0]
    ahead = line[-1] - back
    norm = float(np.hypot(*ahead))
    if norm < 1e-9 or reach_mm <= 0.0:
        return line
    end = line[-1] + ahead / norm * reach_mm
    ray = LineString([line[-1], end]).intersection(outline)
    pieces = [p for p in np.atleast_1d(shapely.get_parts(ray)) if isinstance(p, LineString)]
    pieces = [p for p in pieces if p.distance(shapely.Point(line[-1])) < 1e-6]
    if not pieces:
        return line
    far = max(p.length for p in pieces)
    far = far if far >= reach_mm - 1e-6 else far - SHORT_OF_END_MM
    return np.vstack([line, line[-1] + ahead / norm * far]) if far > 0.02 else line


def as_line(line: Array, closed: bool = False) -> Line:
    """The model's form."""
    return Line(points(line), closed)
