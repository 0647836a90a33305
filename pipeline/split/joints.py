"""How parts reach beneath their neighbours at a joint."""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from pipeline.geometry import overlay
from pipeline.geometry.polygon import holding
from pipeline.geometry.polyline import Array
from pipeline.geometry.window import Windows
from pipeline.model import Column, points
from pipeline.split.column import Chord


def reaching(
    column: Column, face: Polygon, outline: Windows, ends: tuple[bool, bool], overlap_mm: float
) -> tuple[Polygon, Column]:
    """The face and its column with ``overlap_mm`` more at the named ends (start, end), inside ``outline``."""
    left, right, area = column.left, column.right, face
    if ends[1]:
        more = _beyond((left[-1], right[-1]), outline, overlap_mm, 1.0)
        if more is not None:
            area = _joined(area, (left[-1], right[-1]), more)
            left, right = np.vstack([left, more[0]]), np.vstack([right, more[1]])
    if ends[0]:
        more = _beyond((left[0], right[0]), outline, overlap_mm, -1.0)
        if more is not None:
            area = _joined(area, (left[0], right[0]), more)
            left, right = np.vstack([more[0], left]), np.vstack([more[1], right])
    return area, Column(points(left), points(right), column.closed)


def strip(area: Polygon, chord: Chord, outline: Windows, overlap_mm: float) -> Polygon:
    """``area`` with a strip beyond the cross-section ``chord``."""
    more = _beyond(chord, outline, overlap_mm, 1.0)
    return area if more is None else _joined(area, chord, more)


def _beyond(chord: Chord, outline: Windows, overlap_mm: float, sign: float) -> Chord | None:
    """The cross-section moved on by the overlap, narrowed or nearer where the outline is in the way."""
    left, right = chord
    x, y = left - right
    width = float(np.hypot(x, y))
    if width < 1e-6 or overlap_mm <= 0.0:
        return None
    step = sign * np.array([-y, x]) / width
    x0, y0 = np.minimum(left, right) - overlap_mm
    x1, y1 = np.maximum(left, right) + overlap_mm
    roomy = overlay.buffer(outline.around((x0, y0, x1, y1)), 1e-6)
    for share in (1.0, 0.6):
        for inset in (0.0, 0.04, 0.1, 0.2, 0.3):
            ends = (left + (right - left) * inset, right + (left - right) * inset)
            moved: tuple[Array, Array] = (ends[0] + step * overlap_mm * share, ends[1] + step * overlap_mm * share)
            if roomy.covers(Polygon([left, moved[0], moved[1], right])):
                return moved
    return None


def _joined(area: Polygon, chord: Chord, more: Chord) -> Polygon:
    patch = Polygon([chord[0], more[0], more[1], chord[1]])
    if not patch.is_valid:
        return area
    return holding(overlay.union_all([area, patch]), area)
