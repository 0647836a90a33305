"""Abutting regions: the lower reaches a little under the upper, along their shared border only."""

from __future__ import annotations

from dataclasses import replace

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.settings import RegionSettings

SLIVER_MM = 0.1
"""Narrower growth closes no gap; it would only roughen the outline."""
AROUND_MM = 0.5
"""How far beyond what decides about a growth its neighbourhood is looked at."""


def join(regions: tuple[Region, ...], settings: RegionSettings) -> tuple[Region, ...]:
    """Each region grown beneath the later ones that it ends against, to ``join_overlap_mm`` from what shows of it.

    The growth lies wholly under later regions (the exporters' gap apart) and keeps ``join_inset_mm`` from the
    far edge of what hides it, so that nothing of it shows once it is sewn.
    """
    if settings.join_overlap_mm == 0:
        return regions
    near = pairs([region.outline for region in regions], settings.export_gap_mm)

    def grown(index: int) -> Region:
        above = [regions[other].outline for other in near[index] if other > index]
        return _reached(regions[index], above, settings) if above else regions[index]

    return tuple(each([region.id for region in regions], range(len(regions)), grown))


def _reached(region: Region, above: list[MultiPolygon], settings: RegionSettings) -> Region:
    over = overlay.union_all(above)
    reach = overlay.difference(moved(region.visible, settings.join_overlap_mm), region.outline)
    wanted = multipolygon(overlay.intersection(reach, over))
    if wanted.is_empty:
        return region
    zone = moved(wanted, settings.join_inset_mm + settings.export_gap_mm + AROUND_MM, "mitre")
    both = _closed(overlay.intersection(zone, overlay.union(region.outline, over)), settings.export_gap_mm)
    room = overlay.intersection(reach, overlay.buffer(both, -settings.join_inset_mm, quad_segs=4))
    growth = opened(room, SLIVER_MM / 2)
    if growth.is_empty:
        return region
    outline = multipolygon(_closed(overlay.union(region.outline, growth), SLIVER_MM))
    added = max(0.0, outline.area - region.outline.area)
    return replace(region, outline=outline, restored_mm2=region.restored_mm2 + added)


def _closed(shape: BaseGeometry, gap_mm: float) -> BaseGeometry:
    """``shape`` with slits up to ``gap_mm`` wide filled."""
    return overlay.buffer(
        overlay.buffer(shape, gap_mm / 2, quad_segs=2, join_style="mitre"),
        -gap_mm / 2,
        quad_segs=2,
        join_style="mitre",
    )
