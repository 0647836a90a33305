"""What is in sight that should not be: travel, foundation on cover, edges that rows meet at a flat angle."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from sewn import Floats, Ints, Sewn

HIDES_MM = 0.225
"""Half a thread and the distance that counts as covered."""
PIECE_MM = 0.5
FLAT_DEG = (4.0, 20.0)


def _pieces(work: Sewn, layer: str) -> tuple[Floats, Ints, Floats]:
    """Middles of pieces of a layer's stitches, which stitch each is of, and its length."""
    index = np.flatnonzero(work.of(layer))
    lengths = work.lengths[index]
    count = np.maximum(1, (lengths / PIECE_MM).astype(int))
    owner = np.repeat(np.arange(len(index)), count)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + 0.5) / count[owner]
    a, b = work.moves[index[owner], 0], work.moves[index[owner], 1]
    return a + (b - a) * share[:, None], index[owner], lengths[owner] / count[owner]


def _cover_near(work: Sewn, spots: Floats) -> tuple[Ints, Ints]:
    """Pairs of a spot and a stitch of cover that lies over or under it."""
    cover = np.flatnonzero(work.of("cover"))
    tree = shapely.STRtree(shapely.linestrings(work.moves[cover]))
    spot, found = tree.query(shapely.points(spots), predicate="dwithin", distance=HIDES_MM)
    return spot.astype(np.int64), cover[found]


def travel_in_sight(work: Sewn) -> dict[str, float]:
    """Travel that no later cover hides, mm: on its own colour, on another, on bare fabric; the longest piece."""
    spots, stitch, length = _pieces(work, "travel")
    names = ("travel_own_mm", "travel_other_mm", "travel_bare_mm", "travel_longest_mm")
    if not len(spots):
        return dict.fromkeys(names, 0.0)
    spot, cover = _cover_near(work, spots)
    hidden = np.zeros(len(spots), dtype=bool)
    hidden[spot[cover > stitch[spot]]] = True
    under = np.full(len(spots), -1)
    np.maximum.at(under, spot, np.where(cover < stitch[spot], cover, -1))
    own = ~hidden & (under >= 0) & (work.thread[under] == work.thread[stitch])
    bare = ~hidden & (under < 0)
    new = np.flatnonzero(hidden | np.append(True, np.diff(stitch) > 1))
    runs = np.add.reduceat(np.where(hidden, 0.0, length), new) if len(new) else np.zeros(1)
    totals = [float(length[which].sum()) for which in (own, ~hidden & ~own & ~bare, bare)]
    return dict(zip(names, [*totals, float(runs.max())], strict=True))


def foundation_on_cover(work: Sewn) -> dict[str, float]:
    """Foundation that lies on cover sewn before it, mm, and the part of it on its own colour."""
    spots, stitch, length = _pieces(work, "foundation")
    if not len(spots):
        return {"foundation_on_cover_mm": 0.0, "foundation_on_own_mm": 0.0}
    spot, cover = _cover_near(work, spots)
    before = cover < stitch[spot]
    spot, cover = spot[before], cover[before]
    on = np.unique(spot)
    own = np.unique(spot[work.thread[cover] == work.thread[stitch[spot]]])
    return {"foundation_on_cover_mm": float(length[on].sum()), "foundation_on_own_mm": float(length[own].sum())}


def flat_edges(plan: dict[str, Any], work: Sewn) -> float:
    """Outline in sight that the nearest tatami rows meet at 4° to 20°, mm, from outlines and needle points."""
    rows = np.flatnonzero(work.of("cover") & work.kind("tatami") & (work.lengths > 1.0))
    if not len(rows):
        return 0.0
    region_of = np.array([part.rsplit(".", 1)[0] for part in work.parts])[work.part[rows]]
    above = shapely.MultiPolygon()
    total = 0.0
    for region in reversed(plan["regions"]):
        outline = shapely.union_all(
            [shapely.Polygon(rings[0], rings[1:]).buffer(0.0) for rings in region["outline"]]
        )
        own = rows[region_of == region["id"]]
        if len(own) and not outline.is_empty:
            seen = outline.boundary.difference(above.buffer(0.05))
            total += _flat(seen, work.moves[own])
        above = above.union(outline)
    return total


def _flat(seen: shapely.Geometry, rows: Floats) -> float:
    lines = [line for line in shapely.get_parts(seen) if line.length >= 1.5]
    tree = shapely.STRtree(shapely.linestrings(rows))
    way = rows[:, 1] - rows[:, 0]
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    total = 0.0
    for line in lines:
        along = np.arange(PIECE_MM / 2, line.length, PIECE_MM)
        here, a, b = (
            shapely.line_interpolate_point(line, np.clip(along + off, 0, line.length)) for off in (0.0, -0.7, 0.7)
        )
        edge = shapely.get_coordinates(b) - shapely.get_coordinates(a)
        at, row = tree.query_nearest(here, max_distance=0.7, all_matches=False)
        turn = np.abs(np.degrees(np.arctan2(edge[at, 1], edge[at, 0])) - angle[row]) % 180.0
        turn = np.minimum(turn, 180.0 - turn)
        total += PIECE_MM * int(((turn >= FLAT_DEG[0]) & (turn <= FLAT_DEG[1])).sum())
    return total
