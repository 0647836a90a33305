"""What must be sewn before what: pieces that overlap in sight keep the order of the stack."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay

Flags = NDArray[np.bool_]


def overlaps(
    areas: Sequence[BaseGeometry],
    heights: Sequence[int],
    overlap_mm2: float,
    counted: Sequence[BaseGeometry] | None = None,
) -> Flags:
    """``(n, n)``: row u marks the lower pieces that piece u lies on, by overlap and height.

    Of the upper piece only what is ``counted`` of it matters, if that is given: what of it can be seen. Pieces come
    bottom first, so every mark lies left of the diagonal.
    """
    before = np.zeros((len(areas), len(areas)), dtype=np.bool_)
    under, over = np.asarray(areas, dtype=object), np.asarray(areas if counted is None else counted, dtype=object)
    found = shapely.STRtree(under).query(over, predicate="intersects")
    height = np.asarray(heights)
    found = found[:, height[found[0]] > height[found[1]]]
    shared = shapely.area(overlay.intersection(over[found[0]], under[found[1]]))
    found = found[:, shared > overlap_mm2]
    before[found[0], found[1]] = True
    return before


def followed(before: Flags) -> Flags:
    """``before`` with all that follows from it: what must come before what must come before."""
    every = before.copy()
    for unit in range(len(every)):
        direct = np.flatnonzero(every[unit])
        if len(direct):
            every[unit] |= every[direct].any(axis=0)
    return every
