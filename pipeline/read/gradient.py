"""Gradients (W3C SVG 2, 14.2): where on its ramp each spot lies, and the mean colour over an area."""

from __future__ import annotations

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.read import colour
from pipeline.read.colour import Rgba
from pipeline.read.context import Context, Job, href
from pipeline.read.document import local
from pipeline.read.matrix import apply, inverse, parse, times
from pipeline.read.style import ROOT
from pipeline.read.units import Box, Measure, share

Array = NDArray[np.float64]
# Spots a side of the grid on which the mean is taken: 1,600 of them hold it to within a step of 8 bits or so.
GRID = 40
_ENDS = {
    "linearGradient": {"x1": "0%", "y1": "0%", "x2": "100%", "y2": "0%"},
    "radialGradient": {"cx": "50%", "cy": "50%", "r": "50%"},
}


def mean_colour(
    server: etree._Element, job: Job, context: Context, box: Box | None, area: MultiPolygon
) -> tuple[Rgba, bool] | None:
    """The mean over ``area`` (mm), and whether it is flat anyway; None where nothing is painted.

    ``ValueError`` where the gradient is malformed.
    """
    family = _family(server, job)
    offsets, colours = _stops(family, job, context)
    if not len(offsets):
        return None
    last: Rgba = tuple(float(v) for v in colours[-1])  # type: ignore[assignment]
    if bool(np.all(np.abs(colours - colours[0]) < 1e-6)):
        return last, True
    by_box = _attribute(family, "gradientUnits", "objectBoundingBox") == "objectBoundingBox"
    if by_box and box is None:
        return None
    onto = context.matrix
    if by_box and box is not None:
        onto = times(onto, (box[2], 0, 0, box[3], box[0], box[1]))
    back = inverse(times(onto, parse(_attribute(family, "gradientTransform", ""))))
    if back is None:
        return last, True
    measure = Measure(1.0, 1.0) if by_box else context.measure
    ramp = _linear if local(server) == "linearGradient" else _radial
    t = ramp(family, measure, apply(back, _spots(area)))
    if t is None:
        return last, True
    t = _spread(t, _attribute(family, "spreadMethod", "pad"))
    shades = np.column_stack([np.interp(t, offsets, colours[:, i]) for i in range(4)])
    return colour.mean(shades, np.ones(len(shades))), False


def _family(server: etree._Element, job: Job) -> list[etree._Element]:
    """The gradient and those whose stops and attributes it takes over, nearest first."""
    chain = [server]
    while href(chain[-1]).startswith("#") and len(chain) < 16:
        after = job.ids.get(href(chain[-1])[1:])
        if after is None or after in chain or local(after) not in _ENDS:
            break
        chain.append(after)
    return chain


def _attribute(family: list[etree._Element], name: str, default: str) -> str:
    found = next((member.get(name) for member in family if member.get(name) is not None), None)
    return default if found is None else str(found)


def _end(family: list[etree._Element], name: str, measure: Measure, default: str | None = None) -> float:
    kind = local(family[0])
    members = [member for member in family if local(member) == kind]
    text = _attribute(members, name, default or _ENDS[kind].get(name, "0%"))
    return measure.length(text, "size" if name in ("r", "fr") else "x" if "x" in name else "y")


def _stops(family: list[etree._Element], job: Job, context: Context) -> tuple[Array, Array]:
    """Offsets ``(n,)``, rising, and sRGB with alpha ``(n, 4)``."""
    owner = next((member for member in family if any(_is_stop(child) for child in member)), None)
    offsets: list[float] = []
    colours: list[Rgba] = []
    if owner is not None:
        base = job.cascade.style(owner, ROOT, context.name, context.measure)
        for stop in filter(_is_stop, owner):
            style = job.cascade.style(stop, base, context.name, context.measure)
            try:
                offset = share(stop.get("offset") or "0")
            except ValueError:
                offset = 0.0
            text = style.get("stop-color")
            shade = colour.parse(style.get("color") if text.lower() == "currentcolor" else text) or (0, 0, 0, 1.0)
            try:
                alpha = share(style.get("stop-opacity"))
            except ValueError:
                alpha = 1.0
            offsets.append(max([offset, *offsets[-1:]]))
            colours.append((*shade[:3], shade[3] * alpha))
    return np.array(offsets), np.array(colours)


def _is_stop(element: etree._Element) -> bool:
    return isinstance(element.tag, str) and local(element) == "stop"


def _linear(family: list[etree._Element], measure: Measure, spots: Array) -> Array | None:
    start = np.array([_end(family, "x1", measure), _end(family, "y1", measure)])
    way = np.array([_end(family, "x2", measure), _end(family, "y2", measure)]) - start
    size = float(way @ way)
    return None if size == 0 else np.asarray((spots - start) @ way / size)


def _radial(family: list[etree._Element], measure: Measure, spots: Array) -> Array | None:
    centre = np.array([_end(family, "cx", measure), _end(family, "cy", measure)])
    r = _end(family, "r", measure)
    if r <= 0:
        return None
    focus = np.array(
        [_end(family, name, measure, _attribute(family, "c" + name[1], "50%")) for name in ("fx", "fy")]
    )
    out = focus - centre
    if np.hypot(*out) > 0.99 * r:
        focus = centre + out / np.hypot(*out) * 0.99 * r
    lean = centre - focus
    a = r * r - float(lean @ lean)
    p = spots - focus
    b = p @ lean
    return np.asarray((b + np.sqrt(b * b + a * (p * p).sum(axis=1))) / a)


def _spread(t: Array, method: str) -> Array:
    if method == "repeat":
        return np.asarray(t % 1.0)
    if method == "reflect":
        return np.asarray(1 - np.abs(t % 2.0 - 1))
    return np.asarray(np.clip(t, 0.0, 1.0))


def _spots(area: MultiPolygon) -> Array:
    """Spots evenly spread inside ``area``, at least one in each of its larger pieces."""
    x0, y0, x1, y1 = area.bounds
    xs = x0 + (np.arange(GRID) + 0.5) / GRID * (x1 - x0)
    ys = y0 + (np.arange(GRID) + 0.5) / GRID * (y1 - y0)
    grid = np.column_stack([np.repeat(xs, GRID), np.tile(ys, GRID)])
    shapely.prepare(area)
    inside = grid[shapely.contains_xy(area, grid)]
    if len(inside) >= GRID:
        return np.asarray(inside)
    return np.vstack([inside, shapely.get_coordinates(area)])
