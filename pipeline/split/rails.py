"""Cross-sections of a column from its two sides.

The two sides are taken as chains of points. The axis between them (centres of Delaunay triangles with samples of
both, the dual of Voronoi ridges at half the cost) needs no pruning, and the nearest points of both sides to a point
of that axis make a cross-section that is square to it: both are touched by the same inscribed disc. Free ends are
swept with parallel cross-sections instead, as the axis there bends into the corners.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import Delaunay
from shapely.geometry import LineString, Polygon

from pipeline.geometry.polyline import Array, at, stations, without_repeats

SAMPLES_MM = 0.25
"""Distance of samples on the sides. Larger is quicker, and less exact in bends as narrow as the column."""

PLAIN_MM = 0.001
"""Points that stand out of a side by less are no samples: only the axis of a finely flattened curve needs them."""

STRAIGHT_MM = 0.01
"""A side's corners below this are left out of the cross-sections (the promise is 0.02 mm)."""

SMOOTH_MM = 1.0
"""Way over which cross-sections are smoothed. Shorter shows corners of flattened curves, longer rounds bends."""

STEP_MM = 0.1
"""Cross-sections are set this far apart before smoothing."""

UNTANGLE = 24
"""How often a crossing pair of cross-sections loses one; more costs time in hopeless faces."""

SAME_MM = 1e-6
"""Places along a side, or heights, nearer than this are one."""

CLOSE_MM = 0.12
"""Cross-sections closer together than this (both sides summed) are left out unless a corner needs them."""


@dataclass(frozen=True, eq=False)
class Sides:
    """The chains of points ``right`` and ``left`` of a column, both walked from its start to its end.

    ``start`` and ``end`` are the arc lengths on (right, left) between which cross-sections are square to the
    axis; beyond them lies a free end, whose point both chains share. None where the chains end squarely.
    """

    right: Array
    left: Array
    start: tuple[float, float] | None = None
    end: tuple[float, float] | None = None

    def reversed(self) -> Sides:
        """The same column walked the other way."""
        lengths = stations(self.right)[-1], stations(self.left)[-1]
        turned = [
            None if ends is None else (float(lengths[1] - ends[1]), float(lengths[0] - ends[0]))
            for ends in (self.end, self.start)
        ]
        return Sides(self.left[::-1], self.right[::-1], turned[0], turned[1])


def cross_sections(sides: Sides, face: Polygon, seam: bool = False) -> tuple[Array, Array] | None:
    """Points ``(n, 2)`` on the left and on the right side, or None if the sides have no axis between them.

    With ``seam`` the sides are closed loops, each with its first point repeated at the end.
    """
    right, left = stations(sides.right)[-1], stations(sides.left)[-1]
    base = _axis(sides, face) if min(right, left) > 1e-6 else None
    if base is None:
        return None
    u, v = base
    if seam:  # near the seam a foot may be found at the other end of its loop
        same = np.abs(u / right - v / left) < 0.5
        u, v = u[same], v[same]
    low, high = sides.start or (0.0, 0.0), sides.end or (right, left)
    square = (u >= low[0]) & (u <= high[0]) & (v >= low[1]) & (v <= high[1])
    pairs = np.column_stack([u[square], v[square]])
    ends = [low] if sides.start is None else [], [high] if sides.end is None else []
    pairs = np.vstack([np.reshape(ends[0], (-1, 2)), pairs, np.reshape(ends[1], (-1, 2))])
    if len(pairs) < 2:
        return None
    pairs = _smoothed(np.column_stack([_steady(pairs[:, 0]), _steady(pairs[:, 1])]))
    if sides.end is not None:
        pairs = np.vstack([pairs, _cap(sides, pairs)])
    if sides.start is not None:
        back = _cap(sides.reversed(), np.array([left, right]) - pairs[::-1, ::-1])
        pairs = np.vstack([np.array([right, left]) - back[::-1, ::-1], pairs])
    return _placed(sides, pairs)


def _smoothed(pairs: Array) -> Array:
    """``pairs`` of arc lengths without the unrest that comes from corners of finely flattened curves.

    The difference of both sides is averaged over ``SMOOTH_MM`` of way: straight stretches stay as they are.
    """
    way = pairs.sum(axis=1)
    count = int((way[-1] - way[0]) / (2.0 * STEP_MM)) + 1
    half = min(round(0.5 * SMOOTH_MM / STEP_MM), (count - 1) // 4)
    if half < 1:
        return pairs
    even = np.linspace(way[0], way[-1], count)
    lead = np.interp(even, way + np.arange(len(way)) * 1e-12, pairs[:, 0] - pairs[:, 1])
    padded = np.concatenate([2 * lead[0] - lead[half:0:-1], lead, 2 * lead[-1] - lead[-2 : -2 - half : -1]])
    lead = np.convolve(padded, np.full(2 * half + 1, 1.0 / (2 * half + 1)), mode="valid")
    return np.column_stack([_steady(0.5 * (even + lead)), _steady(0.5 * (even - lead))])


def swept(sides: Sides, direction: Array) -> tuple[Array, Array] | None:
    """Parallel cross-sections square to ``direction`` (2,) from end to end, both ends free."""
    pairs = _level(sides.right, sides.left, direction)
    return _placed(sides, pairs) if len(pairs) > 1 else None


def swept_mm2(sides: Sides, direction: Array) -> float:
    """The area between the ends of all parallel cross-sections square to ``direction``: what they cover, nearly."""
    chains = (sides.left, sides.right)
    steps, heights = _heights(chains, direction)
    left, right = (
        np.column_stack([np.interp(steps, high, line[:, axis]) for axis in (0, 1)])
        for line, high in zip(chains, heights, strict=True)
    )
    x, y = np.vstack([left, right[::-1]]).T
    return float(0.5 * abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))))


def _axis(sides: Sides, face: Polygon) -> tuple[Array, Array] | None:
    """The arc lengths on right and left of the feet of the axis between the sides, in order."""
    plain = shapely.simplify([LineString(sides.right), LineString(sides.left)], PLAIN_MM)
    right, left = (shapely.get_coordinates(side) for side in shapely.segmentize(plain, SAMPLES_MM))
    if sides.end is not None:
        right, left = right[:-1], left[:-1]
    if sides.start is not None:
        right, left = right[1:], left[1:]
    samples = np.vstack([right, left])
    if len(right) < 2 or len(left) < 2 or len(samples) < 5:
        return None
    corners = np.asarray(Delaunay(samples).simplices)
    count = (corners < len(right)).sum(axis=1)
    shapely.prepare(face)
    centres = _centres(samples[corners[(count > 0) & (count < 3)]])
    centres = centres[shapely.contains_xy(face, *centres.T)]
    u, v = _feet(sides.right, centres), _feet(sides.left, centres)
    order = np.argsort(u + v, kind="stable")
    return u[order], v[order]


def _centres(corners: Array) -> Array:
    """The centres of the circles through the corners ``(n, 3, 2)`` of triangles; flat ones have none."""
    a = corners[:, 0]
    (bx, by), (cx, cy) = (corners[:, 1] - a).T, (corners[:, 2] - a).T
    twice = 2.0 * (bx * cy - by * cx)
    solid = np.abs(twice) > 1e-12
    twice = np.where(solid, twice, 1.0)
    b, c = bx * bx + by * by, cx * cx + cy * cy
    return np.asarray((a + np.column_stack([cy * b - by * c, bx * c - cx * b]) / twice[:, None])[solid])


def _feet(line: Array, spots: Array) -> Array:
    """The arc length of the point of ``line`` nearest to each of ``spots``; n log m by a tree of its segments."""
    line = without_repeats(line)
    tree = shapely.STRtree(shapely.linestrings(np.stack([line[:-1], line[1:]], axis=1)))
    which, near = tree.query_nearest(shapely.points(spots), all_matches=False)
    step = np.diff(line, axis=0)
    size = np.hypot(*step.T)
    away = ((spots[which] - line[near]) * step[near]).sum(axis=1) / size[near]
    feet = np.empty(len(spots))
    feet[which] = stations(line)[near] + np.clip(away, 0.0, size[near])
    return feet


def _steady(values: Array) -> Array:
    """``values`` made non-decreasing, evenly from both sides."""
    rising, falling = np.maximum.accumulate(values), np.minimum.accumulate(values[::-1])[::-1]
    return np.asarray(0.5 * (rising + falling))


def _cap(sides: Sides, pairs: Array) -> Array:
    """Pairs of arc lengths for the free end beyond the last regular cross-section."""
    near = pairs[max(0, len(pairs) - 8) :]
    rungs = at(sides.left, near[:, 1]) - at(sides.right, near[:, 0])
    rungs /= np.maximum(np.hypot(*rungs.T), 1e-12)[:, None]
    x, y = rungs.mean(axis=0)
    # Right is clockwise of the way as seen (y down), so the way ahead is the rung turned by a right angle.
    ahead = np.array([-y, x])
    rests = _rest(sides.right, float(pairs[-1, 0])), _rest(sides.left, float(pairs[-1, 1]))
    return np.asarray(_level(*rests, ahead) + pairs[-1])


def _rest(line: Array, distance: float) -> Array:
    along = stations(line)
    return np.vstack([at(line, np.array([distance])), line[along > distance + 1e-9], line[-1:]])


def _level(right: Array, left: Array, ahead: Array) -> Array:
    """Pairs of arc lengths on both chains at equal heights in direction ``ahead``, rising."""
    steps, heights = _heights((right, left), ahead)
    ways = (stations(right), stations(left))
    return np.column_stack([np.interp(steps, high, way) for high, way in zip(heights, ways, strict=True)])


def _heights(chains: tuple[Array, Array], ahead: Array) -> tuple[Array, list[Array]]:
    """Where to set cross-sections, as heights in direction ``ahead``, and the rising height of every point."""
    tiny = 1e-7
    heights = [np.maximum.accumulate(line @ ahead) + np.arange(len(line)) * 1e-12 for line in chains]
    low = max(heights[0][0], heights[1][0])
    high = min(heights[0][-1], heights[1][-1]) - 0.01
    steps = np.concatenate(heights)
    steps = _distinct(steps[(steps > low + tiny) & (steps < high)])
    return np.concatenate([[low + tiny] if low < high else [], steps, [high] if high > low else []]), heights


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
    every = _distinct(np.concatenate([needed, spaced, way[[0, -1]]]))
    u, v = (_shared(np.interp(every, way + rise, side)) for side in pairs.T)
    return _untangled(at(sides.left, v), at(sides.right, u))


def _distinct(values: Array) -> Array:
    """``values`` in order without those nearer than ``SAME_MM`` to the one before."""
    values = np.sort(values)
    return values[np.diff(values, prepend=-np.inf) > SAME_MM]


def _shared(values: Array) -> Array:
    """Rising ``values``, of those nearer than ``SAME_MM`` to the one before the first instead.

    So cross-sections that fan from one point share it exactly.
    """
    first = np.diff(values, prepend=-np.inf) > SAME_MM
    return values[np.maximum.accumulate(np.where(first, np.arange(len(values)), 0))]


def _untangled(left: Array, right: Array) -> tuple[Array, Array]:
    """Without the few cross-sections that cross the one before (where a side doubles back)."""
    for _ in range(UNTANGLE):
        bad = np.flatnonzero(crossing(left, right))
        if not len(bad) or len(left) < 4:
            break
        drop = np.where((bad + 1 < len(left) - 1), bad + 1, bad)
        left, right = np.delete(left, drop, axis=0), np.delete(right, drop, axis=0)
    return left, right


def crossing(left: Array, right: Array) -> NDArray[np.bool_]:
    """Whether a cross-section properly crosses the next one, ``(n - 1,)``."""
    a, b, c, d = left[:-1], right[:-1], left[1:], right[1:]
    return _apart(_turn(a, b, c), _turn(a, b, d)) & _apart(_turn(c, d, a), _turn(c, d, b))


def _apart(one: Array, other: Array) -> NDArray[np.bool_]:
    """Whether two points lie on different sides, clear of rounding."""
    return np.asarray((one * other < 0.0) & (np.minimum(np.abs(one), np.abs(other)) > 1e-7))


def _turn(a: Array, b: Array, c: Array) -> Array:
    ab, ac = b - a, c - a
    return np.asarray(ab[:, 0] * ac[:, 1] - ab[:, 1] * ac[:, 0])


def _corners(line: Array) -> Array:
    """Arc lengths of the points of a chain without which it would be off by ``STRAIGHT_MM``."""
    line = without_repeats(line)
    if len(line) < 3:
        return np.empty(0)
    along = stations(line)
    kept = shapely.get_coordinates(shapely.simplify(shapely.linestrings(line), STRAIGHT_MM))
    # The kept points are among the given ones, in order.
    spot = {tuple(p): a for p, a in zip(line.tolist(), along.tolist(), strict=True)}
    return np.array([spot[tuple(p)] for p in kept.tolist() if tuple(p) in spot])
