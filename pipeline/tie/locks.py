"""Lock stitches: a few small ones over the first or last stitches of a block, so inside its cover."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from pipeline.model import Points

PATTERN = (0.0, 1.0, 0.15, 1.15)
"""Where the needle goes in, in lock lengths from the thread's end: no hole is hit twice, none far apart."""

LOOK = 40
"""Needle points from the end within which a place for the lock is looked for: a few mm of any stitching."""
ROOM = np.array([-1.0, -1.0, 1.0, 1.0])
LEAST_MM = 0.45
"""Shorter locks would be taken out as too short once they lie on the grid; a dot gets at least this."""


GRAZE_MM = 0.12
"""How far a lock may pass the edge of the face: cover is sewn at least so far past it to allow for pull."""


def tie_in(path: Points, area: Polygon, lock_mm: float) -> Points:
    """Needle points that secure a thread at the start of ``path``; the path itself follows, ``(4, 2)``.

    They lie on ``area``, the face that ``path`` sews, where any of its first stitches leads along it.
    """
    return _along(path, area, lock_mm, PATTERN)


def tie_off(path: Points, area: Polygon, lock_mm: float) -> Points:
    """Needle points that secure a thread after the last point of ``path``, ``(3, 2)``."""
    return _along(path[::-1], area, lock_mm, PATTERN[1:])


def _along(path: Points, area: Polygon, lock_mm: float, pattern: tuple[float, ...]) -> Points:
    start = path[0]
    away = _direction(start, path[:LOOK] - start, area, lock_mm)
    return np.asarray(start + np.array(pattern)[:, None] * away)


def _direction(start: Points, offsets: Points, area: Polygon, lock_mm: float) -> Points:
    """One lock long, towards the first needle point at least so far away for which it lies on the face.

    Else towards the one for which most of it does, and shorter where all needle points are near.
    """
    far = np.hypot(*offsets.T)
    enough = np.flatnonzero(far >= lock_mm)
    if len(enough):
        ways = offsets[enough] * (lock_mm / far[enough])[:, None]
        return np.asarray(ways[_most_inside(start, ways, area)])
    chosen = int(far.argmax())
    if far[chosen] < 1e-6:
        return np.array([LEAST_MM, 0.0])
    reach = min(lock_mm, max(LEAST_MM, float(far[chosen]) / max(PATTERN)))
    return np.asarray(offsets[chosen] * (reach / far[chosen]))


def _most_inside(start: Points, ways: Points, area: Polygon) -> int:
    """Which of ``ways`` (``(n, 2)``, from ``start``) keeps to the face: the first that does, else the best."""
    tips = start + max(PATTERN) * ways
    lines = shapely.linestrings(np.stack([np.broadcast_to(start, tips.shape), tips], axis=1))
    room = shapely.intersection(area, shapely.box(*shapely.total_bounds(lines) + ROOM)).buffer(
        GRAZE_MM, quad_segs=2
    )
    outside = shapely.length(shapely.difference(lines, room))
    return int(np.argmin(np.round(outside, 3)))
