"""A large overlay hides so much of a lower region that sewing it whole is waste: remove the deep inside.

A hole costs too: every row ends, turns and starts again at both of its edges, and the overlay then lies on fabric
and wants foundation. So the inside goes only where what it saves clearly exceeds that. Rule measured on discs laid
on a square: it pays if A/(s L) − 1.67 h/s exceeds the foundation, h the hole's extent across the rows.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.polygon import NOTHING, multipolygon, opened
from pipeline.losses import each
from pipeline.model import Finding, Note, Region
from pipeline.roles.rims import Insides, without
from pipeline.roles.settings import RoleSettings

ON_EDGE_MM = 0.05
"""A strip that ends nearer than this to an edge ends there."""
LONG = 2.5
"""A strip over so many times the narrowest long is no neck: it becomes a satin border along its edge."""
LEAST_NECK_MM2 = 1.0
"""Less than this between an inside and an edge is a corner, not a strip."""
TURN_COST = 1.67
"""Stitches a row that a hole costs at its two edges (fitted to sewn counts at 0.2 mm rows of 4 mm stitches)."""


def hollowed(
    regions: tuple[Region, ...], insides: Insides, settings: RoleSettings, craft: Craft, note: Note
) -> tuple[Region, ...]:
    """The regions without the hidden insides that are not worth their stitches.

    What goes lies at least ``rim_mm`` inside the edge of one later region that hides it, so that every edge
    that is sewn later still lies on stitches, unless it ends against bare fabric.
    """
    outlines = [region.outline for region in regions]
    least = _least_hiding_mm2(craft.stitch_mm)
    names = [region.id for region in regions]

    def inset(k: int) -> MultiPolygon:
        if outlines[k].area < least or all(z > k for z in insides.beside[k]):
            return NOTHING
        return opened(insides.of(k), settings.rim_mm / 2)

    insets = each(names, range(len(regions)), inset)
    found = shapely.STRtree(insets).query(outlines, predicate="intersects")
    found = found[:, found[1] > found[0]]
    found = found[:, np.lexsort((found[1], found[0]))]
    over = [[insets[k] for k in found[1][found[0] == z]] for z in range(len(regions))]
    made = zip(regions, over, strict=True)
    return tuple(each(names, made, lambda pair: _hollow(*pair, settings, craft, note)))


def _hollow(region: Region, over: list[MultiPolygon], settings: RoleSettings, craft: Craft, note: Note) -> Region:
    """One region without what the insets ``over`` it hide, where that saves enough."""
    if not over:
        return region
    inside = multipolygon(overlay.intersection(overlay.union_all(over), region.outline), settings.least_thinned_mm2)
    inside = multipolygon(_without_necks(inside, region, craft.satin_up_to_mm), settings.least_thinned_mm2)
    places = [(place, saved) for place in inside.geoms if (saved := saving(place, craft)) > 0]
    saved_in_all = sum(saved for _, saved in places)
    if saved_in_all < settings.least_saving:
        return region
    gone = MultiPolygon([place for place, _ in places])
    kept = replace(region, outline=without(region, gone))
    note(_finding(kept, gone, saved_in_all, settings))
    return kept


def _without_necks(inside: MultiPolygon, region: Region, neck_mm: float) -> BaseGeometry:
    """``inside`` kept away from where it would leave a strip in sight too narrow to be sewn like the rest."""
    if inside.is_empty:
        return inside
    radius = neck_mm / 2
    left = overlay.difference(region.outline, inside)
    wide = opened(left, radius)
    if wide.area < left.area / 2:  # a frame, sewn as satin all round
        return inside
    narrow = multipolygon(overlay.intersection(multipolygon(overlay.difference(left, wide)), region.visible))
    strips = multipolygon(overlay.intersection(narrow, opened(region.outline, radius)), LEAST_NECK_MM2)
    necks = MultiPolygon([strip for strip in strips.geoms if _across(strip) <= LONG * neck_mm])
    edge = overlay.intersection(region.outline.boundary, overlay.buffer(necks, ON_EDGE_MM, quad_segs=1))
    near = overlay.union_all(
        [overlay.buffer(edge, neck_mm, quad_segs=4), overlay.buffer(necks, radius, quad_segs=4)]
    )
    return overlay.difference(inside, near)


def _across(place: Polygon) -> float:
    """The diagonal of its upright box."""
    left, top, right, bottom = place.bounds
    return float(np.hypot(right - left, bottom - top))


def saving(place: Polygon, craft: Craft) -> float:
    """Stitches saved by leaving ``place`` out of a tatami, foundation for what lies above counted; may be negative.

    The extent across the rows is taken as the mean width over all directions, perimeter of the hull over π.
    """
    extent = place.convex_hull.length / np.pi
    cover = place.area / (craft.row_mm * craft.stitch_mm) - TURN_COST * extent / craft.row_mm
    rows = place.area / (craft.foundation.rows_mm * craft.stitch_mm)
    return float(cover - rows - place.length / craft.foundation.edge_stitch_mm)


def _least_hiding_mm2(stitch_mm: float) -> float:
    """The area of the smallest place that can save anything: a disc, whose rows are worth just their turns."""
    return float(4.0 / np.pi * (TURN_COST * stitch_mm) ** 2)


def _finding(region: Region, gone: MultiPolygon, saved: float, settings: RoleSettings) -> Finding:
    at = shapely.point_on_surface(gone)
    message = (
        f"{region.element}: {gone.area:.0f} mm² of its hidden inside are not sewn, which saves about {saved:.0f} "
        f"stitches and keeps the cloth soft; a rim of {settings.rim_mm:g} mm stays beneath every edge that has a "
        "neighbour"
    )
    return Finding("inside-removed", "note", message, region.id, (at.x, at.y))
