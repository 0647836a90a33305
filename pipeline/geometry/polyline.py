"""Polylines as ``(n, 2)`` arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.intp]


def stations(line: Array) -> Array:
    """The arc length at every point, ``(n,)``, from 0."""
    steps = line[1:] - line[:-1]  # in one go: this is asked for more often than anything else
    along = np.zeros(len(line))
    np.cumsum(np.hypot(steps[:, 0], steps[:, 1]), out=along[1:])
    return along


def length(line: Array) -> float:
    """The whole length."""
    return float(stations(line)[-1])


def at(line: Array, distances: Array) -> Array:
    """The points at ``distances`` along the line (clamped to its ends), ``(m, 2)``."""
    along = stations(line)
    return np.column_stack([np.interp(distances, along, line[:, axis]) for axis in (0, 1)])


def ring(line: Array) -> Array:
    """A closed line with its first point repeated at the end."""
    return np.vstack([line, line[:1]])


def numbered(counts: NDArray[np.integer]) -> tuple[Ints, Ints]:
    """For pieces of which ``counts[i]`` belong to ``i``, the ``i`` of each and its number there, from 0."""
    owner = np.repeat(np.arange(len(counts)), counts)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)


def counted(line: Array, longest_mm: float | Array) -> Ints:
    """How many equal pieces of each segment are none longer than ``longest_mm`` (one, or each its own)."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    return np.asarray(np.maximum(np.ceil(steps / longest_mm - 1e-9), 1), dtype=np.intp)


def divided(line: Array, counts: NDArray[np.integer]) -> Array:
    """``line`` with each of its segments in so many equal pieces; its own points are kept."""
    owner, number = numbered(counts)
    inner = line[owner] + (number / counts[owner])[:, None] * (line[owner + 1] - line[owner])
    return np.vstack([inner, line[-1:]])


def spaced(line: Array, longest_mm: float) -> Array:
    """``line`` with further points, so that no segment is longer than ``longest_mm``."""
    return divided(line, counted(line, longest_mm))


def without_repeats(line: Array, least_mm: float = 1e-9) -> Array:
    """The line without points closer than ``least_mm`` to the one before."""
    keep = np.ones(len(line), dtype=bool)
    keep[1:] = np.hypot(*np.diff(line, axis=0).T) > least_mm
    return line[keep]


def without_straight(line: Array, near_mm: float) -> Array:
    """The line without the points that lie within ``near_mm`` of the straight line through their neighbours.

    All at once, so that the error of a bend of n points may grow to n² / 8 times that.
    """
    step = np.diff(line, axis=0)
    a, b = step[:-1], step[1:]
    twice = np.abs(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    ahead = (a * b).sum(axis=1) > 0
    keep = np.ones(len(line), dtype=bool)
    keep[1:-1] = ~ahead | (twice > near_mm * np.hypot(*(a + b).T))
    return line[keep]


def aside(spots: Array, a: Array, b: Array) -> Array:
    """The distance of each of ``spots`` from its own straight piece from ``a`` to ``b``, all ``(n, 2)``."""
    way = b - a
    share = np.clip(((spots - a) * way).sum(axis=1) / np.maximum((way * way).sum(axis=1), 1e-18), 0.0, 1.0)
    return np.asarray(np.hypot(*(a + share[:, None] * way - spots).T))


def spot_of(place: Array) -> tuple[float, float]:
    """A point ``(2,)`` as a pair of numbers."""
    return float(place[0]), float(place[1])


def away(one: tuple[float, float], other: tuple[float, float]) -> float:
    """The distance of two points."""
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))
