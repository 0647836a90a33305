"""Lock stitches: a few small ones over the first or last stitches of a block, so inside its cover."""

from __future__ import annotations

import numpy as np

from pipeline.model import Points

PATTERN = (0.0, 1.0, 0.15, 1.15)
"""Where the needle goes in, in lock lengths from the thread's end: no hole is hit twice, none far apart."""

LOOK = 40
"""Needle points from the end within which a place for the lock is looked for: a few mm of any stitching."""
LEAST_MM = 0.45
"""Shorter locks would be taken out as too short once they lie on the grid; a dot gets at least this."""


def tie_in(path: Points, lock_mm: float) -> Points:
    """Needle points that secure a thread at the start of ``path``; the path itself follows, ``(4, 2)``."""
    return _along(path, lock_mm, PATTERN)


def tie_off(path: Points, lock_mm: float) -> Points:
    """Needle points that secure a thread after the last point of ``path``, ``(3, 2)``."""
    return _along(path[::-1], lock_mm, PATTERN[1:])


def _along(path: Points, lock_mm: float, pattern: tuple[float, ...]) -> Points:
    start = path[0]
    away = _direction(path[:LOOK] - start, lock_mm)
    return np.asarray(start + np.array(pattern)[:, None] * away)


def _direction(offsets: Points, lock_mm: float) -> Points:
    """From a path's end to the first needle point at least a lock away, else to the farthest, as one lock."""
    far = np.hypot(*offsets.T)
    enough = np.flatnonzero(far >= lock_mm)
    chosen = int(enough[0]) if len(enough) else int(far.argmax())
    if far[chosen] < 1e-6:
        return np.array([LEAST_MM, 0.0])
    reach = min(lock_mm, max(LEAST_MM, float(far[chosen]) / max(PATTERN)))
    return np.asarray(offsets[chosen] * (reach / far[chosen]))
