"""Foundation beneath a tatami: an edge run inside the edge, then open rows across the cover, in one thread.

It is the same walk as the cover's, over a few rows far apart, on which the first visit to each outline goes all
the way round it (the edge run). So edge run and rows hang together without any travel of their own.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry import Polygon

from pipeline.geometry.offset import moved
from pipeline.geometry.scanline import Array, turned, turned_back
from pipeline.model import Fabric, Spot, Step, Strand
from pipeline.stitch.beneath_rows import outline_way
from pipeline.stitch.ends import way_inside
from pipeline.stitch.rows import Rows, lay_rows
from pipeline.stitch.spacing import FIELD, TRAVEL, spaced, strands_of, without_short
from pipeline.stitch.tatami_settings import FoundationSettings, TatamiSettings
from pipeline.stitch.walk import Walk, walked

CURVE_MM = 0.08
"""How far a stitch of the edge run may cut across a bend; it lies inside the cover by much more."""
LEAST_MM = 0.65
"""Shortest stitch of foundation before rounding."""


def lay_foundation(
    step: Step, settings: TatamiSettings, foundation: FoundationSettings, fabric: Fabric
) -> tuple[Strand, ...]:
    """Foundation and the travel to it, from ``step.start`` to wherever it ends; empty if there is none to sew."""
    pieces = [
        (piece, whole.area)
        for whole in step.part.foundation.geoms
        if whole.area >= foundation.least_mm2
        for piece in moved(whole, -foundation.edge_inset_mm).geoms
        if piece.length > 4.0 * foundation.edge_stitch_mm
    ]
    lines = [np.array([step.start])]
    hidden = [np.array([False])]
    cover = step.part.angle_deg or 0.0
    while pieces:
        spot = shapely.Point(lines[-1][-1])
        piece, size = pieces.pop(int(np.argmin([spot.distance(piece) for piece, _ in pieces])))
        for count, (angle, row) in enumerate(_row_sets(cover, size, fabric, foundation)):
            line = _grounded(piece, angle, row, lines[-1][-1], step.end, not count, foundation)
            way = spaced(way_inside(step.part.area, lines[-1][-1], line[0]), settings.travel_mm)[1:-1]
            lines += [way, line]
            hidden += [np.ones(len(way), dtype=bool), np.zeros(len(line), dtype=bool)]
    if len(lines) == 1:
        return ()
    line, travel = np.vstack(lines), np.concatenate(hidden)
    keep = without_short(line, np.where(travel, TRAVEL, FIELD).astype(np.int8), LEAST_MM, settings.longest_mm)
    return strands_of(line[keep], travel[keep], "foundation")


def _row_sets(
    cover_deg: float, size_mm2: float, fabric: Fabric, foundation: FoundationSettings
) -> list[tuple[float, float | None]]:
    """Angle and distance of each set of open rows; no distance for an edge run alone."""
    across = (cover_deg + 90.0) % 180.0
    if fabric.foundation == "edge" or size_mm2 < foundation.least_rows_mm2:
        return [(across, None)]
    if fabric.foundation == "edge and rows":
        return [(across, foundation.rows_mm)]
    if fabric.foundation == "edge and light rows":
        return [(across, foundation.light_rows_mm)]
    return [((cover_deg + turn) % 180.0, foundation.light_rows_mm) for turn in (45.0, 135.0)]


def _grounded(
    piece: Polygon, angle_deg: float, row_mm: float | None, here: Array, away: Spot, edge: bool,
    foundation: FoundationSettings,
) -> Array:  # fmt: skip
    """Needle points over one piece, beginning near ``here`` and, with rows, ending far from ``away``."""
    if row_mm is None:
        line = shapely.get_coordinates(piece.exterior)
        first = int(np.argmin(np.hypot(*(line - here).T)))
        line = np.vstack([line[first:-1], line[: first + 1]])
        return run_along(line, foundation.edge_stitch_mm)
    rows = lay_rows(piece, angle_deg, row_mm, 0.0)
    spots = turned(np.array([here, away]), angle_deg)
    first, last = _ends(rows, spots)
    walk = walked(rows, first, last)
    if edge:
        walk = _round_outlines(rows, walk)
    line = _traced(rows, walk, foundation)
    return turned_back(line, angle_deg)


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
        tour = [int(rows.after[node])]
        while tour[-1] != node:
            tour.append(int(rows.after[tour[-1]]))
        nodes += [walk.nodes[at : visit + 1], np.array(tour)]
        is_row += [walk.is_row[at:visit], np.zeros(len(tour), dtype=bool)]
        at = visit + 1
        is_row.append(walk.is_row[visit : visit + 1])
    nodes.append(walk.nodes[at:])
    is_row.append(walk.is_row[at:])
    return Walk(np.concatenate(nodes), np.concatenate(is_row))


def _traced(rows: Rows, walk: Walk, foundation: FoundationSettings) -> Array:
    """Rows with their own stitch, ways between them along the very outline with the edge run's."""
    steps = np.flatnonzero(walk.is_row)
    lines, at = [], 0
    for step in [*steps.tolist(), len(walk.nodes) - 1]:
        way = outline_way(rows, walk.nodes[at : step + 1])
        lines.append(run_along(way, foundation.edge_stitch_mm))
        at = step + 1
    place = [spaced(np.vstack([a[-1:], b[:1]]), foundation.rows_stitch_mm)[1:-1] for a, b in zip(lines, lines[1:])]
    whole = [part for pair in zip(lines, [*place, np.empty((0, 2))]) for part in pair]
    return np.vstack(whole)


def run_along(line: Array, stitch_mm: float) -> Array:
    """Needle points along ``line`` at most ``stitch_mm`` apart, true to it within ``CURVE_MM``."""
    if len(line) < 2:
        return line
    line = shapely.get_coordinates(shapely.simplify(shapely.LineString(line), CURVE_MM))
    return spaced(line, stitch_mm)
