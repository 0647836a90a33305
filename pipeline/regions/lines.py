"""Which regions are lines: drawn with a pen, or round fills as an outline. A line lies on the fills beside it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import opened
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.settings import RegionSettings

Floats = NDArray[np.float64]

LONG = 6.0
"""An outline is so many times as long as wide: a ring is where its hole is at least as wide as its band."""
PEN = 0.75
"""A colour is a pen if lines are this share of all that it paints."""
FINER, LONGER = 1.5, 2.0
"""Of two lines the outline is so many times finer; of two as fine so many times longer for its width."""
FILLS = 3
"""... and if its lines meet so many regions of other colours; a ring between two is a disc behind a disc."""
KNOT = 0.15
"""This share of an outline may be wider: where its bands meet."""


def lies_over(regions: tuple[Region, ...], settings: RegionSettings) -> NDArray[np.bool_]:
    """``(n, n)``: whether region i lies on region j for being a line beside it, or the finer or longer of two.

    What is nowhere wider than ``line_mm`` is a line. Wider bands, up to ``outline_mm``, are outlines if their
    colour paints hardly anything else in the drawing: a ring of a colour that fills shapes too is a shape behind.
    """
    outlines = [region.outline for region in regions]
    near = pairs(outlines, settings.export_gap_mm)
    long, area = np.array([_long(outline) for outline in outlines]), shapely.area(outlines)
    width = 2.0 * area / shapely.length(outlines)

    def kind(index: int) -> str:
        return _kind(outlines[index], float(width[index]), float(long[index]), settings) if near[index] else ""

    kinds = each([region.id for region in regions], range(len(regions)), kind)
    fine, line = (
        np.array([kind in which for kind in kinds], dtype=bool) for which in (("fine",), ("fine", "band"))
    )
    colours = np.array([region.colour for region in regions])
    pen = np.zeros(len(regions), dtype=bool)
    for colour in dict.fromkeys(colours.tolist()):
        own = colours == colour
        beside = {other for index in np.flatnonzero(own & line) for other in near[index] if not own[other]}
        pen[own] = len(beside) >= FILLS and area[own & line].sum() >= PEN * area[own].sum()
    drawn = fine | (line & pen)
    finer = FINER * width[:, None] < width
    longer = (width[:, None] < FINER * width) & (long[:, None] > LONGER * long)
    return np.asarray(drawn[:, None] & (~drawn | finer | longer))


def _kind(outline: MultiPolygon, width_mm: float, long: float, settings: RegionSettings) -> str:
    """Whether an area of this mean width is fine, a band, or neither; what is wide on the whole is not tried."""
    if width_mm <= settings.line_mm and overlay.buffer(outline, -settings.line_mm / 2, quad_segs=2).is_empty:
        return "fine"
    if long < LONG or width_mm > settings.outline_mm:
        return ""
    return "band" if opened(outline, settings.outline_mm / 2).area <= KNOT * outline.area else ""


def _long(outline: MultiPolygon) -> float:
    """Length over width: of a band perimeter² / (4 area), which is π for a disc."""
    return float((shapely.length(shapely.get_parts(outline)) ** 2).sum() / (4.0 * outline.area))
