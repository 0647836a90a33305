"""Markers on the vertices of lines (W3C SVG 2, 13.7)."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from pipeline.read.area import frame
from pipeline.read.blend import Item, clipped
from pipeline.read.context import Context, Reading
from pipeline.read.document import local
from pipeline.read.matrix import DEGREES, NUMBER, Matrix, finite, times
from pipeline.read.outline import Curves
from pipeline.read.paint import Draw
from pipeline.read.sizes import fitted, view_box
from pipeline.read.style import ROOT, reference

Array = NDArray[np.float64]
MARKED = frozenset({"path", "line", "polyline", "polygon"})
PLACES = ("marker-start", "marker-mid", "marker-end")
_WORDS = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}
_ANGLE = re.compile(rf"\s*+({NUMBER})(deg|grad|rad|turn)?+\s*+")


def marked(outline: Curves, context: Context, job: Reading, width: float, draw: Draw) -> list[Item]:
    """The items of all markers of a shape; ``width`` is its stroke's width in user units."""
    if all(context.style.get(place) == "none" for place in PLACES):
        return []
    spots, angles = _vertices(outline)
    items: list[Item] = []
    for place, which in zip(PLACES, (slice(0, 1), slice(1, -1), slice(-1, None)), strict=True):
        marker = _marker(place, context, job)
        if marker is None:
            continue
        for spot, angle in zip(spots[which], angles[which], strict=True):
            items += _one(marker, place, spot, float(angle), context, job, width, draw)
    return items


def _marker(place: str, context: Context, job: Reading) -> etree._Element | None:
    target = reference(context.style.get(place))
    marker = job.find(target[0], context, place) if target else None
    if marker is None or local(marker) != "marker" or not job.enters(marker, context, place):
        return None
    return marker


def _one(
    marker: etree._Element,
    place: str,
    spot: Array,
    angle: float,
    context: Context,
    job: Reading,
    width: float,
    draw: Draw,
) -> list[Item]:
    """One marker at one vertex."""
    measure = context.measure
    try:
        w, h = measure.pair(marker.get("markerWidth") or "3", marker.get("markerHeight") or "3")
        box = view_box(marker.get("viewBox"))
        inner = replace(measure, width=box[2], height=box[3]) if box else replace(measure, width=w, height=h)
        refs = (marker.get(name) or "0" for name in ("refX", "refY"))
        ref = inner.pair(*(_WORDS.get(text.strip(), text) for text in refs))
    except ValueError as error:
        job.tell("element-broken", "error", context, f"its {place} is left out, because {error}.")
        return []
    if w <= 0 or h <= 0:
        return []
    size = 1.0 if marker.get("markerUnits") == "userSpaceOnUse" else width
    turn = math.radians(_angle(marker.get("orient") or "0", place, angle))
    c, s = math.cos(turn) * size, math.sin(turn) * size
    here: Matrix = (c, s, -s, c, float(spot[0]), float(spot[1]))
    fit, _ = fitted(box, w, h, marker.get("preserveAspectRatio") or "")
    x, y = fit[0] * ref[0] + fit[4], fit[3] * ref[1] + fit[5]
    onto = times(times(context.matrix, here), (1, 0, 0, 1, -x, -y))
    if not finite(onto) or size <= 0:
        return []
    style = job.cascade.style(marker, ROOT, context.name, measure)
    inside = replace(
        context,
        matrix=times(onto, fit),
        measure=inner,
        style=style,
        name=f"{context.name}/marker",
        chain=(*context.chain, marker),
        copied=True,
        outer=context.style,
    )
    items = draw(marker, inside)
    if style.get("overflow") in ("visible", "auto"):
        return items
    window = frame(onto, (0.0, 0.0, w, h))
    return [part for item in items if (part := clipped(item, window))]


def _angle(orient: str, place: str, angle: float) -> float:
    if orient.strip() == "auto":
        return angle
    if orient.strip() == "auto-start-reverse":
        return angle + 180 if place == "marker-start" else angle
    found = _ANGLE.fullmatch(orient)
    return float(found.group(1)) * DEGREES[found.group(2) or "deg"] if found else 0.0


def _vertices(outline: Curves) -> tuple[Array, Array]:
    """All vertices in order ``(n, 2)``, and the direction of the line there in degrees ``(n,)``.

    Where a whole path begins and ends, browsers look at one side only, though the path be closed (SVG 2 would
    bisect); the customer has seen what browsers show.
    """
    spots: list[Array] = []
    angles: list[float] = []
    bounds = [*outline.first, len(outline.curves)]
    for i, closed in enumerate(outline.closed):
        curves = outline.curves[bounds[i] : bounds[i + 1]]
        out = _filled([_direction(c) for c in curves])
        into = _filled([_direction(c[::-1]) for c in curves])
        into = [None if d is None else (-d[0], -d[1]) for d in into]
        for k in range(len(curves) + 1):
            before = into[k - 1] if k > 0 else into[-1] if closed and spots else None
            after = out[k] if k < len(curves) else out[0] if closed and i + 1 < len(outline.closed) else None
            spots.append(curves[k, 0] if k < len(curves) else curves[-1, 3])
            angles.append(_between(before, after))
    return np.array(spots), np.array(angles)


def _direction(curve: Array) -> tuple[float, float] | None:
    """The unit direction in which a curve sets out; None for one of no length."""
    for point in curve[1:]:
        x, y = float(point[0] - curve[0, 0]), float(point[1] - curve[0, 1])
        size = math.hypot(x, y)
        if size > 1e-12:
            return x / size, y / size
    return None


def _filled(ways: list[tuple[float, float] | None]) -> list[tuple[float, float] | None]:
    """Curves of no length take the direction of the one before, else of the next."""
    known: tuple[float, float] | None = next((way for way in ways if way is not None), None)
    filled = []
    for way in ways:
        known = way if way is not None else known
        filled.append(known)
    return filled


def _between(before: tuple[float, float] | None, after: tuple[float, float] | None) -> float:
    ways = [way for way in (before, after) if way is not None]
    if not ways:
        return 0.0
    x, y = sum(way[0] for way in ways), sum(way[1] for way in ways)
    if math.hypot(x, y) < 1e-9:
        x, y = ways[0][1], -ways[0][0]
    return math.degrees(math.atan2(y, x))
