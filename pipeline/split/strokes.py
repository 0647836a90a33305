"""Hairlines whose true centrelines are known, as the artwork painted them with a stroke."""

from __future__ import annotations

from collections import Counter

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.graph import components
from pipeline.geometry.polygon import largest
from pipeline.geometry.polyline import ring
from pipeline.geometry.window import Windows
from pipeline.model import Kind, Line, Spot, Stroke
from pipeline.split.lines import CHORD_MM, as_line, prolonged
from pipeline.split.plain import Draft
from pipeline.split.settings import SplitSettings

ALIKE = 0.97
"""The centrelines are used if this share of the border lies beside them, at about half the stroke's width (what
was cut off or merged since makes them wrong; mitres stand out)."""

SPARE = 1.1
"""... and if the area is at most this many times that of the stroke (a filled shape has more)."""


def stroke_drafts(polygon: Polygon, stroke: Stroke, settings: SplitSettings) -> list[Draft]:
    """Runs along the centrelines within ``polygon``; none where they would not do it justice."""
    width = stroke.width_mm
    if width >= settings.run_below_mm:
        return []
    paths = [LineString(ring(line.points) if line.closed else line.points) for line in stroke.lines]
    near = [path for path in paths if path.intersects(polygon)]
    if not near:
        return []
    net = overlay.intersection(overlay.union_all(near), polygon)
    if not _alike(polygon, net, width):
        return []
    kind: Kind = "triple run" if width >= settings.triple_run_from_mm else "run"
    pieces = _connected(net)
    if len(pieces) == 1:
        lines = _lines(pieces[0], polygon, width)
        return [Draft(kind, polygon, (width, width, width), lines=lines)] if lines else []
    made = []
    for piece in pieces:
        area = overlay.intersection(overlay.buffer(piece, 0.52 * width + 0.02), polygon)
        face = largest(area)
        lines = _lines(piece, polygon, width)
        if face is None or not lines:
            return []
        made.append(Draft(kind, face, (width, width, width), lines=lines))
    return made


def _alike(polygon: Polygon, net: BaseGeometry, width: float) -> bool:
    """Whether a stroke along ``net`` paints about ``polygon``: no larger area, and no border far from it."""
    if polygon.area > SPARE * (net.length * width + width * width):
        return False
    lines = shapely.get_parts(net)
    border = shapely.points(shapely.get_coordinates(shapely.segmentize(polygon, 2.0 * width)))
    _, away = shapely.STRtree(lines).query_nearest(border, return_distance=True, all_matches=False)
    return bool(np.mean(away <= 0.75 * width) >= ALIKE)


def _connected(net: BaseGeometry) -> list[BaseGeometry]:
    """The connected pieces of a net of lines, noded where lines meet (pieces share end points exactly)."""
    lines = [line for line in np.atleast_1d(shapely.get_parts(net)) if isinstance(line, LineString)]
    number: dict[Spot, int] = {}
    pairs = np.array([[number.setdefault(line.coords[k], len(number)) for k in (0, -1)] for line in lines])
    members = components(len(number), *pairs.T)[pairs[:, 0]]
    groups = (np.flatnonzero(members == group) for group in range(int(members.max()) + 1))
    return [shapely.MultiLineString([lines[k] for k in group]) for group in groups]


def _lines(piece: BaseGeometry, polygon: Polygon, width: float) -> tuple[Line, ...]:
    """The lines between the joints of a connected piece, loose ends moved on to the end of the shape."""
    merged = shapely.get_parts(shapely.line_merge(piece))
    lines = [shapely.get_coordinates(line.simplify(CHORD_MM)) for line in merged]
    ends = Counter(tuple(line[k]) for line in lines for k in (0, -1))
    made, outline = [], Windows(polygon)
    for line in lines:
        if len(line) < 2:
            continue
        if len(line) > 3 and (line[0] == line[-1]).all():
            made.append(as_line(line[:-1], True))
            continue
        if ends[tuple(line[-1])] == 1:
            line = prolonged(line, outline, width)
        if ends[tuple(line[0])] == 1:
            line = prolonged(line[::-1], outline, width)[::-1]
        made.append(as_line(line))
    return tuple(made)
