"""Blobs on thin lines: what a run would leave bare becomes a part of its own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.polygon import holding, largest, opened
from pipeline.model import Line
from pipeline.split.plain import Draft, compact
from pipeline.split.settings import SplitSettings

ROOM_MM, LEAST_MM2 = 0.12, 0.12
"""A bare place is a blob where discs of this radius have room, from this area on, which is a stitch of thread."""

LEAF = 2.0, 0.07
"""A run of up to so many mm² is a triple run if a single one leaves more than this share of it bare: a leaf."""

UNDER_MM = 0.2
"""A blob's part reaches so far towards the run."""

TRIPLE_REACH_MM = 0.5
"""A triple run covers a line to either side by at most this."""


def reach(widths: tuple[float, float, float], settings: SplitSettings) -> float:
    """How far a run or triple run covers to either side."""
    return min(max(0.5 * widths[1], settings.run_reach_mm), TRIPLE_REACH_MM) + 0.05


def bare_of(area: Polygon, lines: tuple[Line, ...] | list[Line], reach_mm: float) -> shapely.Geometry:
    """What of ``area`` lies farther than ``reach_mm`` from the lines."""
    paths = [LineString(np.vstack([x.points, x.points[:1]]) if x.closed else x.points) for x in lines]
    return overlay.difference(area, overlay.union_all(overlay.buffer(paths, reach_mm, quad_segs=8)))


def emboldened(draft: Draft, settings: SplitSettings) -> Draft:
    """A run as short as a leaf as a triple run, if a single one would leave its sides bare."""
    if draft.widths[1] < settings.finest_line_mm:
        return draft
    if draft.kind != "run" or draft.area.area > LEAF[0] or any(line.closed for line in draft.lines):
        return draft
    bare = bare_of(draft.area, draft.lines, settings.run_reach_mm)
    return replace(draft, kind="triple run") if bare.area > LEAF[1] * draft.area.area else draft


def patched(draft: Draft, settings: SplitSettings) -> list[Draft]:
    """A run without its blobs, and a part for each of these; anything else as it is."""
    if not draft.lines:
        return [draft]
    bare = opened(bare_of(draft.area, draft.lines, reach(draft.widths, settings)), ROOM_MM)
    blobs = [p for p in shapely.get_parts(bare) if isinstance(p, Polygon) and p.area >= LEAST_MM2]
    if not blobs:
        return [draft]
    body = largest(overlay.difference(draft.area, overlay.union_all(blobs)))
    made = [replace(draft, area=body)] if body is not None else []
    for blob in sorted(blobs, key=lambda p: (round(p.bounds[1], 4), round(p.bounds[0], 4))):
        grown = overlay.union_all(
            [blob, overlay.intersection(overlay.buffer(blob, UNDER_MM, quad_segs=4), draft.area)]
        )
        made.append(compact(Polygon(holding(grown, blob).exterior), settings))
    return made
