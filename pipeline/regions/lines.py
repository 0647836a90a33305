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
    names = [region.id for region in regions]
    long = np.array([_long(region.outline) for region in regions])
    fine = np.array(each(names, regions, lambda region: _within(region.outline, settings.line_mm)), dtype=bool)
    band = np.array(each(names, regions, lambda region: _mostly(region.outline, settings.outline_mm)), dtype=bool)
    line = fine | (band & (long >= LONG))
    area = np.array([region.outline.area for region in regions])
    colours = np.array([region.colour for region in regions])
    near = pairs([region.outline for region in regions], settings.export_gap_mm)
    pen = np.zeros(len(regions), dtype=bool)
    for colour in dict.fromkeys(colours.tolist()):
        own = colours == colour
        beside = {other for index in np.flatnonzero(own & line) for other in near[index] if not own[other]}
        pen[own] = len(beside) >= FILLS and area[own & line].sum() >= PEN * area[own].sum()
    drawn = fine | (line & pen)
    width = area / np.array([region.outline.length for region in regions])
    finer = FINER * width[:, None] < width
    longer = (width[:, None] < FINER * width) & (long[:, None] > LONGER * long)
    return np.asarray(drawn[:, None] & (~drawn | finer | longer))


def _within(outline: MultiPolygon, width_mm: float) -> bool:
    """Whether an area is nowhere wider."""
    return bool(overlay.buffer(outline, -width_mm / 2, quad_segs=2).is_empty)


def _mostly(outline: MultiPolygon, width_mm: float) -> bool:
    """Whether an area is hardly anywhere wider."""
    return bool(opened(outline, width_mm / 2).area <= KNOT * outline.area)


def _long(outline: MultiPolygon) -> float:
    """Length over width: of a band perimeter² / (4 area), which is π for a disc."""
    return float((shapely.length(shapely.get_parts(outline)) ** 2).sum() / (4.0 * outline.area))
