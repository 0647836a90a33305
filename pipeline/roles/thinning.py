"""Too many full layers at one place: remove hidden insides, keeping a rim of overlap beneath every edge."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from operator import is_not

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.losses import each
from pipeline.model import Finding, Note, Region
from pipeline.roles.rims import Insides, without
from pipeline.roles.settings import RoleSettings

_Faces = tuple[NDArray[np.object_], NDArray[np.int_]]
SMOOTH_MM = 0.5
"""What goes has no corner sharper than this radius, and no neck thinner than twice of it."""


def thinned(
    regions: tuple[Region, ...], wide: list[MultiPolygon], insides: Insides, settings: RoleSettings, note: Note
) -> tuple[Region, ...]:
    """The regions with hidden insides removed wherever more than ``max_layers`` would lie.

    What goes lies at least ``rim_mm`` inside the edge of one later region that hides it. Regions that lie on
    others give way first, from the lowest upwards, since what lies on them then still lies on stitches; the
    bases follow where that did not suffice. Only the ``wide`` part of each region is a layer.
    """
    pile = _Pile(regions, wide, insides, settings)
    removed = [0.0] * len(regions)
    names = [region.id for region in regions]
    for resting in (True, False):
        for z, area in enumerate(each(names, range(len(regions)), partial(pile.thin, resting=resting))):
            removed[z] += area
    for z, area in enumerate(removed):
        if area > 0:
            note(
                _finding(pile.kept[z], area, overlay.difference(regions[z].outline, pile.kept[z].outline), settings)
            )
    return tuple(pile.kept)


class _Pile:
    """The regions while they are thinned."""

    def __init__(
        self, regions: tuple[Region, ...], wide: list[MultiPolygon], insides: Insides, settings: RoleSettings
    ) -> None:
        self.kept = list(regions)
        self.settings = settings
        self.wide = list(wide)
        self.near = pairs(self.wide)
        self.insides = insides.after([region.outline for region in regions])
        self.thin_enough: set[int] = set()
        self.parted: dict[int, tuple[list[MultiPolygon], _Faces]] = {}

    def thin(self, z: int, resting: bool) -> float:
        """Remove from region ``z`` what it has too much of, and tell how much, mm².

        ``resting`` spares what lies on fabric.
        """
        most, area, near = self.settings.max_layers, self.wide[z], self.near[z]
        if z in self.thin_enough or len(near) < most or near[-1] < z or (resting and near[0] > z):
            return 0.0
        faces, count = self._parted(z)
        if shapely.area(faces[count >= most]).sum() < self.settings.least_thinned_mm2:
            self.thin_enough.add(z)
            return 0.0
        hiding = [self.insides.of(k) for k in near if k > z]
        spare = multipolygon(
            overlay.intersection(overlay.union_all(hiding), overlay.joined(faces[count >= most - 1]))
        )
        if resting and not spare.is_empty:
            beneath = [self.wide[k] for k in near if k < z]
            spare = multipolygon(overlay.intersection(spare, overlay.union_all(beneath)))
        gone = self._places(spare, multipolygon(overlay.joined(faces[count >= most])))
        if gone.is_empty:
            return 0.0
        before = self.kept[z].outline
        self.kept[z] = replace(self.kept[z], outline=without(self.kept[z], gone))
        self.wide[z] = multipolygon(overlay.difference(area, gone))
        return float(before.area - self.kept[z].outline.area)

    def _parted(self, z: int) -> _Faces:
        """The faces of region ``z``, made anew only if it or what lies near has changed."""
        every = [self.wide[k] for k in (z, *self.near[z])]
        if z not in self.parted or any(map(is_not, self.parted[z][0], every)):
            self.parted[z] = every, _faces(every[0], every[1:])
        return self.parted[z][1]

    def _places(self, spare: MultiPolygon, excess: MultiPolygon) -> MultiPolygon:
        """The smooth places of ``spare`` that relieve the ``excess``."""
        least = self.settings.least_thinned_mm2
        places = opened(spare, SMOOTH_MM)
        return MultiPolygon([place for place in places.geoms if overlay.intersection(place, excess).area > least])


def _faces(within: MultiPolygon, others: list[MultiPolygon]) -> _Faces:
    """The faces into which the others' edges part ``within``, and how many of them lie on each."""
    edges = overlay.union_all(shapely.boundary([within, *overlay.intersection(others, within)]))
    faces = shapely.get_parts(shapely.polygonize([edges]))
    inside = shapely.point_on_surface(faces)
    shapely.prepare(within)
    faces, inside = faces[shapely.intersects(within, inside)], inside[shapely.intersects(within, inside)]
    over = shapely.STRtree(inside).query(others, predicate="intersects")[1]
    return faces, np.bincount(over, minlength=len(faces))


def _finding(region: Region, removed: float, inside: MultiPolygon, settings: RoleSettings) -> Finding:
    at = shapely.point_on_surface(inside)
    message = (
        f"{region.element}: {removed:.0f} mm² of its hidden inside are not sewn, since more than "
        f"{settings.max_layers} full layers would lie there; a rim of {settings.rim_mm:g} mm stays under the "
        "edge above. Flatten the artwork there if the place should be softer still"
    )
    return Finding("inside-removed", "note", message, region.id, (at.x, at.y))
