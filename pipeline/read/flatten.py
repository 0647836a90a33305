"""Curves to polylines, all curves of an outline at once.

A cubic cut into n equal parameter steps lies within max|B″| / (8 n²) of its chords, and |B″| is at most six
times the larger second difference of its control points: n is taken from that bound, so the promised
tolerance holds always and is beaten mostly (by about a third in points).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pipeline.read.outline import Curves

Array = NDArray[np.float64]
# Steps a curve at most: a 10 m curve at 0.02 mm needs fewer. Beyond it the polyline gets coarser.
MOST_STEPS = 4000


@dataclass(frozen=True, eq=False)
class Track:
    """A flattened subpath: ``points (n, 2)``, ``corner (n,)`` (where two curves meet), and whether it is closed.

    A closed track doesn't repeat its first point. Consecutive points differ; a subpath of no length is one
    point.
    """

    points: Array
    corner: NDArray[np.bool_]
    closed: bool


def tracks(outline: Curves, curves: Array, tolerance: float, half_width: float = 0.0) -> list[Track]:
    """The subpaths of ``outline`` with its curves mapped to ``curves (n, 4, 2)``, true to ``tolerance``.

    With ``half_width`` the polyline also turns in steps so small that an edge that far out stays true.
    """
    if len(outline.first) == 1 and bool(outline.straight.all()):
        line = np.concatenate([curves[:1, 0], curves[:, 3]])
        line, marks, _ = _distinct(line, np.ones(len(line), dtype=bool), np.zeros(1, dtype=np.int64))
        return [_track(line, marks, outline.closed[0])]
    spots, corner, ends = _spots(outline, curves, tolerance, half_width)
    count = len(outline.first)
    low = np.zeros(count + 1, dtype=np.int64)
    low[1:-1] = ends[np.array(outline.first[1:], dtype=np.int64) - 1] if count > 1 else 0
    low[-1] = len(spots)
    lines, marks = np.empty((len(spots) + count, 2)), np.ones(len(spots) + count, dtype=bool)
    for i, first in enumerate(outline.first):
        a, b = low[i], low[i + 1]
        lines[a + i] = curves[first, 0]
        lines[a + i + 1 : b + i + 1], marks[a + i + 1 : b + i + 1] = spots[a:b], corner[a:b]
    starts = low[:-1] + np.arange(count)
    lines, marks, starts = _distinct(lines, marks, starts)
    bounds = [*starts.tolist(), len(lines)]
    return [
        _track(lines[bounds[i] : bounds[i + 1]], marks[bounds[i] : bounds[i + 1]], closed)
        for i, closed in enumerate(outline.closed)
    ]


def _spots(
    outline: Curves, curves: Array, tolerance: float, half_width: float
) -> tuple[Array, NDArray[np.bool_], NDArray[np.int64]]:
    """All points after the first of each curve, which of them end a curve, and how many there are up to each."""
    steps = _steps(outline, curves, tolerance, half_width)
    ends = np.cumsum(steps)
    which = np.repeat(np.arange(len(steps)), steps)
    place = np.arange(1, int(ends[-1]) + 1) - (ends - steps)[which]
    t = (place / steps[which])[:, None]
    a, b, c, d = curves[:, 0], curves[:, 1], curves[:, 2], curves[:, 3]
    cubic, square, line = d - a + 3 * (b - c), 3 * (a + c - 2 * b), 3 * (b - a)
    spots = ((cubic[which] * t + square[which]) * t + line[which]) * t + a[which]
    last = ends - 1
    spots[last] = d
    corner = np.zeros(len(spots), dtype=bool)
    corner[last] = True
    return spots, corner, ends


def _steps(outline: Curves, curves: Array, tolerance: float, half_width: float) -> NDArray[np.int64]:
    second = curves[:, :2] - 2 * curves[:, 1:3] + curves[:, 2:]
    bend = np.einsum("ijk,ijk->ij", second, second).max(axis=1) ** 0.25
    steps = np.ceil(bend * math.sqrt(0.75 / tolerance))
    if half_width > 0:
        # a circle of half_width leaves a chord over this turn by the tolerance
        chord = 2 * math.acos(max(1 - tolerance / half_width, 0.0))
        steps = np.maximum(steps, np.ceil(_turning(curves) / chord))
    steps[outline.straight] = 1
    return np.asarray(np.minimum(np.maximum(steps, 1), MOST_STEPS), dtype=np.int64)


def _turning(curves: Array) -> Array:
    """How far the control polygon of each curve turns, in radians."""
    legs = np.diff(curves, axis=1)
    a, b = legs[:, :-1], legs[:, 1:]
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return np.asarray(np.abs(np.arctan2(cross, (a * b).sum(axis=2))).sum(axis=1))


def _distinct(
    lines: Array, marks: NDArray[np.bool_], starts: NDArray[np.int64]
) -> tuple[Array, NDArray[np.bool_], NDArray[np.int64]]:
    """Without points that repeat the one before; a mark lost with one of them stays with the other."""
    far = np.abs(lines[1:] - lines[:-1]) > 1e-9
    keep = np.ones(len(lines), dtype=bool)
    keep[1:] = far[:, 0] | far[:, 1]
    keep[starts] = True
    if bool(keep.all()):
        return lines, marks, starts
    kept = np.flatnonzero(keep)
    return lines[kept], np.logical_or.reduceat(marks, kept), np.searchsorted(kept, starts)


def _track(line: Array, marks: NDArray[np.bool_], closed: bool) -> Track:
    """One track; a closed one without the point that repeats its first."""
    if closed and len(line) > 1:
        (x, y), (u, v) = line[0].tolist(), line[-1].tolist()
        if abs(x - u) <= 1e-9 and abs(y - v) <= 1e-9:
            line, marks = line[:-1], marks[:-1]
    return Track(line, marks, closed)
