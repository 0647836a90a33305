"""Artwork that arrives cut into puzzle pieces: cut-outs that other regions fill are closed again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Region
from pipeline.regions.settings import RegionSettings

RESIDUE_MM2 = 0.02
"""What may stay open in a hole that counts as filled, once the exporters' gap is taken off on both sides."""


@dataclass(frozen=True)
class _Hole:
    owner: int
    area: Polygon


def restored(regions: tuple[Region, ...], settings: RegionSettings) -> tuple[Region, ...]:
    """Close every hole that other regions fill; the owner goes beneath what fills it.

    A hole that nothing fills, or that is filled in part only, is a window and stays open. The owner sinks
    below its fillers only if that hides nothing of what it showed; else the hole stays as it is.
    """
    order = list(range(len(regions)))
    outlines = [region.outline for region in regions]
    tree = shapely.STRtree(outlines)
    for hole in _holes(regions):
        near = [k for k in np.sort(tree.query(hole.area)).tolist() if k != hole.owner]
        above = set(order[order.index(hole.owner) :])
        fillers = _fillers(hole, outlines, [k for k in near if k in above], settings)
        if not fillers:
            fillers = _fillers(hole, outlines, _beside(near, hole.owner, outlines, settings), settings)
        if fillers and _sinks(hole.owner, fillers, order, outlines, settings):
            outlines[hole.owner] = multipolygon(outlines[hole.owner].union(hole.area))
    return tuple(_changed(regions[index], outlines[index]) for index in order)


def _changed(region: Region, outline: MultiPolygon) -> Region:
    if outline is region.outline:
        return region
    return replace(
        region,
        outline=outline,
        stroke=None,
        restored_mm2=region.restored_mm2 + outline.area - region.outline.area,
    )


def _holes(regions: tuple[Region, ...]) -> list[_Hole]:
    """Every hole, the largest first, so that an outer cut-out is closed before those nested in it."""
    found = [
        _Hole(index, Polygon(ring))
        for index, region in enumerate(regions)
        for polygon in region.outline.geoms
        for ring in polygon.interiors
    ]
    return sorted(found, key=lambda hole: (-hole.area.area, hole.owner, hole.area.bounds))


def _beside(near: list[int], owner: int, outlines: list[MultiPolygon], settings: RegionSettings) -> list[int]:
    """Those of ``near`` that do not overlap the owner: what lies beneath it shows through a window, fills none."""
    lies = _overlap([outlines[k] for k in near], outlines[owner], settings)
    return [k for k, overlaps in zip(near, lies, strict=True) if not overlaps]


def _overlap(areas: list[MultiPolygon], owner: MultiPolygon, settings: RegionSettings) -> NDArray[np.bool_]:
    """Which areas share more with the owner than the seam that exporters leave, ``(n,)``."""
    shared = shapely.intersection(np.array(areas, dtype=object), owner)
    return np.asarray(shapely.area(shapely.buffer(shared, -settings.export_gap_mm / 2, quad_segs=1)) > RESIDUE_MM2)


def _fillers(hole: _Hole, outlines: list[MultiPolygon], near: list[int], settings: RegionSettings) -> list[int]:
    """The regions that together fill the hole, or none if they leave more than an exporter's gap open."""
    gap = settings.export_gap_mm
    inside = [k for k in near if outlines[k].intersection(hole.area).area > RESIDUE_MM2]
    if not inside:
        return []
    pieces = shapely.union_all([outlines[k] for k in inside])
    left = hole.area.difference(pieces.buffer(gap / 2, quad_segs=2)).buffer(-gap / 2, quad_segs=2)
    return inside if left.area <= RESIDUE_MM2 else []


def _sinks(
    owner: int, fillers: list[int], order: list[int], outlines: list[MultiPolygon], settings: RegionSettings
) -> bool:
    """Move ``owner`` beneath its fillers in ``order`` if it overlaps nothing that it would pass."""
    place = order.index(owner)
    lowest = min(order.index(filler) for filler in fillers)
    if lowest > place:
        return True
    if _overlap([outlines[k] for k in order[lowest:place]], outlines[owner], settings).any():
        return False
    order.insert(lowest, order.pop(place))
    return True
