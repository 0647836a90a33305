"""Artwork that arrives cut into puzzle pieces: cut-outs that other regions fill are closed again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Region
from pipeline.regions.lines import lies_over
from pipeline.regions.settings import RegionSettings

RESIDUE_MM2 = 0.02
"""Less than this shared is no more than rounding."""
MOST_OPEN = 0.02
"""Share of a hole that may stay open in places each too small for a window; more is a hole filled in part."""
SEAM_SHARE = 0.3
"""Sharing more than this of the smaller area is no exporter's seam, even where it is as thin as one."""
OWN_SHARE = 0.02
"""A lower region that shows this share of itself in a hole is a shape there, not a ground seen through a gap."""
AROUND_MM = 1.0
"""How much of the neighbourhood of a hole is looked at: more than any exporter's gap."""


@dataclass(frozen=True)
class _Hole:
    owner: int
    area: Polygon


def restored(regions: tuple[Region, ...], settings: RegionSettings) -> tuple[Region, ...]:
    """Close every hole that other regions fill; the owner goes beneath what fills it.

    A hole that nothing fills, or that is filled in part only, is a window and stays open. The owner sinks
    below its fillers only if that hides nothing of what it showed; else the hole stays as it is.
    """
    pile = _Pile(regions, settings)
    holes = _holes(regions)
    each([regions[hole.owner].id for hole in holes], holes, pile.close)
    return tuple(_changed(regions[index], pile.outlines[index]) for index in pile.order)


def _changed(region: Region, outline: MultiPolygon) -> Region:
    if outline is region.outline:
        return region
    added = outline.area - region.outline.area
    return replace(region, outline=outline, stroke=None, restored_mm2=region.restored_mm2 + added)


def _holes(regions: tuple[Region, ...]) -> list[_Hole]:
    """Every hole, the largest first, so that an outer cut-out is closed before those nested in it."""
    found = [
        _Hole(index, Polygon(ring))
        for index, region in enumerate(regions)
        for polygon in region.outline.geoms
        for ring in polygon.interiors
    ]
    return sorted(found, key=lambda hole: (-hole.area.area, hole.owner, hole.area.bounds))


class _Pile:
    """The outlines while they change, and their order from the bottom."""

    def __init__(self, regions: tuple[Region, ...], settings: RegionSettings) -> None:
        self.outlines = outlines = [region.outline for region in regions]
        self.delivered_mm2 = shapely.area(outlines).tolist()
        self.order = list(range(len(outlines)))
        self.gap_mm = settings.export_gap_mm
        self.window_mm2 = settings.least_window_mm2
        self.tree = shapely.STRtree(outlines)
        self.over = lies_over(regions, settings)
        self.overlaps: dict[tuple[int, int], bool] = {}

    def close(self, hole: _Hole) -> None:
        """Close ``hole`` if other regions fill it and its owner can lie beneath them unseen."""
        near = self._meeting(hole)
        if not near or self.over[hole.owner, near].any():
            return
        window = moved(hole.area, AROUND_MM, "mitre")
        local = {
            k: multipolygon(overlay.intersection(_about(self.outlines[k], window.bounds), window))
            for k in (*near, hole.owner)
        }
        own = local[hole.owner]
        inside = [k for k in near if overlay.intersection(local[k], hole.area).area > RESIDUE_MM2]
        if not inside:
            return
        place = self.order.index(hole.owner)
        over = set(self.order[place:])
        above = [k for k in near if k in over]
        below = {k: self.delivered_mm2[k] for k in near if k not in over}
        fillers = self._fillers(hole, [k for k in inside if k in over], local, own)
        if not fillers or _seen(hole, below, {*above, *fillers}, local, own):
            beside = [k for k in inside if not self._overlap(k, hole.owner)]
            fillers = self._fillers(hole, beside, local, own)
            if not fillers or _seen(hole, below, {*above, *fillers}, local, own):
                return
        if self._sinks(hole.owner, fillers):
            self.outlines[hole.owner] = multipolygon(overlay.union(self.outlines[hole.owner], hole.area))
            changed = {(min(k, hole.owner), max(k, hole.owner)) for k in near}  # what shared much shares as much
            self.overlaps = {pair: much for pair, much in self.overlaps.items() if much or pair not in changed}

    def _meeting(self, hole: _Hole) -> list[int]:
        """The other regions that share anything with a hole, from the bottom of the artwork."""
        near = np.sort(self.tree.query(hole.area))
        near = near[near != hole.owner]
        shapely.prepare(hole.area)
        met = shapely.intersects(hole.area, np.array([self.outlines[k] for k in near], dtype=object))
        return [int(k) for k in near[met]]

    def _fillers(
        self, hole: _Hole, inside: list[int], local: dict[int, MultiPolygon], own: MultiPolygon
    ) -> list[int]:
        """The regions ``inside`` the hole if together they fill it; none if they leave more than a gap.

        Islands of the owner itself, such as a letter's counter, help to fill it.
        """
        if not inside:
            return []
        pieces = overlay.buffer(overlay.union_all([*(local[k] for k in inside), own]), self.gap_mm / 2, quad_segs=2)
        left = multipolygon(overlay.buffer(overlay.difference(hole.area, pieces), -self.gap_mm / 2, quad_segs=2))
        open_places = [place.area for place in left.geoms]
        small = max(open_places, default=0.0) <= self.window_mm2
        return inside if small and sum(open_places) <= MOST_OPEN * hole.area.area else []

    def _overlap(self, one: int, other: int) -> bool:
        """Whether two regions share more than the seam that exporters leave."""
        pair = (min(one, other), max(one, other))
        if pair not in self.overlaps:
            first, second = self.outlines[one], self.outlines[other]
            shared = overlay.intersection(first, second)
            wide = overlay.buffer(shared, -self.gap_mm / 2, quad_segs=1).area > RESIDUE_MM2
            self.overlaps[pair] = wide or shared.area > SEAM_SHARE * min(first.area, second.area)
        return self.overlaps[pair]

    def _sinks(self, owner: int, fillers: list[int]) -> bool:
        """Move ``owner`` beneath its fillers if it overlaps nothing that it would pass."""
        place = self.order.index(owner)
        lowest = min(self.order.index(filler) for filler in fillers)
        if lowest > place:
            return True
        if any(self._overlap(passed, owner) for passed in self.order[lowest:place]):
            return False
        self.order.insert(lowest, self.order.pop(place))
        return True


def _about(outline: MultiPolygon, box: tuple[float, float, float, float]) -> MultiPolygon:
    """``outline`` without the polygons and holes that lie beyond ``box``: overlays of lace take long."""
    polygons = shapely.get_parts(outline)
    found = []
    for polygon in polygons[_meets(polygons, box)]:
        shell, *holes = shapely.get_rings(polygon)
        inner = np.array(holes, dtype=object)
        found.append(shapely.polygons(shell, inner[_meets(inner, box)]))
    return MultiPolygon(found)


def _meets(shapes: NDArray[np.object_], box: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    left, top, right, bottom = shapely.bounds(shapes).reshape(-1, 4).T
    found: NDArray[np.bool_] = (left <= box[2]) & (right >= box[0]) & (top <= box[3]) & (bottom >= box[1])
    return found


def _seen(
    hole: _Hole,
    below: dict[int, float],
    cover: set[int],
    local: dict[int, MultiPolygon],
    own: MultiPolygon,
) -> bool:
    """Whether something below the owner shows in the hole as a shape of its own, however thin.

    ``below`` gives the area of each lower region as delivered: a ground that peeps through exporters' gaps shows
    hardly any of itself there, a thin line most of it, and closing the hole would hide it.
    """
    lower = [k for k in below if k not in cover]
    if not lower:
        return False
    open_part = overlay.difference(hole.area, overlay.union_all([*(local[k] for k in sorted(cover)), own]))
    if open_part.area <= min(RESIDUE_MM2, MOST_OPEN * hole.area.area / len(lower)):
        return False
    pieces = shapely.get_parts(open_part)
    shown = [_shared(pieces, local[k]) for k in lower]
    own_shapes = (area > max(RESIDUE_MM2, OWN_SHARE * below[k]) for k, area in zip(lower, shown, strict=True))
    return any(own_shapes) or sum(shown) > MOST_OPEN * hole.area.area


def _shared(pieces: NDArray[np.object_], area: MultiPolygon) -> float:
    """How much of ``area`` (mm²) lies on the many small ``pieces``: each is cut with what is near to it only."""
    shapely.prepare(area)
    met = pieces[shapely.intersects(area, pieces)]
    whole = shapely.covers(area, met)
    cut = [
        overlay.intersection(piece, overlay.buffer(shapely.clip_by_rect(area, *piece.bounds), 0.0)).area
        for piece in met[~whole]
    ]
    return float(shapely.area(met[whole]).sum() + sum(cut))
