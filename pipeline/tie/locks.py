"""Lock stitches: a few small ones over the first or last stitches of a block, so inside its cover."""

from __future__ import annotations

import numpy as np

from pipeline.geometry.polyline import at, length, without_repeats
from pipeline.model import Points

PATTERN = (0.0, 1.0, 0.15, 1.15)
"""Where the needle goes in, in lock lengths from the thread's end: no hole is hit twice, none far apart."""


def tie_in(path: Points, lock_mm: float) -> Points:
    """Needle points that secure a thread at the start of ``path``; the path itself follows, ``(4, 2)``."""
    return _along(path, lock_mm, PATTERN)


def tie_off(path: Points, lock_mm: float) -> Points:
    """Needle points that secure a thread after the last point of ``path``, ``(3, 2)``."""
    return _along(path[::-1], lock_mm, PATTERN[1:])


def _along(path: Points, lock_mm: float, pattern: tuple[float, ...]) -> Points:
    line = without_repeats(path[:40])
    if len(line) < 2:
        line = np.vstack([line, line + np.array([lock_mm, 0.0])])
    reach = min(lock_mm, length(line) / max(pattern))
    return at(line, np.array(pattern) * reach)
