"""The window of a viewport, for clipping to it."""

from __future__ import annotations

import numpy as np
import shapely

from pipeline.read.matrix import Matrix, apply


def frame(matrix: Matrix, width: float, height: float) -> shapely.Polygon:
    """The rectangle from the origin to (width, height), mapped; empty where it has no area."""
    window = shapely.Polygon(apply(matrix, np.array([(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)])))
    if window.area <= 0:
        return shapely.Polygon()
    shapely.prepare(window)
    return window
