"""Foundation beneath a tatami: an edge run inside the edge, then open rows across the cover, in one thread.

It is the same walk as the cover's, over a few rows far apart, on which the first visit to each outline goes all
the way round it (the edge run). So edge run and rows hang together without any travel of their own.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely
from shapely.geometry import Polygon

from pipeline.craft import Craft, FoundationSettings
from pipeline.geometry import overlay
from pipeline.geometry.offset import moved
from pipeline.geometry.polygon import multipolygon
from pipeline.geometry.polyline import spaced
from pipeline.geometry.scanline import Array, turned, turned_back
from pipeline.model import Part, Spot, Step, Strand
from pipeline.stitch.beneath_rows import outline_way
from pipeline.stitch.ends import way_inside
from pipeline.stitch.rows import Flags, Rows, lay_rows
from pipeline.stitch.settings import TatamiSettings
from pipeline.stitch.spacing import EDGE, FIELD, TRAVEL, TURN, Ranks, strands_of, without_short
from pipeline.stitch.walk import Walk, walked

CURVE_MM = 0.08
"""How far a stitch of the edge run may cut across a bend; it lies inside the cover by much more."""
CORNER = 0.5
"""Turns of the edge run from here on, in radians, are corners."""
LEAST_RUNS = 4.0
"""Outlines shorter than this many stitches of the edge run are too small to hold one."""


def lay_foundation(step: Step, settings: TatamiSettings, craft: Craft) -> tuple[tuple[Strand, ...], str]:
    """Foundation and the travel to it, from ``step.start`` to wherever it ends; empty if there is none to sew.

    The words say why it is as it is, or why there is none.
    """
    pieces = _pieces(step.part, craft.foundation)
    why = _why(step.part, [size for _, size in pieces], craft)
    lines = [np.array([step.start])]
    ranks = [np.array([TRAVEL], dtype=np.int8)]
    while pieces:
        spot = shapely.Point(lines[-1][-1])
        piece, size = pieces.pop(int(np.argmin([spot.distance(piece) for piece, _ in pieces])))
        for line, rank in _over(piece, size, lines[-1][-1], step, craft):
            way = spaced(way_inside(step.part.area, lines[-1][-1], line[0]), settings.travel_mm)[1:-1]
            lines += [way, line]
            ranks += [np.full(len(way), TRAVEL, dtype=np.int8), rank]
    if len(lines) == 1:
        return (), _why(step.part, [], craft)
    line, rank = np.vstack(lines), np.concatenate(ranks)
    rank[0] = TRAVEL if len(lines[1]) else EDGE
    keep = without_short(line, rank, craft.surely_mm, craft.longest_mm)
    return strands_of(line[keep], rank[keep] == TRAVEL, "foundation"), why


def _why(part: Part, sizes: list[float], craft: Craft) -> str:
    """Why a fill has foundation on bare places of these ``sizes`` in mm², or none."""
    foundation, fabric = craft.foundation, craft.fabric
    if not sizes and (none := why_none(part)):
        return none
    if not sizes and max(whole.area for whole in part.bare.geoms) < foundation.least_mm2:
        return f"no foundation, for none of its places on bare fabric reaches {foundation.least_mm2:g} mm²"
    if not sizes:
        return "no foundation, for its places on bare fabric are too narrow to hold an edge run"
    small = f"{foundation.least_rows_mm2:g} mm²"
    if fabric.foundation != "edge" and max(sizes) < foundation.least_rows_mm2:
        return f"foundation on bare fabric: an edge run alone, on less than {small}"
    kind = {"edge": "an edge run"}.get(fabric.foundation, fabric.foundation)
    alone = fabric.foundation != "edge" and min(sizes) < foundation.least_rows_mm2
    return f"foundation on bare fabric: {kind} for {fabric.name}" + f", edge alone on less than {small}" * alone


def why_none(part: Part) -> str:
    """Why a part gets no foundation, be it of what kind it may; empty if it should have some."""
    if part.bare.is_empty:
        return "no foundation, for it lies on stitches"
    if part.foundation.is_empty:
        return "no foundation, for too little of it lies on bare fabric"
    return ""


def _pieces(part: Part, foundation: FoundationSettings) -> list[tuple[Polygon, float]]:
    """Where foundation is sewn, with the bare area of each piece: inside the cover's edge, and off the cover
    already sewn beside it, onto which only the part's own cover reaches."""
    needed = [whole for whole in part.bare.geoms if whole.area >= foundation.least_mm2]
    if part.foundation.is_empty or not needed:
        return []
    inside = moved(part.area, -foundation.edge_inset_mm, "mitre")
    return [
        (piece, whole.area)
        for whole in needed
        for piece in multipolygon(overlay.intersection(inside, moved(whole, -foundation.clear_mm, "mitre"))).geoms
        if piece.length > LEAST_RUNS * foundation.edge_stitch_mm
    ]


def _over(piece: Polygon, size_mm2: float, here: Array, step: Step, craft: Craft) -> Iterator[tuple[Array, Ranks]]:
    """The foundation of one piece as lines of needle points with ranks, each beginning near the last's end."""
    foundation, kind = craft.foundation, craft.fabric.foundation
    across = ((step.part.angle_deg or 0.0) + 90.0) % 180.0
    if kind == "edge" or size_mm2 < foundation.least_rows_mm2:
        for ring in shapely.get_rings(piece):
            if ring.length > LEAST_RUNS * foundation.edge_stitch_mm:
                line = run_along(_round(shapely.get_coordinates(ring), here), foundation.edge_stitch_mm)
                yield line, np.full(len(line), EDGE, dtype=np.int8)
                here = line[-1]
        return
    turns = (-45.0, 45.0) if kind == "edge and crossed rows" else (0.0,)
    row_mm = foundation.rows_mm if kind == "edge and rows" else foundation.light_rows_mm
    for turn in turns:
        line, rank = _grounded(piece, (across + turn) % 180.0, row_mm, here, step.end, turn == turns[0], foundation)
        yield line, rank
        here = line[-1]


def _round(ring: Array, here: Array) -> Array:
    """The closed ring from its point nearest to ``here`` once round."""
    first = int(np.argmin(np.hypot(*(ring - here).T)))
    return np.vstack([ring[first:-1], ring[: first + 1]])


def _grounded(
    piece: Polygon, angle_deg: float, row_mm: float, here: Array, away: Spot, edge: bool,
    foundation: FoundationSettings,
) -> tuple[Array, Ranks]:  # fmt: skip
    """Rows over one piece, beginning near ``here`` and ending far from ``away``, with the edge run if wanted."""
    rows = lay_rows(piece, angle_deg, row_mm, 0.0)
    spots = turned(np.array([here, away]), angle_deg)
    walk = walked(rows, *_ends(rows, spots))
    if edge:
        walk = _round_outlines(rows, walk)
    line, rank = _traced(rows, walk, foundation)
    return turned_back(line, angle_deg), rank


def _ends(rows: Rows, spots: Array) -> tuple[int, int]:
    """The row end nearest the first spot and, of those it may be joined with, the farthest from the second."""
    place = np.column_stack([rows.u, rows.v])
    first = int(np.argmin(np.hypot(*(place - spots[0]).T)))
    fits = (rows.ring == rows.ring[first]) & ((rows.place - rows.place[first]) % 2 == 1)
    return first, int(np.argmax(np.where(fits, np.hypot(*(place - spots[1]).T), -1.0)))


def _round_outlines(rows: Rows, walk: Walk) -> Walk:
    """``walk`` with a way all round each outline at the first visit to it."""
    _, visits = np.unique(rows.ring[walk.nodes], return_index=True)
    nodes, is_row, at = [], [], 0
    for visit in np.sort(visits).tolist():
        node = int(walk.nodes[visit])
        own = np.flatnonzero(rows.ring == rows.ring[node])
        own = own[np.argsort(rows.place[own])]
        tour = np.roll(own, -1 - int(rows.place[node]))
        nodes += [walk.nodes[at : visit + 1], tour]
        is_row += [walk.is_row[at:visit], np.zeros(len(tour), dtype=bool)]
        at = visit + 1
        is_row.append(walk.is_row[visit : visit + 1])
    nodes.append(walk.nodes[at:])
    is_row.append(walk.is_row[at:])
    return Walk(np.concatenate(nodes), np.concatenate(is_row))


def _traced(rows: Rows, walk: Walk, foundation: FoundationSettings) -> tuple[Array, Ranks]:
    """Rows with their own stitch, ways between them along the very outline with the edge run's."""
    steps = np.flatnonzero(walk.is_row)
    lines: list[Array] = []
    ranks: list[Ranks] = []
    at = 0
    for step in [*steps.tolist(), len(walk.nodes) - 1]:
        way = run_along(outline_way(rows, walk.nodes[at : step + 1], exact=True), foundation.edge_stitch_mm)
        if lines:
            row = spaced(np.vstack([lines[-1][-1:], way[:1]]), foundation.rows_stitch_mm)[1:-1]
            lines.append(row)
            ranks.append(np.full(len(row), FIELD, dtype=np.int8))
        rank = np.where(_corners(way), EDGE, TURN).astype(np.int8)
        lines.append(way)
        ranks.append(rank)
        at = step + 1
    return np.vstack(lines), np.concatenate(ranks)


def _corners(way: Array) -> Flags:
    """Which points of a way are corners: those that must stay if needle points come too close together."""
    found = np.zeros(len(way), dtype=bool)
    if len(way) > 2:
        steps = np.diff(way, axis=0)
        a, b = steps[:-1], steps[1:]
        turn = np.arctan2(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0], (a * b).sum(axis=1))
        found[1:-1] = np.abs(turn) > CORNER
    return found


def run_along(line: Array, stitch_mm: float) -> Array:
    """Needle points along ``line`` at most ``stitch_mm`` apart, true to it within ``CURVE_MM``."""
    if len(line) < 2:
        return line
    line = shapely.get_coordinates(shapely.simplify(shapely.LineString(line), CURVE_MM))
    return spaced(line, stitch_mm)
