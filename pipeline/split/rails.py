"""Cross-sections of a column from its two sides.

The two sides are taken as chains of points. The axis between them (Voronoi ridges between a sample of one and a
sample of the other) needs no pruning, and the nearest points of both sides to a point of that axis make a
cross-section that is square to it: both are touched by the same inscribed disc. Free ends are swept with
parallel cross-sections instead, as the axis there bends into the corners.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Voronoi
from shapely.geometry import LineString, Polygon

from pipeline.geometry.medial import CAP
from pipeline.geometry.polyline import Array, at, stations, without_repeats

SAMPLES_MM = 0.25
"""Distance of samples on the sides. Larger is quicker, and less exact in bends as narrow as the column."""

STRAIGHT_MM = 0.01
"""A side's corners below this are left out of the cross-sections (the promise is 0.02 mm)."""

CLOSE_MM = 0.12
"""Cross-sections closer together than this (both sides summed) are left out unless a corner needs them."""


@dataclass(frozen=True, eq=False)
class Sides:
    """The chains of points ``right`` and ``left`` of a column, both walked from its start to its end."""

    right: Array
    left: Array
    free_start: bool
    free_end: bool

    def reversed(self) -> Sides:
        """The same column walked the other way."""
        return Sides(self.left[::-1], self.right[::-1], self.free_end, self.free_start)


def cross_sections(sides: Sides, face: Polygon, seam: bool = False) -> tuple[Array, Array] | None:
    """Points ``(n, 2)`` on the left and on the right side, or None if the sides have no axis between them.

    With ``seam`` the sides are closed loops, each with its first point repeated at the end.
    """
    right, left = stations(sides.right), stations(sides.left)
    if right[-1] < 1e-6 or left[-1] < 1e-6:
        return None
    base = _axis(sides, face)
    if base is None:
        return None
    centres, u, v = base
    if seam:  # near the seam a foot may be found at the other end of its loop
        same = np.abs(u / right[-1] - v / left[-1]) < 0.5
        centres, u, v = centres[same], u[same], v[same]
    if not len(u):
        return None
    keep = _regular(centres, sides, u, v)
    u, v = _steady(u[keep]), _steady(v[keep])
    if not len(u):
        return None
    head, tail = np.empty((0, 2)), np.empty((0, 2))
    if sides.free_end:
        tail = _cap(sides, u, v)
    else:
        tail = np.array([[right[-1], left[-1]]])
    if sides.free_start:
        back = _cap(sides.reversed(), (left[-1] - v)[::-1], (right[-1] - u)[::-1])
        head = np.column_stack([right[-1] - back[:, 1], left[-1] - back[:, 0]])[::-1]
    else:
        head = np.array([[0.0, 0.0]])
    return _placed(sides, np.vstack([head, np.column_stack([u, v]), tail]))


def swept(sides: Sides, direction: Array) -> tuple[Array, Array] | None:
    """Parallel cross-sections square to ``direction`` (2,) from end to end, both ends free."""
    pairs = _level(sides.right, sides.left, direction)
    return _placed(sides, pairs) if len(pairs) > 1 else None


def _axis(sides: Sides, face: Polygon) -> tuple[Array, Array, Array] | None:
    """Points of the axis between the sides in order, and the arc length of their feet on right and left."""
    right = shapely.get_coordinates(shapely.segmentize(LineString(sides.right), SAMPLES_MM))
    left = shapely.get_coordinates(shapely.segmentize(LineString(sides.left), SAMPLES_MM))
    if sides.free_end:
        right, left = right[:-1], left[:-1]
    if sides.free_start:
        right, left = right[1:], left[1:]
    samples = np.vstack([right, left])
    if len(right) < 2 or len(left) < 2 or len(samples) < 5:
        return None
    voronoi = Voronoi(samples)
    across = (np.asarray(voronoi.ridge_points) < len(right)).sum(axis=1) == 1
    ends = np.asarray(voronoi.ridge_vertices, dtype=np.intp)[across]
    used = np.unique(ends[ends >= 0])
    shapely.prepare(face)
    centres = voronoi.vertices[used]
    centres = centres[shapely.contains_xy(face, *centres.T)]
    if not len(centres):
        return None
    spots = shapely.points(centres)
    u = shapely.line_locate_point(LineString(sides.right), spots)
    v = shapely.line_locate_point(LineString(sides.left), spots)
    order = np.argsort(u + v, kind="stable")
    return centres[order], u[order], v[order]


def _regular(centres: Array, sides: Sides, u: Array, v: Array) -> slice:
    """The stretch of the axis that stays clear of free ends."""
    radii = 0.5 * (np.hypot(*(at(sides.right, u) - centres).T) + np.hypot(*(at(sides.left, v) - centres).T))
    along = stations(centres)
    first, last = 0, len(along)
    if sides.free_end:
        out = along[-1] + radii[-1] - along - radii
        near = np.flatnonzero(out < CAP * radii)
        last = int(near[0]) if len(near) else last
    if sides.free_start:
        out = along + radii[0] - radii
        near = np.flatnonzero(out < CAP * radii)
        first = int(near[-1]) + 1 if len(near) else first
    return slice(first, last)


def _steady(values: Array) -> Array:
    """``values`` made non-decreasing, evenly from both sides."""
    return 0.5 * (np.maximum.accumulate(values) + np.minimum.accumulate(values[::-1])[::-1])


def _cap(sides: Sides, u: Array, v: Array) -> Array:
    """Pairs of arc lengths for the free end beyond the last regular cross-section."""
    near = slice(max(0, len(u) - 8), len(u))
    rungs = at(sides.left, v[near]) - at(sides.right, u[near])
    rungs /= np.maximum(np.hypot(*rungs.T), 1e-12)[:, None]
    x, y = rungs.mean(axis=0)
    # Right is clockwise of the way as seen (y down), so the way ahead is the rung turned by a right angle.
    ahead = np.array([-y, x])
    right_rest = _rest(sides.right, float(u[-1]))
    left_rest = _rest(sides.left, float(v[-1]))
    return _level(right_rest, left_rest, ahead) + np.array([u[-1], v[-1]])


def _rest(line: Array, distance: float) -> Array:
    along = stations(line)
    return np.vstack([at(line, np.array([distance])), line[along > distance + 1e-9], line[-1:]])


def _level(right: Array, left: Array, ahead: Array) -> Array:
    """Pairs of arc lengths on both chains at equal heights in direction ``ahead``, rising."""
    tiny = 1e-7
    heights, ways = [], []
    for line in (right, left):
        along = stations(line)
        height = np.maximum.accumulate(line @ ahead)
        heights.append(height + np.arange(len(height)) * 1e-12)
        ways.append(along)
    low = max(heights[0][0], heights[1][0])
    high = min(heights[0][-1], heights[1][-1]) - 0.01
    steps = np.concatenate(heights)
    steps = np.unique(np.round(steps[(steps > low + tiny) & (steps < high)], 6))
    steps = np.concatenate([[low + tiny] if low < high else [], steps, [high] if high > low else []])
    return np.column_stack([np.interp(steps, heights[0], ways[0]), np.interp(steps, heights[1], ways[1])])


def _placed(sides: Sides, pairs: Array) -> tuple[Array, Array]:
    """Cross-sections at ``pairs`` of arc lengths and at every corner of either side between the first and last."""
    pairs = np.column_stack([_steady(pairs[:, 0]), _steady(pairs[:, 1])])
    way = pairs.sum(axis=1)
    rise = np.arange(len(pairs)) * 1e-12
    corners = [_corners(line) for line in (sides.right, sides.left)]
    needed = np.concatenate(
        [
            np.interp(c[(c > side[0]) & (c < side[-1])], side + rise, way)
            for c, side in zip(corners, pairs.T, strict=True)
        ]
    )
    spaced = way[np.unique(np.floor(way / CLOSE_MM), return_index=True)[1]]
    every = np.unique(np.concatenate([needed, spaced, way[[0, -1]]]))
    every = every[np.concatenate([[True], np.diff(every) > 1e-6])]
    u, v = np.interp(every, way + rise, pairs[:, 0]), np.interp(every, way + rise, pairs[:, 1])
    return _untangled(at(sides.left, v), at(sides.right, u))


def _untangled(left: Array, right: Array) -> tuple[Array, Array]:
    """Without the few cross-sections that cross the one before (where a side doubles back)."""
    for _ in range(8):
        bad = np.flatnonzero(crossing(left, right))
        if not len(bad) or len(left) < 4:
            break
        drop = np.where((bad + 1 < len(left) - 1), bad + 1, bad)
        left, right = np.delete(left, drop, axis=0), np.delete(right, drop, axis=0)
    return left, right


def crossing(left: Array, right: Array) -> NDArray[np.bool_]:
    """Whether a cross-section properly crosses the next one, ``(n - 1,)``."""
    a, b, c, d = left[:-1], right[:-1], left[1:], right[1:]
    one = _turn(a, b, c) * _turn(a, b, d) < -1e-12
    other = _turn(c, d, a) * _turn(c, d, b) < -1e-12
    return np.asarray(one & other)


def _turn(a: Array, b: Array, c: Array) -> Array:
    ab, ac = b - a, c - a
    return np.asarray(ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])


def _corners(line: Array) -> Array:
    """Arc lengths of the points of a chain without which it would be off by ``STRAIGHT_MM``."""
    line = without_repeats(line)
    if len(line) < 3:
        return np.empty(0)
    along = stations(line)
    kept = shapely.get_coordinates(LineString(np.column_stack([line])).simplify(STRAIGHT_MM))
    # The kept points are among the given ones, in order.
    spot = {tuple(p): a for p, a in zip(line.tolist(), along.tolist(), strict=True)}
    return np.array([spot[tuple(p)] for p in kept.tolist() if tuple(p) in spot])
