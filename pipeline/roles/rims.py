"""What may be left out beneath a region: all but a rim beneath its edge."""

from __future__ import annotations

from copy import copy

import shapely
from shapely.geometry import MultiPolygon

from pipeline.geometry.neighbours import pairs
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon

SEAM_MM = 0.05
"""Regions nearer to each other than twice of this leave no bare fabric between them."""


class Insides:
    """The insides of areas: ``rim_mm`` inside the edge, but up to it where the edge ends against bare fabric.

    An edge above others needs stitches beneath it; at the border of the design it has nothing to lie on, and a
    rim there would only peep out.
    """

    def __init__(self, outlines: list[MultiPolygon], rim_mm: float) -> None:
        self.outlines, self.rim_mm = outlines, rim_mm
        self.beside = pairs(outlines, 2 * rim_mm)
        self.known: dict[int, MultiPolygon] = {}

    def of(self, k: int) -> MultiPolygon:
        """The inside of area ``k``, maybe empty."""
        if k not in self.known:
            outline = self.outlines[k]
            others = shapely.union_all([self.outlines[other] for other in self.beside[k]])
            zone = outline.buffer(2 * self.rim_mm, quad_segs=2)
            bare = zone.difference(others).buffer(-SEAM_MM, quad_segs=1)
            both = multipolygon(outline.union(bare.buffer(3 * SEAM_MM, quad_segs=1)))
            self.known[k] = multipolygon(moved(both, -self.rim_mm).intersection(outline))
        return self.known[k]

    def after(self, outlines: list[MultiPolygon]) -> Insides:
        """The same for areas of which some have lost insides themselves; the design's border is the same."""
        changed = copy(self)
        changed.outlines = outlines
        same = (k for k in self.known if outlines[k] is self.outlines[k])
        changed.known = {k: self.known[k] for k in same}
        return changed
