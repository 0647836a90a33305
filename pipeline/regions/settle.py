"""Which of two abutting regions goes beneath: the containing, then the larger, then the lower in the stack."""

from __future__ import annotations

import shapely

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import filled
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.settings import RegionSettings

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
    order = list(range(len(regions)))

    def sink(index: int) -> None:
        below = [k for k in near[index] if order.index(k) < order.index(index)]
        if not below:
            return
        shared = shapely.area(overlay.intersection([outlines[k] for k in below], outlines[index]))
        free = [k for k, area in zip(below, shared, strict=True) if area <= SHARED_MM2]
        over = {k for k in below if k not in free}
        floor = max((order.index(k) + 1 for k in over), default=0)
        wanted = [order.index(k) for k in free if order.index(k) >= floor and _beneath(regions[index], regions[k])]
        if wanted:
            order.remove(index)
            order.insert(min(wanted), index)

    each([region.id for region in regions], range(len(regions)), sink)
    return tuple(regions[index] for index in order)


def _beneath(upper: Region, lower: Region) -> bool:
    """Whether ``upper`` had better lie beneath ``lower``: it surrounds it, or it is clearly larger."""
    if filled(lower.outline).covers(upper.outline):
        return False
    larger = upper.outline.area > LARGER * lower.outline.area
    return bool(larger or filled(upper.outline).covers(lower.outline))
