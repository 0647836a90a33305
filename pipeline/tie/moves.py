"""From the end of one block to the start of the next: run on, travel hidden, jump or trim."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely.geometry import LineString

from pipeline.geometry import overlay
from pipeline.geometry.polyline import spaced
from pipeline.model import Approach, Points, Spot
from pipeline.tie.ground import SLACK_MM, Ground
from pipeline.tie.settings import TieSettings

SHOWS_MM = 0.3
"""A thread that shows for less than this between two pieces is lost between their edges."""


@dataclass(frozen=True, eq=False)
class Move:
    """How to come to a block: ``approach`` of what follows, after the needle points ``travel`` (maybe none)."""

    approach: Approach
    travel: Points


NONE: Points = np.zeros((0, 2))


def move(ground: Ground, index: int, start: Spot, end: Spot, settings: TieSettings) -> Move:
    """The move from ``start``, the end of block ``index`` - 1, to ``end``, the start of block ``index``."""
    line = LineString([start, end])
    if line.length > settings.travel_mm:
        return Move("trim", NONE)
    if line.length <= settings.direct_mm and ground.hold([index - 1, index], line):
        return Move("sewn", NONE)
    way = ground.way(index, start, end)
    if way is not None:
        return Move("sewn", spaced(way, settings.travel_stitch_mm)[1:-1])  # with one on every corner that bends
    if line.length > settings.jump_mm:
        return Move("trim", NONE)
    stays = ground.stay(index)
    near = [k for k in ground.near(line, settings.direct_mm) if k in (index - 1, index) or stays[k]]
    room = overlay.union_all(ground.about(near, line, settings.direct_mm))
    if not overlay.buffer(room, settings.direct_mm).covers(line):
        return Move("trim", NONE)
    shows = overlay.difference(line, overlay.buffer(room, SLACK_MM, quad_segs=2)).length
    if line.length <= settings.direct_mm and shows <= SHOWS_MM:
        return Move("sewn", NONE)
    if shows > settings.open_mm:
        return Move("trim", NONE)
    return Move("jump", NONE)
