"""Ways for the thread that stay out of sight: beneath cover still to come, or over cover of its own colour.

Blocks are places, and where two overlap is a door between them. The cheapest chain of blocks is sought first
(E. Dijkstra, Numerische Mathematik 1, 1959), then the way inside each, then corners that are not needed go.
"""

from __future__ import annotations

import heapq
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString, Point
from shapely.ops import substring

from pipeline.geometry.path import way_inside
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import length, ring, without_repeats
from pipeline.model import Block, Points, Spot
from pipeline.tie.settings import TieSettings

SLACK_MM = 0.15
"""How far a hidden way may graze the edge of what hides it: less than pull compensation adds there."""
COARSE_MM = 0.05
"""Faces are simplified by this before ways are sought in them: less than the slack, and many times faster."""
DOOR_MM2 = 0.05
"""Faces that share less are not joined: no thread fits through."""
SATIN_COST = 2.0
"""Over sewn satin a way counts this many times what it counts over sewn tatami: on its long stitches it shows."""

ARRIVED = -2
NOWHERE = -1

Door = tuple[int, int]


class Ground:
    """The faces of all blocks in sewing order, to ask for hidden ways between them."""

    def __init__(self, blocks: tuple[Block, ...], settings: TieSettings) -> None:
        """Every pair of overlapping faces is found once, at a cost of about a tenth of a millisecond each."""
        self.parts = [block.step.part for block in blocks]
        self.settings = settings
        self.areas = shapely.simplify([part.area for part in self.parts], COARSE_MM)
        self.hides = np.array([part.kind in ("tatami", "satin") for part in self.parts], dtype=np.bool_)
        self.stop = _stops(blocks)
        self.tree = shapely.STRtree(self.areas)
        self.doors = self._doors()
        self.beside: dict[int, list[int]] = {}
        for one, other in self.doors:
            self.beside.setdefault(one, []).append(other)
            self.beside.setdefault(other, []).append(one)

    def _doors(self) -> dict[Door, shapely.Geometry]:
        """What two faces that hide share, by their numbers."""
        one, other = self.tree.query(self.areas, predicate="intersects")
        keep = (one < other) & self.hides[one] & self.hides[other]
        one, other = one[keep], other[keep]
        shared = shapely.intersection(self.areas[one], self.areas[other])
        wide = np.flatnonzero(shapely.area(shared) > DOOR_MM2)
        order = wide[np.lexsort((other[wide], one[wide]))]
        return {(int(one[k]), int(other[k])): shared[k] for k in order}

    def costs(self, index: int, block: int) -> float:
        """How many times its length a way in face ``block`` counts before block ``index`` is sewn."""
        if not self.hides[block] or (block < index and self.stop[block] != self.stop[index]):
            return np.inf
        if block >= index:
            return 1.0
        return self.settings.own_cover_cost * (SATIN_COST if self.parts[block].kind == "satin" else 1.0)

    def stays(self, index: int, block: int) -> bool:
        """Whether thread laid before block ``index`` does not show over face ``block``."""
        return bool(np.isfinite(self.costs(index, block)))

    def near(self, place: shapely.Geometry, away_mm: float) -> list[int]:
        """The blocks within ``away_mm`` of a place, in sewing order."""
        return sorted(self.tree.query(place, predicate="dwithin", distance=away_mm).tolist())

    def way(self, index: int, start: Spot, end: Spot) -> Points | None:
        """A hidden way from ``start`` to ``end`` before block ``index`` is sewn, ``(n, 2)``, or None.

        Its cost, length times what each face counts, is at most the longest travel of the settings.
        """
        chain = self._chain(index, start, end)
        if not chain:
            return None
        places = [np.array(start), *self._through(chain, start, end), np.array(end)]
        found = [places[0][None]]
        spent = 0.0
        for block, (here, there) in zip(chain, pairwise(places), strict=True):
            piece = self._inside(block, here, there)
            if piece is None:
                return None
            spent += length(piece) * self.costs(index, block)
            found.append(piece[1:])
        if spent > self.settings.travel_mm:
            return None
        way = without_repeats(np.vstack(found), 0.05)
        way = np.vstack([way, places[-1][None]]) if len(way) < 2 else way
        return self._pulled(way, chain)

    def _chain(self, index: int, start: Spot, end: Spot) -> list[int]:
        """The cheapest chain of faces, each overlapping the next, from ``start`` to ``end``; empty if none.

        A block's own first and last needle points may lie outside its face, for pull, but are of it.
        """
        goals = {index, *self.near(Point(end), SLACK_MM)}
        back: dict[int, int] = {}
        heap = [(0.0, block, NOWHERE, start) for block in sorted({index - 1, *self.near(Point(start), SLACK_MM)})]
        while heap:
            spent, block, came, here = heapq.heappop(heap)
            if block == ARRIVED:
                return self._traced(back, came)
            price = self.costs(index, block)
            if block in back or not np.isfinite(price):
                continue
            back[block] = came
            if block in goals:
                heapq.heappush(heap, (spent + price * _away(here, end), ARRIVED, block, end))
            for other in self.beside.get(block, ()):
                if other in back or not np.isfinite(self.costs(index, other)):
                    continue
                door = self.doors[min(block, other), max(block, other)]
                spot = _nearest(door, here, end)
                total = spent + price * _away(here, spot)
                if total <= self.settings.travel_mm:
                    heapq.heappush(heap, (total, other, block, spot))
        return []

    @staticmethod
    def _traced(back: dict[int, int], block: int) -> list[int]:
        chain = []
        while block >= 0:
            chain.append(block)
            block = back[block]
        return chain[::-1]

    def _through(self, chain: list[int], start: Spot, end: Spot) -> list[Points]:
        """A place in each door of the chain."""
        here, places = start, []
        for one, other in pairwise(chain):
            here = _nearest(self.doors[min(one, other), max(one, other)], here, end)
            places.append(np.array(here))
        return places

    def _inside(self, block: int, here: Points, there: Points) -> Points | None:
        """A way inside one face: along the middle of a column, else the shortest."""
        column = self.parts[block].column
        if column is not None and not column.closed:
            return _along((column.left + column.right) / 2.0, here, there)
        if column is not None:
            return _around(ring((column.left + column.right) / 2.0), here, there)
        inset = self.settings.travel_inset_mm
        return way_inside(multipolygon(self.areas[block]), _spot(here), _spot(there), inset, SLACK_MM)

    def _pulled(self, way: Points, chain: list[int]) -> Points:
        """``way`` without the corners that are not needed to stay on the faces of its chain."""
        if len(way) < 3:
            return way
        room = shapely.union_all(self.areas[chain]).buffer(SLACK_MM, quad_segs=2)
        shapely.prepare(room)
        kept = [0]
        while kept[-1] < len(way) - 1:
            ahead = np.arange(len(way) - 1, kept[-1] + 1, -1)
            lines = shapely.linestrings(
                np.stack([np.repeat(way[kept[-1]][None], len(ahead), 0), way[ahead]], axis=1)
            )
            seen = np.flatnonzero(shapely.covers(room, lines))
            kept.append(int(ahead[seen[0]]) if len(seen) else kept[-1] + 1)
        return way[kept]


def _stops(blocks: tuple[Block, ...]) -> NDArray[np.int64]:
    """The number of each block's colour stop."""
    colours = [block.step.colour for block in blocks]
    changed = [a != b for a, b in zip(colours[1:], colours[:-1], strict=True)]
    return np.concatenate([[0], np.cumsum(changed)]).astype(np.int64)


def _nearest(door: shapely.Geometry, here: Spot, end: Spot) -> Spot:
    """The place in a door that is nearest to the straight way on."""
    spot = shapely.get_coordinates(shapely.shortest_line(door, LineString([here, end])))[0]
    return (float(spot[0]), float(spot[1]))


def _along(middle: Points, here: Points, there: Points) -> Points:
    line = LineString(middle)
    a, b = line.project(Point(here)), line.project(Point(there))
    between = shapely.get_coordinates(substring(line, a, b))
    return np.vstack([here[None], between, there[None]])


def _around(middle: Points, here: Points, there: Points) -> Points:
    """Along a closed middle line, the shorter way round."""
    line = LineString(middle)
    a, b = line.project(Point(here)), line.project(Point(there))
    if abs(a - b) <= line.length / 2:
        return _along(middle, here, there)
    low, high = min(a, b), max(a, b)
    outer = [substring(line, low, 0.0), substring(line, line.length, high)]
    between = np.vstack([shapely.get_coordinates(piece) for piece in outer])
    return np.vstack([here[None], between if a < b else between[::-1], there[None]])


def _away(one: Spot, other: Spot) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))


def _spot(place: Points) -> Spot:
    return (float(place[0]), float(place[1]))
