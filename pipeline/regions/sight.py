"""What shows of each region of a stack."""

from __future__ import annotations

from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Region


def visible(regions: tuple[Region, ...]) -> list[MultiPolygon]:
    """Each region's outline (bottom first) without what the later ones hide."""
    outlines = [region.outline for region in regions]
    near = pairs(outlines)

    def seen(index: int) -> MultiPolygon:
        above = [outlines[other] for other in near[index] if other > index]
        return multipolygon(
            overlay.difference(outlines[index], overlay.union_all(above)) if above else outlines[index]
        )

    return each([region.id for region in regions], range(len(regions)), seen)
