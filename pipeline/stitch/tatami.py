"""Tatami: brick-offset rows over any area, as one continuous thread.

How: cut the area into rows (``rows``), walk all of them once (``walk``), then set the needle points, all rows at
once: brick points along each row and one point a turn on the outline, from which the next row fans out.
"""

from __future__ import annotations

import numpy as np
from shapely.geometry import Polygon

from pipeline.craft import Craft
from pipeline.geometry.polyline import numbered, spaced
from pipeline.geometry.scanline import Array, Ints, turned, turned_back
from pipeline.model import Block, Spot, Step
from pipeline.stitch.brick import Places, brick, laid, places
from pipeline.stitch.ends import Ends, ends
from pipeline.stitch.foundation import lay_foundation
from pipeline.stitch.rows import Rows, lay_rows
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import (
    FIELD,
    TRAVEL,
    Ranks,
    Slide,
    halved,
    on_grid,
    strands_of,
    stretched,
    uneven,
    with_corners,
    without_short,
)
from pipeline.stitch.turns import Turns, pulled, turns
from pipeline.stitch.walk import walked

SLACK_MM = 0.5
"""Stretching, and putting the ends where they belong, make a stitch longer by no more than this."""
SPILL_MM = 0.2
"""How far beyond pull compensation a stitch may leave the area where leaving out short ones cut a corner."""


def fill(
    area: Polygon,
    angle_deg: float,
    row_mm: float,
    stitch_mm: float,
    start: Spot,
    end: Spot,
    settings: TatamiSettings,
    craft: Craft,
) -> tuple[Array, Ranks]:
    """Needle points ``(n, 2)`` that fill ``area`` from ``start`` to ``end`` exactly, without a jump.

    ``row_mm`` is the distance of neighbouring rows; each is sewn past the outline at both ends by the fabric's
    pull. The second array says of every point what the stitch is that leads to it: ``FIELD`` for a row, ``EDGE``
    for a stitch along the outline from row end to row end, ``TRAVEL``.
    Never raises for a valid polygon.
    """
    rows = lay_rows(area, angle_deg, row_mm, settings.slit_mm)
    if not len(rows.u):
        return np.array([start, end]), np.array([FIELD, FIELD], dtype=np.int8)
    spots = turned(np.array([start, end], dtype=np.float64), angle_deg)
    approach = ends(rows, spots[0], spots[1])
    rows = approach.rows
    walk = walked(rows, approach.first, approach.last, approach.bridge)
    tips = pulled(rows, craft.pull_mm)
    bends = turns(rows, walk, tips, settings, craft.shortest_mm, approach.bridge)
    found = places(rows, tips, bends, brick(rows, row_mm, stitch_mm, settings, craft))
    line, rank, kind = _threaded(rows, bends, found, approach, spots, angle_deg, settings)
    shortest, longest, spill = craft.shortest_mm, craft.longest_mm, craft.pull_mm + SPILL_MM
    keep = without_short(line, rank, shortest, longest)
    keep = with_corners(line, keep, area, spill, shortest)
    kept = np.flatnonzero(keep)
    sewn, kind = line.take(kept, axis=0), _longest(line, kept, kind)
    short, long = uneven(sewn, shortest, longest - SLACK_MM)
    if short:
        sewn = stretched(sewn, area, spill, shortest, longest)
    sewn[0], sewn[-1] = start, end
    return halved(sewn, kind, longest) if long else (sewn, kind)


def _longest(line: Array, kept: Ints, kind: Ranks) -> Ranks:
    """The kind of every stitch between ``kept`` points: that of the longest stitch that it stands for."""
    found = kind.take(kept)
    joined = np.flatnonzero(np.diff(kept) > 1) + 1
    first, count = kept[joined - 1] + 1, np.diff(kept)[joined - 1]
    group, number = numbered(count)
    each = first[group] + number
    order = np.lexsort((np.hypot(*(line[each] - line[each - 1]).T), group))
    found[joined] = kind[each[order[np.cumsum(count) - 1]]]
    return found


def _threaded(
    rows: Rows,
    bends: Turns,
    found: Places,
    approach: Ends,
    spots: Array,
    angle_deg: float,
    settings: TatamiSettings,
) -> tuple[Array, Ranks, Ranks]:
    """The way in, then turn, row, turn, row … turn, and the way out: points, ranks, what leads to them."""
    way_in = spaced(np.vstack([spots[:1], approach.way_in, bends.points[:1]]), settings.travel_mm)[:-1]
    way_out = spaced(np.vstack([bends.points[-1:], approach.way_out, spots[1:]]), settings.travel_mm)[1:]
    loose = on_grid(turned_back(np.vstack([way_in, bends.points, way_out]), angle_deg))
    turn = np.diff(bends.starts)
    room = found.count.copy()
    room[:-1] += turn[1:-1]
    first, last = len(way_in) + int(turn[0]), int(turn[-1]) + len(way_out)
    line = np.empty((first + int(room.sum()) + last, 2))
    line[first : len(line) - last] = laid(found, rows.v[bends.rows], room, Slide.at(angle_deg))
    # a turn's points follow those of all turns and rows before it
    ahead = len(way_in) + np.concatenate([[0], np.cumsum(found.count)])
    where = np.repeat(ahead, turn) + np.arange(len(bends.points))
    where = np.concatenate([np.arange(len(way_in)), where, np.arange(len(line) - len(way_out), len(line))])
    rank, kind = np.full((2, len(line)), FIELD, dtype=np.int8)
    hidden_in, hidden_out = (np.full(len(way), TRAVEL, dtype=np.int8) for way in (way_in, way_out))
    line[where] = loose
    rank[where] = np.concatenate([hidden_in, bends.rank, hidden_out])
    kind[where] = np.concatenate([hidden_in, bends.kind, hidden_out])
    kind[len(way_in)] = TRAVEL
    return line, rank, kind


def lay_tatami(step: Step, settings: TatamiSettings, craft: Craft) -> Block:
    """Foundation where the part asks for it, then its cover, from ``step.start`` to ``step.end`` in one thread."""
    part = step.part
    ground, why = lay_foundation(step, settings, craft)
    start = ground[-1].points[-1] if ground else np.array(step.start)
    stitch = craft.stitch_mm
    if part.width_mm[1] < settings.narrow_mm:
        stitch = min(stitch, settings.narrow_stitch_mm)
    line, kind = fill(
        part.area, part.angle_deg or 0.0, part.row_mm, stitch, (start[0], start[1]), step.end, settings,
        craft,
    )  # fmt: skip
    if ground:
        return Block(step, (*ground, *strands_of(line[1:], kind[1:] == TRAVEL, "cover")), why)
    return Block(step, strands_of(line, kind == TRAVEL, "cover"), why)
