"""Too many full layers at one place: what is hidden gives way, down to the overlap beneath an edge in sight."""

from __future__ import annotations

from functools import partial
from itertools import product

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.craft import Craft
from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Note, Region
from pipeline.roles.hidden import inner, without
from pipeline.roles.settings import RoleSettings

Floats = NDArray[np.float64]

NARROW_LAYERS = 1.4
"""Full layers of thread that a narrow region comes to: satin lies double at bends, turns and ends."""
LEAST_OVERLAP_MM = 0.8
"""Where rims of several edges meet they give way to this, as much as neighbours reach beneath each other."""
BENEATH_LAYERS = 0.5
"""What foundation and travel beneath all cover add."""


def thinned(
    regions: tuple[Region, ...], wide: list[MultiPolygon], settings: RoleSettings, craft: Craft, note: Note
) -> tuple[Region, ...]:
    """The regions with hidden insides left out wherever more than ``max_layers`` would lie.

    Regions that lie on others give way first, from the lowest upwards, since what lies on them then still lies on
    stitches; the bases follow where that did not suffice, then rims. Only ``wide`` parts are layers.
    """
    pile = _Pile(regions, wide, settings, craft, note)
    names = [region.id for region in regions]
    for rim_mm, resting in product((settings.rim_mm, LEAST_OVERLAP_MM), (True, False)):
        each(names, range(len(regions)), partial(pile.thin, resting=resting, rim_mm=rim_mm))
    return tuple(pile.kept)


class _Pile:
    """The regions while they are thinned."""

    def __init__(
        self,
        regions: tuple[Region, ...],
        wide: list[MultiPolygon],
        settings: RoleSettings,
        craft: Craft,
        note: Note,
    ) -> None:
        self.kept, self.wide = list(regions), list(wide)
        self.settings, self.neck_mm, self.note = settings, craft.satin_up_to_mm, note
        self.near = pairs(self.wide)
        deep = shapely.area(overlay.buffer(np.array(wide, dtype=object), -craft.satin_up_to_mm / 2, quad_segs=2))
        self.weight = np.where(deep > 0.0, 1.0, NARROW_LAYERS)
        self.thin_enough: set[int] = set()

    def thin(self, z: int, resting: bool, rim_mm: float) -> None:
        """Leave out of region ``z`` what it has too much of; ``resting`` spares what lies on fabric."""
        most, area, near = self.settings.max_layers + BENEATH_LAYERS - self.weight[z], self.wide[z], self.near[z]
        if self.weight[near].sum() <= most or near[-1] < z or (resting and near[0] > z) or z in self.thin_enough:
            return
        faces, load = _faces(area, [self.wide[k] for k in near], self.weight[near])
        excess = faces[load > most]
        if shapely.area(excess).sum() < self.settings.least_thinned_mm2:
            self.thin_enough.add(z)
            return
        hidden = multipolygon(overlay.difference(self.kept[z].outline, self.kept[z].visible))
        keep_mm = self.settings.overlap_mm or rim_mm, rim_mm
        neck_mm = self.neck_mm if rim_mm > LEAST_OVERLAP_MM else 0.0
        deep = overlay.union_all(inner(hidden, self.kept[z], keep_mm, self.settings, neck_mm))
        spare = overlay.intersection(deep, overlay.joined(faces[load > most - 1.0]))
        if resting:
            spare = overlay.intersection(
                multipolygon(spare), overlay.union_all([self.wide[k] for k in near if k < z])
            )
        over, least = overlay.joined(excess), self.settings.least_thinned_mm2
        places = [p for p in multipolygon(spare).geoms if overlay.intersection(p, over).area > least]
        self.kept[z] = without(self.kept[z], MultiPolygon(places), self.settings, self.note)
        self.wide[z] = multipolygon(overlay.intersection(area, self.kept[z].outline))


def _faces(within: MultiPolygon, others: list[MultiPolygon], weights: Floats) -> tuple[NDArray[np.object_], Floats]:
    """The faces into which the others' edges part ``within``, and what the others on each of them weigh."""
    edges = overlay.union_all(shapely.boundary([within, *overlay.intersection(others, within)]))
    faces = shapely.get_parts(shapely.polygonize([edges]))
    inside = shapely.point_on_surface(faces)
    shapely.prepare(within)
    faces, inside = faces[shapely.intersects(within, inside)], inside[shapely.intersects(within, inside)]
    other, over = shapely.STRtree(inside).query(others, predicate="intersects")
    load: Floats = np.bincount(over, weights=weights[other], minlength=len(faces)).astype(np.float64)
    return faces, load
