"""Which of two abutting regions goes beneath: fills beneath lines; else the one sewn first, in the order that needs
the fewest colour changes; of orders as good the containing, then the larger, then the lower in the stack."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import filled
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.lines import lies_over
from pipeline.regions.settings import RegionSettings
from pipeline.sequence.colours import colour_order
from pipeline.sequence.precedence import followed, overlaps

LARGER = 1.25
"""Areas nearer to each other than this ratio count as alike, so that even stripes keep the artwork's order."""
SHARED_MM2 = 0.01
"""Regions that share more than this overlap: swapping them would change the picture, by a hairline at least."""


def settled(regions: tuple[Region, ...], settings: RegionSettings) -> tuple[Region, ...]:
    """The regions with each larger or containing one beneath those that it abuts, where that changes nothing.

    A region sinks only past regions that it doesn't overlap, so the picture stays the same.
    """
    outlines = [region.outline for region in regions]
    near = pairs(outlines, settings.export_gap_mm)
    over = lies_over(regions, settings)
    order = list(range(len(regions)))

    def beneath(upper: int, lower: int) -> bool:
        if over[upper, lower] or over[lower, upper]:
            return bool(over[lower, upper])
        return _beneath(outlines[upper], outlines[lower])

    def sink(index: int) -> None:
        below = [k for k in near[index] if order.index(k) < order.index(index)]
        if not below:
            return
        shared = shapely.area(overlay.intersection([outlines[k] for k in below], outlines[index]))
        free = [k for k, area in zip(below, shared, strict=True) if area <= SHARED_MM2]
        floor = max((order.index(k) + 1 for k in below if k not in free), default=0)
        wanted = [order.index(k) for k in free if order.index(k) >= floor and beneath(index, k)]
        if wanted:
            order.remove(index)
            order.insert(min(wanted), index)

    each([region.id for region in regions], range(len(regions)), sink)
    return _with_fewer_changes([regions[k] for k in order], over[np.ix_(order, order)], settings)


def _with_fewer_changes(
    regions: list[Region], over: NDArray[np.bool_], settings: RegionSettings
) -> tuple[Region, ...]:
    """The regions in another order, if that saves colour changes: of two that only abut either may lie beneath."""
    if not settings.fewest_changes:
        return tuple(regions)
    outlines, levels = [region.outline for region in regions], range(len(regions))
    colours = [region.colour for region in regions]
    reached = overlay.buffer(np.array(outlines, dtype=object), settings.export_gap_mm, quad_segs=1).tolist()
    as_laid = overlaps(reached, levels, SHARED_MM2)
    on_fill = over & ~over.any(axis=1)  # which of two lines lies on the other is no matter of colours
    bound = overlaps(outlines, levels, SHARED_MM2) | (as_laid & on_fill)
    if np.array_equal(bound, as_laid):
        return tuple(regions)
    best = colour_order(colours, followed(bound), settings.search_width)
    if len(best.stops) >= len(colour_order(colours, followed(as_laid), settings.search_width).stops):
        return tuple(regions)
    return tuple(regions[index] for stop in best.stops for index in stop)


def _beneath(upper: MultiPolygon, lower: MultiPolygon) -> bool:
    """Whether ``upper`` had better lie beneath ``lower``: it surrounds it, or is larger."""
    if filled(lower).covers(upper):
        return False
    return bool(upper.area > LARGER * lower.area or filled(upper).covers(lower))
