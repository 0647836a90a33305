"""Centrelines of hairlines: smooth, meeting exactly, reaching the ends of their shape."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from pipeline.geometry import overlay
from pipeline.geometry.polyline import Array, at, ring, stations, without_repeats
from pipeline.geometry.window import Windows
from pipeline.model import Line, points

STEP_MM = 0.15
"""Centrelines are resampled this close before smoothing."""

SMOOTH_MM = 0.5
"""Length over which a centreline is smoothed: zig-zags of its sampled contacts vanish, bends stay."""

CHORD_MM = 0.02
"""How far a chord may be off the centreline (the promise is 0.05 mm)."""

CORNER = 0.05, 0.35, 60.0
"""A centreline, simplified to the first of these (mm), has a corner where it turns between two edges of at least
the second (mm) by more than the third (degrees)."""

CHAMFER_MM = 0.3
"""The middles of cross-sections cut a corner, by four tenths of the width: so much may lie between its edges."""

HEADING_MM = 1.5
"""A centreline is prolonged the way it went over this length at most."""

SHORT_OF_END_MM = 0.05
"""A centreline ends this far inside the outline."""


def smooth(line: Array, closed: bool = False) -> Array:
    """``line`` without its jitter; its corners and the ends of an open one stay where they are."""
    line = without_repeats(ring(line) if closed else line, 1e-6)
    if len(line) < 3:
        return line
    if closed:
        line = _seamed(line)
    corners = _corners(line)
    if not corners:
        return _calmed(line, closed)
    first, last = corners[0], corners[-1]
    between = [np.vstack([one.spot, line[one.after : two.before + 1], two.spot]) for one, two in pairwise(corners)]
    if closed:
        pieces = [*between, np.vstack([last.spot, line[last.after : -1], line[: first.before + 1], first.spot])]
    else:
        head, tail = line[: first.before + 1], line[last.after :]
        pieces = [np.vstack([head, first.spot]), *between, np.vstack([last.spot, tail])]
    pieces = [_calmed(without_repeats(piece, 1e-6), False) for piece in pieces]
    whole = np.vstack([pieces[0], *(piece[1:] for piece in pieces[1:])])
    return whole[:-1] if closed else whole


@dataclass(frozen=True, eq=False)
class Corner:
    """A corner of a centreline at ``spot``, between its points ``before`` and ``after``."""

    spot: Array
    before: int
    after: int


def _seamed(line: Array) -> Array:
    """A closed line (first point repeated) begun anew in the middle of its longest straight stretch."""
    thin = _thin(line)
    k = int(np.argmax(np.hypot(*np.diff(line[thin], axis=0).T)))
    return ring(np.roll(line[:-1], -(int(thin[k]) + int(thin[k + 1])) // 2, axis=0))


def _thin(line: Array) -> NDArray[np.intp]:
    """Which points the line, simplified, keeps."""
    kept = shapely.get_coordinates(LineString(line).simplify(CORNER[0]))
    inner = [int(np.argmin(np.hypot(*(line - spot).T))) for spot in kept[1:-1]]
    return np.array([0, *inner, len(line) - 1], dtype=np.intp)


def _corners(line: Array) -> list[Corner]:
    """The corners of an open line, in order."""
    thin = _thin(line)
    step = np.diff(line[thin], axis=0)
    long = np.flatnonzero(np.hypot(*step.T) >= CORNER[1])
    found = []
    for one, two in pairwise(long.tolist()):
        before, after = int(thin[one + 1]), int(thin[two])
        (ax, ay), (bx, by) = step[one], step[two]
        cross, dot = ax * by - ay * bx, ax * bx + ay * by
        if np.degrees(abs(np.arctan2(cross, dot))) <= CORNER[2]:
            continue
        if stations(line[before : after + 1])[-1] > CHAMFER_MM:
            continue
        gap = line[after] - line[before]
        spot = line[before] + step[one] * (gap[0] * by - gap[1] * bx) / cross
        if np.hypot(*(spot - line[before])) <= CHAMFER_MM:
            found.append(Corner(spot, before, after))
    return found


def _calmed(line: Array, closed: bool) -> Array:
    """A line without corners smoothed; a closed one comes with its first point repeated and goes without."""
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


def prolonged(line: Array, outline: Windows, reach_mm: float) -> Array:
    """``line`` with its last point moved on straight, at most ``reach_mm``, to just inside ``outline``."""
    way = stations(line)
    back = at(line, np.array([max(0.0, way[-1] - min(max(0.5, reach_mm), HEADING_MM))]))[0]
    ahead = line[-1] - back
    norm = float(np.hypot(*ahead))
    if norm < 1e-9 or reach_mm <= 0.0:
        return line
    end = line[-1] + ahead / norm * reach_mm
    ray = LineString([line[-1], end])
    ray = overlay.intersection(ray, outline.around(ray.bounds))
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
