"""What may be left out beneath a region: all but a rim beneath its edge."""

from __future__ import annotations

from copy import copy

from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.model import Region

SEAM_MM = 0.05
"""Regions nearer to each other than twice of this leave no bare fabric between them."""


FIN_MM = 0.8
"""What is left hidden and narrower than this beside a removed inside carries nothing and only costs stitches."""
CRUMB_MM2 = 0.01


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
            others = overlay.union_all([self.outlines[other] for other in self.beside[k]])
            zone = overlay.buffer(outline, 2 * self.rim_mm, quad_segs=2)
            bare = overlay.buffer(overlay.difference(zone, others), -SEAM_MM, quad_segs=1)
            both = overlay.union(outline, overlay.buffer(bare, 3 * SEAM_MM, quad_segs=1))
            self.known[k] = multipolygon(
                overlay.intersection(overlay.buffer(both, -self.rim_mm, quad_segs=4), outline)
            )
        return self.known[k]

    def after(self, outlines: list[MultiPolygon]) -> Insides:
        """The same for areas of which some have lost insides themselves; the design's border is the same."""
        changed = copy(self)
        changed.outlines = outlines
        same = (k for k in self.known if outlines[k] is self.outlines[k])
        changed.known = {k: self.known[k] for k in same}
        return changed


def without(region: Region, gone: MultiPolygon) -> MultiPolygon:
    """The region's outline without ``gone``, and without the hidden crumbs and fins that this would leave.

    They are narrower than ``FIN_MM`` and farther than that from what shows of the region.
    """
    rest = overlay.difference(region.outline, gone)
    thin = overlay.difference(
        overlay.difference(rest, opened(rest, FIN_MM / 2)), overlay.buffer(region.visible, FIN_MM, quad_segs=2)
    )
    beside = overlay.buffer(gone, FIN_MM, quad_segs=2)
    fins = [fin for fin in multipolygon(thin).geoms if fin.intersects(beside)]
    return multipolygon(overlay.difference(rest, overlay.union_all(fins)) if fins else rest, CRUMB_MM2)
