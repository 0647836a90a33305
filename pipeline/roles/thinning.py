"""Too many full layers at one place: remove the hidden inside of the lowest, keeping a rim of overlap."""

from __future__ import annotations

from dataclasses import replace

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.polygon import multipolygon, opened
from pipeline.model import Finding, Note, Region
from pipeline.roles.settings import RoleSettings


def thinned(regions: tuple[Region, ...], settings: RoleSettings, note: Note) -> tuple[Region, ...]:
    """The regions with hidden insides removed, from the lowest upwards, wherever too many layers would lie.

    At a place with more than ``max_layers`` the lowest region loses what is covered by enough others to spare
    it there, at least ``rim_mm`` inside the edge of what covers it. Regions sewn as runs are no layer.
    """
    kept = list(regions)
    wide = [opened(region.outline, settings.support_width_mm / 2) for region in regions]
    for z in range(len(regions) - settings.max_layers):
        above = [area for area in wide[z + 1 :] if area.intersects(wide[z])]
        if len(above) < settings.max_layers:
            continue
        levels = _levels(above, settings.max_layers, kept[z].outline)
        inside = _removable(levels, settings)
        removed = inside.intersection(kept[z].outline).area
        if removed >= settings.least_thinned_mm2:
            kept[z] = replace(kept[z], outline=multipolygon(kept[z].outline.difference(inside)))
            wide[z] = multipolygon(wide[z].difference(inside))
            note(_finding(kept[z], removed, inside, settings))
    return tuple(kept)


def _levels(above: list[MultiPolygon], most: int, within: MultiPolygon) -> list[BaseGeometry]:
    """``levels[k]``: the part of ``within`` beneath at least k of the areas, k up to ``most``."""
    levels: list[BaseGeometry] = [within] + [MultiPolygon()] * most
    for area in above:
        for k in range(most, 0, -1):
            levels[k] = levels[k].union(levels[k - 1].intersection(area))
    return levels


def _removable(levels: list[BaseGeometry], settings: RoleSettings) -> MultiPolygon:
    """What may go: well inside the cover of all but one allowed layer, where an excess lies.

    The inside reaches as far out beneath that cover as the rim allows, so that no place of the excess keeps
    a ridge of one layer too many.
    """
    excess = multipolygon(levels[settings.max_layers])
    enough = levels[settings.max_layers - 1].buffer(-settings.rim_mm, quad_segs=4)
    places = [
        place
        for place in multipolygon(enough).geoms
        if place.area >= settings.least_thinned_mm2 and place.intersection(excess).area > settings.least_thinned_mm2
    ]
    return MultiPolygon(places)


def _finding(region: Region, removed: float, inside: MultiPolygon, settings: RoleSettings) -> Finding:
    at = shapely.point_on_surface(inside)
    message = (
        f"{region.element}: {removed:.0f} mm² of its hidden inside are not sewn, since more than "
        f"{settings.max_layers} full layers would lie there; a rim of {settings.rim_mm:g} mm stays under the "
        "edge above. Flatten the artwork there if the place should be softer still"
    )
    return Finding("inside-removed", "note", message, region.id, (at.x, at.y))
