"""Too many full layers at one place: remove hidden insides, keeping a rim of overlap beneath every edge."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.model import Finding, Note, Region
from pipeline.roles.settings import RoleSettings

SEAM_MM = 0.05
"""Regions nearer to each other than twice of this leave no bare fabric between them."""
SMOOTH_MM = 0.5
"""What goes has no corner sharper than this radius, and no neck thinner than twice of it."""


def thinned(regions: tuple[Region, ...], settings: RoleSettings, note: Note) -> tuple[Region, ...]:
    """The regions with hidden insides removed wherever more than ``max_layers`` would lie.

    What goes lies at least ``rim_mm`` inside the edge of one later region that hides it. Regions that lie on
    others give way first, from the lowest upwards, since what lies on them then still lies on stitches; the
    bases follow where that did not suffice. Regions sewn as runs are no layer.
    """
    pile = _Pile(regions, settings)
    removed = [0.0] * len(regions)
    for resting in (True, False):
        for z in range(len(regions) - 1):
            removed[z] += pile.thin(z, resting)
    for z, area in enumerate(removed):
        if area > 0:
            note(_finding(pile.kept[z], area, regions[z].outline.difference(pile.kept[z].outline), settings))
    return tuple(pile.kept)


class _Pile:
    """The regions while they are thinned."""

    def __init__(self, regions: tuple[Region, ...], settings: RoleSettings) -> None:
        self.kept = list(regions)
        self.settings = settings
        self.wide = [opened(region.outline, settings.support_width_mm / 2) for region in regions]
        self.near = _pairs(self.wide)
        self.insets: dict[int, MultiPolygon] = {}
        design = moved(multipolygon(shapely.union_all([r.outline for r in regions])), SEAM_MM)
        self.around = moved(design, 2 * settings.rim_mm).difference(moved(design, -2 * SEAM_MM))

    def thin(self, z: int, resting: bool) -> float:
        """Remove from region ``z`` what it has too much of, and tell how much, mm².

        ``resting`` spares what lies on fabric.
        """
        most, area = self.settings.max_layers, self.wide[z]
        near = [k for k in self.near[z] if self.wide[k].intersects(area)]
        if len(near) < most or near[-1] < z:
            return 0.0
        levels = _levels([self.wide[k] for k in near], most, area)
        if levels[most].area < self.settings.least_thinned_mm2:
            return 0.0
        hiding = shapely.union_all([self._inset(k) for k in near if k > z])
        spare = multipolygon(hiding.intersection(multipolygon(levels[most - 1])))
        if resting:
            beneath = shapely.union_all([self.wide[k] for k in near if k < z])
            spare = spare.intersection(beneath)
        gone = self._places(multipolygon(spare), multipolygon(levels[most]))
        if gone.is_empty:
            return 0.0
        before = self.kept[z].outline
        self.kept[z] = replace(self.kept[z], outline=multipolygon(before.difference(gone)))
        self.wide[z] = multipolygon(area.difference(gone))
        return float(before.area - self.kept[z].outline.area)

    def _inset(self, k: int) -> MultiPolygon:
        """What may go beneath region ``k``: its edge needs support, but not where it ends against bare fabric."""
        if k not in self.insets:
            outline = self.kept[k].outline
            held = moved(outline.union(self.around), -self.settings.rim_mm)
            self.insets[k] = multipolygon(held.intersection(outline))
        return self.insets[k]

    def _places(self, spare: MultiPolygon, excess: MultiPolygon) -> MultiPolygon:
        """The smooth places of ``spare`` that relieve the ``excess``."""
        least = self.settings.least_thinned_mm2
        places = opened(spare, SMOOTH_MM)
        return MultiPolygon([place for place in places.geoms if place.intersection(excess).area > least])


def _pairs(areas: list[MultiPolygon]) -> list[list[int]]:
    """For each area those that it meets, lowest first."""
    found = shapely.STRtree(areas).query(areas, predicate="intersects")
    near: list[list[int]] = [[] for _ in areas]
    for one, other in found[:, np.lexsort((found[1], found[0]))].T.tolist():
        if one != other:
            near[one].append(other)
    return near


def _levels(others: list[MultiPolygon], most: int, within: MultiPolygon) -> list[BaseGeometry]:
    """``levels[k]``: the part of ``within`` that at least k of the others share, k up to ``most``."""
    levels: list[BaseGeometry] = [within] + [MultiPolygon()] * most
    for area in others:
        for k in range(most, 0, -1):
            levels[k] = multipolygon(levels[k].union(levels[k - 1].intersection(area)))
    return levels


def _finding(region: Region, removed: float, inside: MultiPolygon, settings: RoleSettings) -> Finding:
    at = shapely.point_on_surface(inside)
    message = (
        f"{region.element}: {removed:.0f} mm² of its hidden inside are not sewn, since more than "
        f"{settings.max_layers} full layers would lie there; a rim of {settings.rim_mm:g} mm stays under the "
        "edge above. Flatten the artwork there if the place should be softer still"
    )
    return Finding("inside-removed", "note", message, region.id, (at.x, at.y))
