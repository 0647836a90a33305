"""From the end of one block to the start of the next: run on, travel hidden, jump or trim."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.path import way_inside
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import at, length
from pipeline.model import Approach, Block, Points, Spot
from pipeline.tie.settings import TieSettings

SLACK_MM = 0.15
"""How far a hidden travel may graze the edge of what hides it: less than pull compensation adds there."""
DETOUR_MM = 6.0
"""Only cover this near to the two ends is searched for a way; a longer way round is not worth its stitches."""


COARSE_MM = 0.05
"""Faces are simplified by this before ways are sought in them: less than the slack, and many times faster."""


@dataclass(frozen=True, eq=False)
class Move:
    """How to come to a block: ``approach`` of what follows, after the needle points ``travel`` (maybe none)."""

    approach: Approach
    travel: Points


NOWHERE: Points = np.zeros((0, 2))


class Cover:
    """The faces of all blocks in order, to ask what will still hide a travel."""

    def __init__(self, blocks: tuple[Block, ...]) -> None:
        self.areas = shapely.simplify([block.step.part.area for block in blocks], COARSE_MM)
        self.hides = np.array([block.step.part.kind in ("tatami", "satin") for block in blocks], dtype=bool)
        self.tree = shapely.STRtree(self.areas)

    def later(self, index: int, line: LineString, away_mm: float) -> list[BaseGeometry]:
        """The faces of block ``index`` and later ones, no farther from ``line``, that hide what lies beneath."""
        found = np.sort(self.tree.query(line, predicate="dwithin", distance=away_mm))
        return [self.areas[k] for k in found if k >= index and self.hides[k]]


def move(cover: Cover, index: int, start: Spot, end: Spot, settings: TieSettings) -> Move:
    """The move from ``start``, the end of block ``index`` - 1, to ``end``, the start of block ``index``."""
    line = LineString([start, end])
    if line.length > settings.travel_mm:
        return Move("trim", NOWHERE)
    if line.length <= settings.direct_mm and _together(cover, index, line):
        return Move("sewn", NOWHERE)
    own = cover.areas[index - 1].intersection(Point(start).buffer(settings.own_cover_mm))
    for away_mm in (SLACK_MM, DETOUR_MM):
        room = multipolygon(shapely.union_all([*cover.later(index, line, away_mm), own, cover.areas[index]]))
        if room.buffer(SLACK_MM, quad_segs=2).covers(line):
            return Move("sewn", _stitches(np.array([start, end]), settings))
    way = way_inside(room, start, end, settings.travel_inset_mm, SLACK_MM)
    if way is not None and length(way) <= settings.travel_mm:
        return Move("sewn", _stitches(way, settings))
    if line.length <= settings.jump_mm and room.buffer(settings.direct_mm).covers(line):
        return Move("jump", NOWHERE)
    return Move("trim", NOWHERE)


def _together(cover: Cover, index: int, line: LineString) -> bool:
    """Whether a short line stays on the two faces that it joins."""
    faces = shapely.union_all([cover.areas[index - 1], cover.areas[index]])
    return bool(faces.buffer(SLACK_MM, quad_segs=2).covers(line))


def _stitches(way: Points, settings: TieSettings) -> Points:
    """Needle points along a way, both ends left out, with one on every corner that bends."""
    points = []
    for leg in range(len(way) - 1):
        piece = way[leg : leg + 2]
        count = max(1, int(np.ceil(length(piece) / settings.travel_stitch_mm)))
        points.append(at(piece, np.linspace(0.0, length(piece), count + 1)[1:]))
    return np.vstack(points)[:-1]
