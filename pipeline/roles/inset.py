"""What may go beneath a region: its edge wants stitches under it, but not where it ends against bare fabric."""

from __future__ import annotations

from collections.abc import Sequence

import shapely
from shapely.geometry import MultiPolygon

from pipeline.geometry.neighbours import pairs
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon

SEAM_MM = 0.05
"""Regions nearer to each other than twice of this leave no bare fabric between them."""


class Insets:
    """The insides of areas, ``rim_mm`` within each edge that has a neighbour; reckoned when asked for."""

    def __init__(self, outlines: Sequence[MultiPolygon], rim_mm: float) -> None:
        self._outlines, self._rim_mm = outlines, rim_mm
        self._beside = pairs(outlines, 2 * rim_mm)
        self._known: dict[int, MultiPolygon] = {}

    def __getitem__(self, k: int) -> MultiPolygon:
        if k not in self._known:
            self._known[k] = self._inset(k)
        return self._known[k]

    def _inset(self, k: int) -> MultiPolygon:
        outline = self._outlines[k]
        others = shapely.union_all([self._outlines[other] for other in self._beside[k]])
        zone = moved(outline, 2 * self._rim_mm)
        bare = zone.difference(others.intersection(zone).buffer(SEAM_MM, quad_segs=1))
        held = moved(multipolygon(outline.union(bare.buffer(2 * SEAM_MM, quad_segs=1))), -self._rim_mm)
        return multipolygon(held.intersection(outline))
