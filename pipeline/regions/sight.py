"""What shows of each area of a stack."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.neighbours import pairs


def visible(areas: Sequence[MultiPolygon]) -> list[BaseGeometry]:
    """Each area (bottom first) without what the later ones hide."""
    seen: list[BaseGeometry] = []
    for index, near in enumerate(pairs(areas)):
        above = [areas[other] for other in near if other > index]
        seen.append(overlay.difference(areas[index], overlay.union_all(above)) if above else areas[index])
    return seen
