"""Touching shapes of one colour are one region where nothing lies between them in height."""

from __future__ import annotations

from dataclasses import replace

import shapely

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Region

STROKE_ON_FILL = 0.25
"""A stroke joins the fill that it outlines once this share of it lies on the fill; less is a line of its own,
whose true centreline is worth more than one seam saved."""
TOUCH_MM2 = 1e-6


def merged(regions: tuple[Region, ...]) -> tuple[Region, ...]:
    """Merge every region into the nearest lower one of its colour that it touches and may sink to.

    A region may sink past those between only if it overlaps none of them, so the picture stays the same.
    """
    outlines = [region.outline for region in regions]
    near = pairs(outlines)
    home = list(range(len(regions)))
    members: list[list[int]] = [[index] for index in range(len(regions))]
    names = [region.id for region in regions]

    def sink(index: int) -> None:
        target = _target(index, regions, near[index], home)
        if target is not None:
            home[index] = target
            members[target].append(index)

    each(names, range(len(regions)), sink)
    kept = [index for index in range(len(regions)) if home[index] == index]
    groups = [[regions[member] for member in members[index]] for index in kept]
    return tuple(each([names[index] for index in kept], groups, _one))


def _target(index: int, regions: tuple[Region, ...], near: list[int], home: list[int]) -> int | None:
    """The region that ``index`` sinks into: looking down, the first that it overlaps or joins decides."""
    region = regions[index]
    for below in reversed([other for other in near if other < index]):
        if regions[below].colour == region.colour:
            if _joins(regions[below], region) and _may_sink(index, home[below], regions, near):
                return home[below]
        elif overlay.intersection(regions[below].outline, region.outline).area > TOUCH_MM2:
            return None
    return None


def _may_sink(index: int, target: int, regions: tuple[Region, ...], near: list[int]) -> bool:
    """Whether nothing of another colour between the target and ``index`` overlaps it."""
    between = [k for k in near if target < k < index and regions[k].colour != regions[index].colour]
    if not between:
        return True
    overlaps = shapely.area(overlay.intersection([regions[k].outline for k in between], regions[index].outline))
    return bool((overlaps <= TOUCH_MM2).all())


def _joins(lower: Region, upper: Region) -> bool:
    """Whether two touching regions of one colour are one piece of sewing."""
    if lower.stroke is None and upper.stroke is None:
        return bool(overlay.intersection(lower.outline, upper.outline).length > 0.1)
    if lower.stroke is not None and upper.stroke is not None:
        return False
    line = upper if upper.stroke is not None else lower
    return bool(overlay.intersection(lower.outline, upper.outline).area > STROKE_ON_FILL * line.outline.area)


def _one(group: list[Region]) -> Region:
    if len(group) == 1:
        return group[0]
    outline = multipolygon(overlay.union_all([region.outline for region in group]))
    return replace(group[0], outline=outline, stroke=None)
