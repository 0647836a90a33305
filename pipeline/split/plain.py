"""A piece of a polygon, and pieces that are plainly one: wide throughout, or about as long as they are wide."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.polygon import opened
from pipeline.model import Column, Kind, Line
from pipeline.split.column import lump_column, swept_column
from pipeline.split.lines import as_line
from pipeline.split.settings import SplitSettings

CORNER_MM = 1.5
"""A wide shape is tatami at once if it stands out of its opening by no more than this: a square corner."""


PINHOLE_MM2 = 0.03
"""A hole this small is half as large as a thread is wide."""

NET = 0.25
"""A shape whose mean width is below this share of the widest satin is not wide. A disc or square of that width
has 0.5, the roughest border halves it; and opening a net of a thousand holes takes half a minute."""


@dataclass(frozen=True, eq=False)
class Draft:
    """A piece, its kind, its local widths, and what it is sewn along."""

    kind: Kind
    area: Polygon
    widths: tuple[float, float, float]
    column: Column | None = None
    lines: tuple[Line, ...] = ()
    fell_back: bool = False


def without_pinholes(polygon: Polygon) -> Polygon:
    """``polygon`` without holes that thread closes anyway; cutting and uniting leave them along shared edges."""
    kept = [ring for ring in polygon.interiors if Polygon(ring).area > PINHOLE_MM2]
    return polygon if len(kept) == len(polygon.interiors) else Polygon(polygon.exterior, kept)


def spacing(polygon: Polygon) -> float:
    """Distance of boundary samples: a sixth of the mean width, at least 0.06 and at most 0.3 mm."""
    return float(np.clip(2.0 * polygon.area / polygon.length / 6.0, 0.06, 0.3))


def wholly_wide(polygon: Polygon, settings: SplitSettings) -> bool:
    """Whether only corners of ``polygon`` are narrower than satin may be."""
    least = settings.satin_up_to_mm
    x0, y0, x1, y1 = polygon.bounds
    if min(x1 - x0, y1 - y0) < least or polygon.area < least**2:
        return False
    if 2.0 * polygon.area < NET * least * polygon.length:
        return False
    core = opened(polygon, 0.5 * least)
    return len(core.geoms) == 1 and overlay.buffer(core, CORNER_MM, quad_segs=4).covers(polygon)


def run_kind(width: float, settings: SplitSettings) -> Kind:
    """How an outlined line of the median ``width`` is sewn."""
    return "triple run" if width >= min(settings.triple_run_from_mm, settings.bold_outline_mm) else "run"


def compact(polygon: Polygon, settings: SplitSettings) -> Draft:
    """A shape about as long as it is wide: one satin, one short run, or tatami."""
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    one, two = box[1] - box[0], box[2] - box[1]
    long, short = (one, two) if np.hypot(*one) >= np.hypot(*two) else (two, one)
    width = float(np.hypot(*short))
    widths = (min(width, float(np.sqrt(polygon.area))), width, width)
    if settings.triple_run_from_mm <= width <= settings.satin_up_to_mm:
        column = swept_column(polygon, long / max(float(np.hypot(*long)), 1e-9), settings)
        column = column or lump_column(polygon, settings)
        if column is not None:
            return Draft("satin", polygon, widths, column)
    if width >= settings.tatami_from_mm:
        return Draft("tatami", polygon, widths)
    middle = box[:4].mean(axis=0)
    ends = np.array([middle - 0.5 * long, middle + 0.5 * long])
    within = overlay.intersection(LineString(ends), polygon)
    pieces = [p for p in np.atleast_1d(shapely.get_parts(within)) if isinstance(p, LineString)]
    best = max(pieces, key=lambda p: p.length, default=LineString(ends))
    return Draft(run_kind(width, settings), polygon, widths, lines=(as_line(shapely.get_coordinates(best)),))
