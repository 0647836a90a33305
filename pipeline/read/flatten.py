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

from pipeline.read.outline import Outline

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


def tracks(outline: Outline, curves: Array, tolerance: float, half_width: float = 0.0) -> list[Track]:
    """The subpaths of ``outline`` with its curves mapped to ``curves (n, 4, 2)``, true to ``tolerance``.

    With ``half_width`` the polyline also turns in steps so small that an edge that far out stays true.
    """
    steps = _steps(outline, curves, tolerance, half_width)
    ends = np.cumsum(steps)
    which = np.repeat(np.arange(len(steps)), steps)
    place = np.arange(int(ends[-1])) - np.repeat(ends - steps, steps)
    t = ((place + 1) / steps[which])[:, None]
    p = curves[which]
    s = 1 - t
    spots = s * s * s * p[:, 0] + 3 * s * s * t * p[:, 1] + 3 * s * t * t * p[:, 2] + t * t * t * p[:, 3]
    last = ends - 1
    spots[last] = curves[:, 3]
    corner = np.zeros(len(spots), dtype=bool)
    corner[last] = True
    bounds = [*outline.first, len(curves)]
    found = []
    for i, closed in enumerate(outline.closed):
        a, b = bounds[i], bounds[i + 1]
        lo, hi = int(ends[a] - steps[a]), int(ends[b - 1])
        line = np.vstack([curves[a, :1], spots[lo:hi]])
        marks = np.concatenate([[True], corner[lo:hi]])
        found.append(_clean(line, marks, closed))
    return found


def _steps(outline: Outline, curves: Array, tolerance: float, half_width: float) -> NDArray[np.int64]:
    second = np.abs(curves[:, :2] - 2 * curves[:, 1:3] + curves[:, 2:4])
    bend = np.hypot(second[..., 0], second[..., 1]).max(axis=1)
    steps = np.ceil(np.sqrt(0.75 * bend / tolerance))
    if half_width > 0:
        steps = np.maximum(steps, np.ceil(_turning(curves) / _step_angle(tolerance, half_width)))
    steps[outline.straight] = 1
    return np.asarray(np.clip(steps, 1, MOST_STEPS), dtype=np.int64)


def _turning(curves: Array) -> Array:
    """How far the control polygon of each curve turns, in radians."""
    legs = np.diff(curves, axis=1)
    a, b = legs[:, :-1], legs[:, 1:]
    cross = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return np.asarray(np.abs(np.arctan2(cross, (a * b).sum(axis=2))).sum(axis=1))


def _step_angle(tolerance: float, half_width: float) -> float:
    """The turn at which a circle of ``half_width`` leaves its chord by ``tolerance``."""
    return 2 * math.acos(max(1 - tolerance / half_width, 0.0))


def _clean(line: Array, marks: NDArray[np.bool_], closed: bool) -> Track:
    """Without repeated points; a mark lost with one of them stays with the other."""
    gap = np.any(np.abs(np.diff(line, axis=0)) > 1e-9, axis=1)
    keep = np.concatenate([[True], gap])
    group = np.cumsum(keep) - 1
    marked = np.zeros(int(group[-1]) + 1, dtype=bool)
    np.logical_or.at(marked, group, marks)
    line = line[keep]
    if closed and len(line) > 1 and bool(np.all(np.abs(line[0] - line[-1]) <= 1e-9)):
        line, marked = line[:-1], marked[:-1]
    return Track(line, marked, closed)
