"""What was sewn beneath a part, told from its needle points: the plan says what is there, not what was meant."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from pipeline.model import Column, Part, Pass

LEVEL_MM, EDGE_MM = 0.25, 0.8
"""A stitch of a tatami's edge run keeps its distance from the edge to within the first (chords in bends change it
that much, rows more), and that distance is less than the second."""

ROUND = 0.6
"""Share of the outline that an edge run follows at least; the turns of open rows follow less than half of it."""

CROSSING, CENTRAL = 0.35, 0.2
"""Shares of a column's width: a stitch that changes its place across by more than the first is of a zig-zag; one
that stays within the second of the middle is of a centre run, any other of an edge run."""

NOTABLE, NOTABLE_ACROSS = 0.2, 0.35
"""Share of all foundation from which on a run, and a zig-zag, counts: less is a way from one kind to the next."""


def foundation_names(part: Part, sewn: list[Pass]) -> list[str]:
    """The foundation of ``part``: some of edge run, centre run, and rows or zig-zag; empty for none."""
    lines = [step.points for step in sewn if step.layer == "foundation" and len(step.points) > 1]
    if not lines:
        return []
    stitches = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])
    lengths = np.hypot(*(stitches[:, 1] - stitches[:, 0]).T)
    if part.column is not None:
        kinds = _in_column(part.column, stitches)
        names = ("edge run", "centre run", "zig-zag")
        shares = np.bincount(kinds, weights=lengths, minlength=3) / max(float(lengths.sum()), 1e-9)
        least = (NOTABLE, NOTABLE, NOTABLE_ACROSS)
        return [name for name, share, enough in zip(names, shares, least, strict=True) if share >= enough]
    edge = part.foundation.boundary
    near = _along(edge, stitches)
    there = (
        float(lengths[near].sum()) >= ROUND * edge.length,
        float(lengths[~near].sum()) >= NOTABLE * lengths.sum(),
    )
    return [name for name, found in zip(("edge run", "rows"), there, strict=True) if found]


def _in_column(column: Column, stitches: NDArray[np.float64]) -> NDArray[np.intp]:
    """0 for stitches along an edge of the column, 1 along its middle, 2 across."""
    ends = shapely.points(stitches)
    left, right = (shapely.distance(shapely.LineString(rail), ends) for rail in (column.left, column.right))
    place = left / np.maximum(left + right, 1e-9)
    crossing = np.abs(place[:, 1] - place[:, 0]) > CROSSING
    central = np.abs(place.mean(axis=1) - 0.5) < CENTRAL
    return np.where(crossing, 2, np.where(central, 1, 0)).astype(np.intp)


def _along(edge: shapely.Geometry, stitches: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which stitches run beside ``edge``."""
    three = shapely.points(np.stack([stitches[:, 0], stitches.mean(axis=1), stitches[:, 1]], axis=1))
    lines = [shapely.get_coordinates(line) for line in shapely.get_parts(edge)]
    pieces = np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in lines])
    (which, _), found = shapely.STRtree(shapely.linestrings(pieces)).query_nearest(
        three.ravel(), return_distance=True, all_matches=False
    )
    depths = np.empty(three.size)
    depths[which] = found
    depths = depths.reshape(three.shape)
    return np.asarray((np.ptp(depths, axis=1) <= LEVEL_MM) & (depths[:, 1] <= EDGE_MM))
