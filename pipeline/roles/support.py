"""The support map: which part of each region lies on sewn cover, and which on bare fabric."""

from __future__ import annotations

from dataclasses import dataclass

from shapely.geometry import MultiPolygon

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.losses import each
from pipeline.model import Region

ROUNDING_MM = 0.02
"""A strip of just that width is sewn as satin and carries, however its edges were rounded."""
TOUCH_MM2 = 0.05
"""A region rests on another only if more of it than this lies there directly."""


@dataclass(frozen=True, eq=False)
class Support:
    """What one region lies on: the ids directly beneath, nearest first, and its part on bare fabric."""

    rests_on: tuple[str, ...]
    bare: MultiPolygon


def carrying(regions: tuple[Region, ...], craft: Craft) -> list[MultiPolygon]:
    """What of each region carries others: areas narrower than satin are sewn as runs."""
    radius = max(0.0, craft.satin_from_mm / 2 - ROUNDING_MM)
    names = [region.id for region in regions]
    return each(names, regions, lambda region: opened(region.outline, radius))


def support(regions: tuple[Region, ...], carriers: list[MultiPolygon]) -> tuple[Support, ...]:
    """For each region, bottom first, what lies beneath it; ``carriers`` are the regions as far as they carry."""
    below = lower_neighbours(regions)
    names = [region.id for region in regions]
    return tuple(each(names, range(len(regions)), lambda z: _lies(regions[z], below[z], carriers, regions)))


def lower_neighbours(regions: tuple[Region, ...]) -> list[list[int]]:
    """For each region the indices of the lower ones that it intersects, highest first."""
    near = pairs([region.outline for region in regions])
    return [[other for other in reversed(others) if other < z] for z, others in enumerate(near)]


def _lies(region: Region, below: list[int], carriers: list[MultiPolygon], regions: tuple[Region, ...]) -> Support:
    left = region.outline
    rests_on = []
    for lower in below:
        if left.is_empty:
            break
        rest = overlay.difference(left, carriers[lower])
        if left.area - rest.area > TOUCH_MM2:
            rests_on.append(regions[lower].id)
        left = rest
    return Support(tuple(rests_on), multipolygon(left))
