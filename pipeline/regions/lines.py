"""Which regions are lines: drawn with a pen, or round fills as an outline. A line lies on the fills beside it."""

from __future__ import annotations

from collections import Counter

import shapely
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.polygon import opened
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.settings import RegionSettings

LONG = 6.0
"""An outline is so many times as long as wide: a ring is where its hole is at least as wide as its band."""
PEN = 0.75
"""A colour is a pen if lines are this share of all that it paints."""
KNOT = 0.15
"""This share of an outline may be wider: where its bands meet."""


def lines(regions: tuple[Region, ...], settings: RegionSettings) -> list[bool]:
    """For each region whether it is a line.

    What is nowhere wider than ``line_mm`` is one. Wider bands, up to ``outline_mm``, are outlines if their colour
    paints hardly anything else in the drawing: a ring of a colour that fills shapes as well is a shape behind one.
    """
    names = [region.id for region in regions]
    fine = each(names, regions, lambda region: _within(region.outline, settings.line_mm))
    band = each(names, regions, lambda region: _is_band(region.outline, settings.outline_mm))
    drawn, painted = Counter[str](), Counter[str]()
    for region, one, other in zip(regions, fine, band, strict=True):
        painted[region.colour] += region.outline.area
        drawn[region.colour] += region.outline.area * (one or other)
    pen = {colour for colour, area in painted.items() if drawn[colour] >= PEN * area}
    return [one or (other and region.colour in pen) for region, one, other in zip(regions, fine, band, strict=True)]


def _within(outline: MultiPolygon, width_mm: float) -> bool:
    """Whether an area is nowhere wider."""
    return bool(overlay.buffer(outline, -width_mm / 2, quad_segs=2).is_empty)


def _is_band(outline: MultiPolygon, width_mm: float) -> bool:
    """Whether an area is long and hardly anywhere wider than ``width_mm``.

    A band of length L and width w has L / w = perimeter² / (4 area), a disc π.
    """
    long = (shapely.length(shapely.get_parts(outline)) ** 2).sum() / (4.0 * outline.area)
    return bool(long >= LONG and opened(outline, width_mm / 2).area <= KNOT * outline.area)
