"""What lies hidden, what of it serves, and what is left out.

What is hidden of a region falls into pieces by the region that shows over it. A piece serves where the two border
in sight: then it carries the edge that shows, and hides the join when the fabric pulls. A piece that borders
nothing in sight is sewn only where leaving it out would cost more: a line that runs on behind an object in front,
or a fill behind several others, would else force an order on colours that nobody sees, and thicken the stack.

A hole costs too: every row ends, turns and starts again at its edge, and what lies above is then on fabric and
wants foundation. So of pieces that serve the deep inside goes only where that clearly saves stitches (measured on
discs laid on a square), and a rim stays beneath the edge in sight.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.polygon import NOTHING, multipolygon, opened
from pipeline.losses import each
from pipeline.model import Finding, Note, Region
from pipeline.roles.settings import RoleSettings

SEAM_MM = 0.1
"""Regions no farther apart than this border each other."""
BORDER_MM = 0.5
"""A shorter border in sight needs nothing beneath it."""
LEAST_PIECE_MM2 = 0.02
"""Smaller pieces come of rounding."""
SMOOTH_MM = 0.25
"""What is left out has no corner sharper than this radius, and no neck thinner than twice of it."""
FIN_MM = 0.8
"""What is left hidden and narrower than this beside what was left out carries nothing and only costs stitches."""
CRUMB_MM2 = 0.01
LONG = 4.0
"""A strip over so many times the narrowest long is no neck: it becomes a satin border along its edge."""
LEAST_NECK_MM2 = 2.0
"""Less than this between an inside and an edge is a corner, not a strip."""
ON_EDGE_MM = 0.05
"""A strip that ends nearer than this to an edge ends there."""
LEAST_TRIM_MM2 = 0.2
"""Less is not worth a corner in the outline."""
TURN_COST = 0.53
"""Stitches that an edge of its row distance's length costs where rows end at it (from sewn counts at 0.2 mm)."""


@dataclass(frozen=True, eq=False)
class Pieces:
    """The hidden pieces of all regions: ``area[i]`` of region ``lower[i]`` lies beneath what shows of ``upper[i]``.

    ``serves`` marks those whose two regions border in sight.
    """

    lower: NDArray[np.intp]
    upper: NDArray[np.intp]
    area: NDArray[np.object_]
    serves: NDArray[np.bool_]


def pieces(regions: tuple[Region, ...]) -> Pieces:
    """Every region's hidden pieces, by lower and upper region."""
    outlines = np.array([region.outline for region in regions], dtype=object)
    visible = np.array([region.visible for region in regions], dtype=object)
    lower, upper = shapely.STRtree(visible).query(outlines, predicate="intersects")
    order = np.lexsort((upper, lower))
    lower, upper = lower[order][lower[order] < upper[order]], upper[order][lower[order] < upper[order]]
    area = np.array(
        [multipolygon(one) for one in overlay.intersection(outlines[lower], visible[upper])], dtype=object
    )
    real = shapely.area(area) > LEAST_PIECE_MM2
    lower, upper, area = lower[real], upper[real], area[real]
    own, place = np.unique(lower, return_inverse=True)
    grown = overlay.buffer(visible[own], SEAM_MM, quad_segs=2)[place]
    edges = overlay.intersection(shapely.boundary(visible[upper]), grown)
    return Pieces(lower, upper, area, shapely.length(edges) >= BORDER_MM)


def freeing(found: Pieces, count: int) -> NDArray[np.bool_]:
    """Which pieces force an order that no border in sight asks for, ``(n,)``.

    An order that borders in sight imply all the same, over other regions, is none.
    """
    after = [0] * count
    for lower in range(count - 1, -1, -1):
        for upper in found.upper[(found.lower == lower) & found.serves].tolist():
            after[lower] |= after[upper] | 1 << upper
    pairs = zip(found.lower.tolist(), found.upper.tolist(), found.serves.tolist(), strict=True)
    return np.array(
        [not serves and not after[lower] >> upper & 1 for lower, upper, serves in pairs], dtype=np.bool_
    )


def left_out(regions: tuple[Region, ...], settings: RoleSettings, craft: Craft, note: Note) -> tuple[Region, ...]:
    """The regions without what of them lies hidden and is not worth its stitches or its order."""
    found = pieces(regions)
    free = freeing(found, len(regions))
    change = craft.machine.colour_change_s * craft.machine.stitches_per_minute / 60.0

    def one(z: int) -> Region:
        own = found.lower == z
        if not own.any():
            return regions[z]
        loose = [area for area in found.area[own & free] if saving(area, regions[z], craft) > -change]
        rest = multipolygon(overlay.union_all(found.area[own]))
        trimmed, holes = inner(
            rest, regions[z], (settings.overlap_mm, settings.rim_mm), settings, craft.satin_up_to_mm
        )
        saved = [(hole, saving(hole, regions[z], craft)) for hole in holes.geoms]
        worth = [hole for hole, stitches in saved if stitches > settings.least_saving]
        worth += [place for place in trimmed.geoms if saving(place, regions[z], craft) > 0.0]
        gone = multipolygon(overlay.union_all([*loose, *worth])) if loose or worth else NOTHING
        return without(regions[z], gone, settings, note)

    return tuple(each([region.id for region in regions], range(len(regions)), one))


def inner(
    hidden: MultiPolygon, region: Region, keep_mm: tuple[float, float], settings: RoleSettings, neck_mm: float
) -> tuple[MultiPolygon, MultiPolygon]:
    """What of ``hidden`` a region can do without: what lies at its own edge, which then moves in, and holes.

    ``keep_mm`` is what stays beneath an edge that shows, at its own edge (0: all) and about a hole. A hole is worth
    its turns only from ``least_thinned_mm2`` on. Both stay clear of where they would leave a strip in sight
    narrower than ``neck_mm`` of what is wider: it would be sewn otherwise than the rest.
    """
    overlap_mm, rim_mm = keep_mm
    border = region.outline.boundary
    ends, holes = (
        [part for part in _deep(hidden, region, mm).geoms if (part.distance(border) <= ON_EDGE_MM) == at_edge]
        if mm
        else []
        for mm, at_edge in ((overlap_mm, True), (rim_mm, False))
    )
    return (
        multipolygon(_without_necks(MultiPolygon(ends), region, neck_mm), LEAST_TRIM_MM2),
        multipolygon(_without_necks(MultiPolygon(holes), region, neck_mm), settings.least_thinned_mm2),
    )


def _deep(hidden: MultiPolygon, region: Region, rim_mm: float) -> MultiPolygon:
    """What is ``hidden`` of a region farther than ``rim_mm`` from what shows of it, without sharp corners."""
    rim = overlay.buffer(region.visible, rim_mm, quad_segs=4)
    return opened(multipolygon(overlay.difference(hidden, rim)), SMOOTH_MM)


def without(region: Region, gone: MultiPolygon, settings: RoleSettings, note: Note) -> Region:
    """The region without ``gone``, and without the hidden crumbs and fins that this would leave.

    They are narrower than ``FIN_MM`` and farther than that from what shows of the region.
    """
    if gone.is_empty:
        return region
    rest = overlay.difference(region.outline, gone)
    thin = overlay.difference(
        overlay.difference(rest, opened(multipolygon(rest), FIN_MM / 2)),
        overlay.buffer(region.visible, FIN_MM, quad_segs=2),
    )
    beside = overlay.buffer(gone, FIN_MM, quad_segs=2)
    fins = [fin for fin in multipolygon(thin).geoms if fin.intersects(beside)]
    kept = multipolygon(overlay.difference(rest, overlay.union_all(fins)) if fins else rest, CRUMB_MM2)
    shown = [part for part in kept.geoms if part.intersects(region.visible)]
    note(_finding(region, gone, settings))
    return replace(region, outline=MultiPolygon(shown) if shown else region.outline)


def saving(place: MultiPolygon | Polygon, region: Region, craft: Craft) -> float:
    """Stitches saved by leaving ``place`` out, foundation for what lies above counted; may be negative.

    Rows end at that part of its edge that lies within the region; their number is its mean extent over all
    directions, 2 / π of its length.
    """
    near = overlay.buffer(region.outline.boundary, ON_EDGE_MM, quad_segs=1)
    edge = overlay.difference(place.boundary, near).length
    spared = place.boundary.length - edge
    cover = place.area / (craft.row_mm * craft.stitch_mm) - TURN_COST * (edge - spared) / craft.row_mm
    rows = place.area / (craft.foundation.rows_mm * craft.stitch_mm)
    return float(cover - rows - edge / craft.foundation.edge_stitch_mm)


def _without_necks(inside: MultiPolygon, region: Region, neck_mm: float) -> BaseGeometry:
    """``inside`` kept away from where it would leave a strip in sight too narrow to be sewn like the rest."""
    if inside.is_empty:
        return inside
    radius = neck_mm / 2
    left = overlay.difference(region.outline, inside)
    wide = opened(multipolygon(left), radius)
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


def _finding(region: Region, gone: MultiPolygon, settings: RoleSettings) -> Finding:
    at = shapely.point_on_surface(gone)
    message = (
        f"{region.element}: {gone.area:.0f} mm² of it lie hidden and are not sewn, which saves stitches, thickness"
        f" or an order of colours that nobody sees; a rim of {settings.rim_mm:g} mm stays beneath every edge of it"
        " that shows"
    )
    return Finding("inside-removed", "note", message, region.id, (at.x, at.y))
