"""Where a region ends on the same edge as one that hides it, the lower one stays back.

Both would be sewn to that edge, each with its pull compensation, and where the lower one's rows end across it and
the upper one's run along it the lower colour comes out beneath. It is not needed there: nothing is seen of it.
"""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.losses import each
from pipeline.model import Region
from pipeline.roles.settings import RoleSettings

ON_EDGE_MM = 0.02
"""Nearer than this an edge is the same edge."""
WIDE_MM = 2.0
"""A lower region narrower than this is left as it is: staying back would change how it is sewn."""
SPECK_MM2 = 0.01
"""So little is left over by cutting, and not sewn."""
LEAST_MM2 = 0.2
"""A smaller place is not worth a corner in the outline."""


def set_back(
    regions: tuple[Region, ...], settings: RoleSettings, craft: Craft
) -> tuple[tuple[Region, ...], list[MultiPolygon]]:
    """The regions, and what each gives up: hidden strips within ``set_back_mm`` of the edge of all that is sewn.

    Where a region comes out from beneath what hides it, ``set_back_rim_mm`` of it are kept.
    """
    if settings.set_back_mm == 0:
        return regions, [NOTHING] * len(regions)
    names = [region.id for region in regions]
    near = pairs([region.outline for region in regions])
    hiding = [[k for k in near[z] if k > z] for z in range(len(regions))]
    wanted = sorted({k for those in hiding for k in those})
    wide = each([names[k] for k in wanted], wanted, lambda k: _wide(regions[k].outline, craft.satin_from_mm))
    covers = dict(zip(wanted, wide, strict=True))
    above = [[covers[k] for k in those] for those in hiding]
    made = each(names, zip(regions, above, strict=True), lambda pair: _kept(*pair, settings))
    return tuple(kept for kept, _ in made), [gone for _, gone in made]


def _kept(region: Region, above: list[MultiPolygon], settings: RoleSettings) -> tuple[Region, MultiPolygon]:
    """One region beneath the covers ``above`` it, and what it gives up."""
    if not above or region.stroke is not None:
        return region, NOTHING
    strip = _strip(region.outline, above, settings)
    grown = overlay.buffer(strip, ON_EDGE_MM, join_style="mitre")  # or spikes stay along the edge
    left = multipolygon(overlay.difference(region.outline, grown), SPECK_MM2)
    if len(strip.geoms) and len(left.geoms) == len(region.outline.geoms):
        return replace(region, outline=left), strip
    return region, NOTHING


def _strip(outline: MultiPolygon, above: list[MultiPolygon], settings: RoleSettings) -> MultiPolygon:
    """What of ``outline`` lies hidden at the edge of all that is sewn."""
    back = settings.set_back_mm
    cover = overlay.union_all(above)
    hidden = multipolygon(overlay.intersection(cover, outline))
    rim = overlay.union(cover, outline).boundary
    near = _lines(overlay.intersection(rim, overlay.buffer(hidden, back)))
    if near.is_empty:
        return MultiPolygon()
    emerging = overlay.difference(
        _lines(overlay.intersection(cover.boundary, outline)), overlay.buffer(rim, ON_EDGE_MM, quad_segs=2)
    )
    spare = multipolygon(overlay.intersection(hidden, overlay.buffer(near, back, quad_segs=8)))
    if spare.area < LEAST_MM2:
        return MultiPolygon()
    spare = overlay.difference(
        multipolygon(overlay.intersection(spare, _wide(outline, WIDE_MM))),
        overlay.buffer(emerging, settings.set_back_rim_mm, quad_segs=4),
    )
    places = multipolygon(spare, LEAST_MM2).geoms
    return MultiPolygon([place for place in places if not overlay.buffer(place, -back / 5, quad_segs=2).is_empty])


def _lines(shape: BaseGeometry) -> MultiLineString:
    """The lines of any geometry: two edges share points as well."""
    parts = shapely.get_parts(shape)
    return MultiLineString([part for part in parts if isinstance(part, LineString) and not part.is_empty])


def _wide(outline: MultiPolygon, width_mm: float) -> MultiPolygon:
    """Where ``outline`` is at least so wide, its corners included."""
    core = overlay.buffer(outline, -width_mm / 2, join_style="mitre")
    grown = overlay.buffer(core, width_mm / 2 + ON_EDGE_MM, join_style="mitre", mitre_limit=10.0)
    return multipolygon(overlay.intersection(grown, outline))
