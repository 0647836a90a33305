"""Ways for the thread that stay out of sight: beneath cover still to come, or over cover of its own colour, and
along the lines of a run, which a second thread makes only a little bolder.

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

from pipeline.geometry import overlay
from pipeline.geometry.graph import traced
from pipeline.geometry.path import core, near_edge, way_inside
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import away, length, ring, spot_of, without_repeats
from pipeline.model import Block, Points, Spot
from pipeline.tie.along import along_lines
from pipeline.tie.settings import TieSettings

SLACK_MM = 0.15
"""How far a hidden way may graze the edge of what hides it: less than pull compensation adds there."""
COARSE_MM = 0.05
"""Faces are simplified by this before ways are sought in them: less than the slack, and many times faster."""
DOOR_MM2, DOOR_MM = 0.05, 0.2
"""Faces that share less, and whose common edge (or the rim of what they share) is no longer, are not joined: no
thread fits through. Columns that meet in a corner may share an edge only."""
SATIN_COST = 2.0
"""Over sewn satin a way counts this many times what it counts over sewn tatami: on its long stitches it shows."""

RUN_COST = 1.5
"""Along a run a way counts this many times what it counts beneath tatami: sewn twice it looks a little bolder."""

CHAINS = 3
"""So many chains of faces are tried, each without the face that was too long a way in the one before."""

SPARE_MM = 1.0
"""What of a face lies farther from a line than is asked for, by this much, is left aside."""

ARRIVED = -2
NOWHERE = -1

Door = tuple[int, int]


class Ground:
    """The faces of all blocks in sewing order, to ask for hidden ways between them."""

    def __init__(self, blocks: tuple[Block, ...], settings: TieSettings, thread_mm: float) -> None:
        """Every pair of overlapping faces is found once, at a cost of about a tenth of a millisecond each."""
        self.parts = [block.step.part for block in blocks]
        self.settings = settings
        self.beside_run_mm = thread_mm / 2
        self.areas = shapely.simplify([part.area for part in self.parts], COARSE_MM)
        self.hides = np.array([part.kind in ("tatami", "satin") for part in self.parts], dtype=np.bool_)
        satin = np.array([part.kind == "satin" for part in self.parts])
        self.over = settings.own_cover_cost * np.where(satin, SATIN_COST, 1.0)
        """What a way over the finished cover of each face counts."""
        self.stop = _stops(blocks)
        shapely.prepare(self.areas)
        self.tree = shapely.STRtree(self.areas)
        self.doors = self._doors()
        self.beside: dict[int, list[int]] = {}
        for one, other in self.doors:
            self.beside.setdefault(one, []).append(other)
            self.beside.setdefault(other, []).append(one)

    def _doors(self) -> dict[Door, shapely.Geometry]:
        """What two faces share, by their numbers."""
        one, other = self.tree.query(self.areas, predicate="intersects")
        keep = one < other
        one, other = one[keep], other[keep]
        shared = overlay.intersection(self.areas[one], self.areas[other])
        wide = np.flatnonzero((shapely.area(shared) > DOOR_MM2) | (shapely.length(shared) > DOOR_MM))
        order = wide[np.lexsort((other[wide], one[wide]))]
        return {(int(one[k]), int(other[k])): shared[k] for k in order}

    def costs(self, index: int) -> NDArray[np.float64]:
        """How many times its length a way in each face counts before ``index`` is sewn; inf where it shows."""
        finished = np.arange(len(self.parts)) < index
        found = np.where(self.hides, np.where(finished, self.over, 1.0), RUN_COST)
        found[finished & (self.stop != self.stop[index])] = np.inf
        return found

    def stay(self, index: int) -> NDArray[np.bool_]:
        """Over which faces thread laid before block ``index`` does not show."""
        return self.hides & np.isfinite(self.costs(index))

    def about(self, blocks: list[int], line: LineString, away_mm: float) -> NDArray[np.object_]:
        """The faces of ``blocks`` as far as they lie within ``away_mm`` of a line, and a little farther."""
        box = shapely.box(*shapely.total_bounds(line) + (away_mm + SPARE_MM) * np.array([-1.0, -1.0, 1.0, 1.0]))
        return np.asarray(overlay.intersection(self.areas[blocks], box))

    def hold(self, blocks: list[int], line: LineString) -> bool:
        """Whether a line lies on the faces of ``blocks``, or grazes their edge."""
        if shapely.covers(self.areas[blocks], line).any():
            return True
        room = overlay.buffer(overlay.union_all(self.about(blocks, line, SLACK_MM)), SLACK_MM, quad_segs=2)
        return bool(room.covers(line))

    def near(self, place: shapely.Geometry, away_mm: float) -> list[int]:
        """The blocks within ``away_mm`` of a place, in sewing order."""
        about = self.tree.query(shapely.box(*shapely.bounds(place) + away_mm * np.array([-1.0, -1.0, 1.0, 1.0])))
        return sorted(about[shapely.dwithin(self.areas[about], place, away_mm)].tolist())  # these are prepared

    def way(self, index: int, start: Spot, end: Spot) -> Points | None:
        """A hidden way from ``start`` to ``end`` before block ``index`` is sewn, ``(n, 2)``, or None.

        Its cost, length times what each face counts, is at most the longest travel of the settings.
        """
        shut: set[int] = set()
        costs = self.costs(index)
        for _ in range(CHAINS):
            chain = self._chain(index, start, end, costs, shut)
            pieces = self._pieces(chain, start, end)
            spent = [length(piece) * float(costs[block]) for block, piece in zip(chain, pieces, strict=False)]
            if chain and len(pieces) == len(chain) and sum(spent) <= self.settings.travel_mm:
                way = without_repeats(np.vstack([np.array([start]), *(piece[1:] for piece in pieces)]), 0.05)
                return self._pulled(np.vstack([way, np.array([end])]) if len(way) < 2 else way, chain)
            if not chain:
                return None
            shut.add(chain[len(pieces)] if len(pieces) < len(chain) else chain[int(np.argmax(spent))])
        return None

    def _pieces(self, chain: list[int], start: Spot, end: Spot) -> list[Points]:
        """The ways inside the faces of a chain, up to the first that has none."""
        places = [np.array(start), *self._through(chain, start, end), np.array(end)]
        found: list[Points] = []
        for block, (here, there) in zip(chain, pairwise(places), strict=False):
            piece = self._inside(block, here, there)
            if piece is None:
                break
            found.append(piece)
        return found

    def _chain(self, index: int, start: Spot, end: Spot, costs: NDArray[np.float64], shut: set[int]) -> list[int]:
        """The cheapest chain of faces, each overlapping the next, from ``start`` to ``end``; empty if none.

        Faces that are ``shut`` are left out: the search reckons ways as the crow flies, and in a bent face the real
        one was found too long.

        A block's own first and last needle points may lie outside its face, for pull, but are of it.
        """
        goals = {index, *self.near(Point(end), SLACK_MM)}
        back: dict[int, int] = {}
        open_ = np.isfinite(costs)
        open_[list(shut)] = False
        heap = [(0.0, block, NOWHERE, start) for block in sorted({index - 1, *self.near(Point(start), SLACK_MM)})]
        while heap:
            spent, block, came, here = heapq.heappop(heap)
            if block == ARRIVED:
                return traced(back, came)
            if block in back or not open_[block]:
                continue
            back[block] = came
            price = float(costs[block])
            if block in goals:
                heapq.heappush(heap, (spent + price * away(here, end), ARRIVED, block, end))
            others = [other for other in self.beside.get(block, ()) if other not in back and open_[other]]
            doors = [self.doors[min(block, other), max(block, other)] for other in others]
            spots = _nearest(doors, here, end)
            totals = spent + price * np.hypot(*(spots - here).T)
            for k in np.flatnonzero(totals <= self.settings.travel_mm).tolist():
                heapq.heappush(heap, (float(totals[k]), others[k], block, spot_of(spots[k])))
        return []

    def _through(self, chain: list[int], start: Spot, end: Spot) -> list[Points]:
        """A place in each door of the chain."""
        here, places = start, []
        for one, other in pairwise(chain):
            (place,) = _nearest([self.doors[min(one, other), max(one, other)]], here, end)
            here = spot_of(place)
            places.append(place)
        return places

    def _inside(self, block: int, here: Points, there: Points) -> Points | None:
        """A way inside one face: along the middle of a column, else the shortest."""
        column, lines = self.parts[block].column, self.parts[block].lines
        if lines:
            return along_lines(lines, spot_of(here), spot_of(there))
        if column is not None and not column.closed:
            return _along((column.left + column.right) / 2.0, here, there)
        if column is not None:
            return _around(ring((column.left + column.right) / 2.0), here, there)
        inset = self.settings.travel_inset_mm
        return way_inside(multipolygon(self.areas[block]), spot_of(here), spot_of(there), inset, SLACK_MM)

    def _pulled(self, way: Points, chain: list[int]) -> Points:
        """``way`` without the corners that are not needed to stay on the faces of its chain, and off their edge."""
        if len(way) < 3:
            return way
        covers = [block for block in chain if self.hides[block]]
        runs = [LineString(ring(x.points) if x.closed else x.points) for k in chain for x in self.parts[k].lines]
        faces = overlay.union_all(self.areas[covers])
        hidden = overlay.buffer(faces, SLACK_MM, quad_segs=2)
        room = overlay.union_all([hidden, *overlay.buffer(runs, self.beside_run_mm, quad_segs=8)])
        shapely.prepare(room)
        clear = core(faces, self.settings.travel_inset_mm / 2)
        beside = np.concatenate([[0.0], np.cumsum(near_edge(_segments(way[:-1], way[1:]), clear))])
        kept = [0]
        while (last := kept[-1]) < len(way) - 1:  # each round goes on by one corner at least
            ahead = np.arange(len(way) - 1, last + 1, -1)
            lines = _segments(np.broadcast_to(way[last], (len(ahead), 2)), way[ahead])
            good = shapely.covers(room, lines)
            good[good] = near_edge(lines[good], clear) <= (beside[ahead] - beside[last])[good] + SLACK_MM
            seen = np.flatnonzero(good)
            kept.append(int(ahead[seen[0]]) if len(seen) else last + 1)
        return way[kept]


def _stops(blocks: tuple[Block, ...]) -> NDArray[np.int64]:
    """The number of each block's colour stop."""
    colours = [block.step.colour for block in blocks]
    changed = [a != b for a, b in zip(colours[1:], colours[:-1], strict=True)]
    return np.concatenate([[0], np.cumsum(changed)]).astype(np.int64)


def _segments(tails: Points, heads: Points) -> NDArray[np.object_]:
    return np.asarray(shapely.linestrings(np.stack([tails, heads], axis=1)))


def _nearest(doors: list[shapely.Geometry], here: Spot, end: Spot) -> Points:
    """The place in each door that is nearest to the straight way on, ``(n, 2)``."""
    lines = shapely.shortest_line(np.array(doors, dtype=object), LineString([here, end]))
    return np.asarray(shapely.get_coordinates(lines)[::2])


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
