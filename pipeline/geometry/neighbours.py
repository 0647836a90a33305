"""Which areas of a list lie near each other."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry import MultiPolygon


def pairs(areas: Sequence[MultiPolygon], distance_mm: float = 0.0) -> list[list[int]]:
    """For each area the indices of the others within ``distance_mm`` of it, in rising order."""
    if not areas:
        return []
    tree = shapely.STRtree(areas)
    if distance_mm > 0:
        found = tree.query(areas, predicate="dwithin", distance=distance_mm)
    else:
        found = tree.query(areas, predicate="intersects")
    order = np.lexsort((found[1], found[0]))
    near: list[list[int]] = [[] for _ in areas]
    for one, other in found[:, order].T.tolist():
        if one != other:
            near[one].append(other)
    return near
