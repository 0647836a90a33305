"""Units: the connected pieces of a region, each a tree of parts that is sewn without a trim.

The widest part is the root. Every other part joins its parent; leaves are sewn first and the root last, so
that the way between joints runs beneath parts that are still to come, and each joint ends up covered.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.graph import components
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import spot_of
from pipeline.losses import each
from pipeline.model import Part, Spot

REACH_MM = 0.02
"""Parts of one region closer than this join: wider than any rounding, far narrower than any gap that shows."""


@dataclass(frozen=True, eq=False)
class Unit:
    """A tree of parts. ``parent[i]`` is the index of part i's parent (-1 for the root), ``joint[i]`` the place
    where they meet."""

    parts: tuple[Part, ...]
    colour: str
    z: int
    area: MultiPolygon
    root: int
    parent: tuple[int, ...]
    joint: tuple[Spot, ...]

    def children(self, index: int) -> list[int]:
        """The parts that hang on part ``index``, in part order."""
        return [child for child, parent in enumerate(self.parent) if parent == index]


def units(parts: tuple[Part, ...], colours: dict[str, str], heights: dict[str, int]) -> list[Unit]:
    """The units of all regions, bottom first; ``colours`` and ``heights`` are by region id."""
    by_region: dict[str, list[Part]] = {}
    for part in parts:
        by_region.setdefault(part.region, []).append(part)
    names = sorted(by_region, key=lambda name: heights[name])

    def of(region: str) -> list[Unit]:
        return [_unit(group, colours[region], heights[region]) for group in _groups(by_region[region])]

    return [unit for found in each(names, names, of) for unit in found]


def _groups(parts: list[Part]) -> list[list[Part]]:
    """Parts of one region by connectedness, in part order."""
    label = components(len(parts), *_near(parts))
    return [[parts[k] for k in np.flatnonzero(label == group)] for group in range(int(label.max()) + 1)]


def _near(parts: list[Part]) -> np.ndarray[tuple[int, int], np.dtype[np.int64]]:
    areas = [part.area for part in parts]
    found = shapely.STRtree(areas).query(areas, predicate="dwithin", distance=REACH_MM)
    return np.asarray(found[:, found[0] != found[1]], dtype=np.int64)


def _unit(parts: list[Part], colour: str, z: int) -> Unit:
    root = max(range(len(parts)), key=lambda i: (parts[i].kind == "tatami", parts[i].area.area, -i))
    parent = [-1] * len(parts)
    joint: list[Spot] = [_spot(parts[root].area)] * len(parts)
    near = _near(parts)
    seen = {root}
    front = [root]
    while front:
        reached = []
        for index in front:
            for other in sorted(near[1][near[0] == index].tolist()):
                if other not in seen:
                    seen.add(other)
                    parent[other] = index
                    joint[other] = _meeting(parts[other].area, parts[index].area)
                    reached.append(other)
        front = reached
    area = multipolygon(overlay.union_all([part.area for part in parts]))
    return Unit(tuple(parts), colour, z, area, root, tuple(parent), tuple(joint))


def _meeting(child: Polygon, parent: Polygon) -> Spot:
    """A place in both, as near as can be to the middle of where they overlap."""
    shared = overlay.intersection(child, parent)
    if shared.is_empty:
        shared = shapely.shortest_line(child, parent)
    line = shapely.shortest_line(shared, shapely.centroid(shared))
    return spot_of(shapely.get_coordinates(line)[0])


def _spot(area: Polygon) -> Spot:
    inside = shapely.point_on_surface(area)
    return (inside.x, inside.y)
