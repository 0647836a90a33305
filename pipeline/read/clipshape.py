"""The basic shapes of CSS as clips (W3C CSS Shapes 1, chapter 3): inset, circle, ellipse, polygon, path."""

from __future__ import annotations

import math
import re

import numpy as np
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.polygon import NOTHING
from pipeline.read import area, flatten, outline, pathdata
from pipeline.read.context import Context
from pipeline.read.matrix import apply
from pipeline.read.outline import Curves
from pipeline.read.sizes import Axis, Box, Measure

_CALL = re.compile(r"\s*([a-z-]+)\(\s*(.*?)\s*\)\s*(.*)", re.DOTALL | re.IGNORECASE)
_RULE = re.compile(r"(nonzero|evenodd)\s*,\s*", re.IGNORECASE)
_SIDES = {"left": 0.0, "top": 0.0, "center": 0.5, "right": 1.0, "bottom": 1.0}
MOST = 100_000


def region(value: str, context: Context, box: Box | None, tolerance: float) -> BaseGeometry:
    """What ``clip-path: value`` leaves visible, in mm; ``ValueError`` where it is no shape that is followed.

    The shape's box is the element's fill box (what browsers take for SVG elements), or the viewport's where
    ``view-box`` is written after it.
    """
    found = _CALL.fullmatch(value)
    if found is None or found.group(3).lower() not in ("", "fill-box", "border-box", "stroke-box", "view-box"):
        raise ValueError("no shape that is followed")
    if found.group(3).lower() == "view-box":
        box = (0.0, 0.0, context.measure.width, context.measure.height)
    if box is None:
        return NOTHING
    rule: area.Rule = "nonzero"
    text = found.group(2)
    said = _RULE.match(text)
    if said is not None:
        rule, text = area.rule_of(said.group(1)), text[said.end() :]
    drawn = _drawn(found.group(1).lower(), text, box, context.measure.font)
    if drawn is None:
        return NOTHING
    x, y = box[:2]
    tracks = flatten.tracks(drawn, apply(context.matrix, drawn.curves + np.array([x, y])), tolerance)
    return area.filled([track.points for track in tracks], rule)


def _drawn(kind: str, text: str, box: Box, font: float) -> Curves | None:
    """The shape with the box's corner as its origin."""
    measure = Measure(box[2], box[3], font, font)
    if kind == "polygon":
        values: list[float] = []
        for pair in text.split(","):
            x, y = pair.split()
            values += measure.pair(x, y)
        return outline.polygon(values, closed=True)
    if kind == "path":
        return pathdata.path(text.strip("\"'"), MOST)[0]
    if kind == "inset":
        return _inset(text, measure)
    if kind in ("circle", "ellipse"):
        radii, _, place = text.partition("at ")
        cx, cy = _place(place.split(), measure)
        rx, ry = _radii(kind, radii.split(), cx, cy, measure)
        return outline.ellipse(cx, cy, rx, ry)
    raise ValueError("no shape that is followed")


def _place(words: list[str], measure: Measure) -> tuple[float, float]:
    """The centre; the box's own where none is written."""
    x, y = (words + ["50%", "50%"][len(words) :]) if len(words) < 2 else words
    if x in ("top", "bottom") or y in ("left", "right"):
        x, y = y, x
    left = _SIDES[x] * measure.width if x in _SIDES else measure.length(x, "x")
    top = _SIDES[y] * measure.height if y in _SIDES else measure.length(y, "y")
    return left, top


def _radii(kind: str, words: list[str], cx: float, cy: float, measure: Measure) -> tuple[float, float]:
    across, down = (abs(cx), abs(measure.width - cx)), (abs(cy), abs(measure.height - cy))

    def radius(word: str, room: tuple[float, ...], axis: Axis) -> float:
        pick = {"closest-side": min, "farthest-side": max}.get(word)
        return pick(room) if pick else measure.length(word, axis)

    first, second = (words + ["closest-side"] * 2)[:2]
    if kind == "circle":
        r = radius(first, (*across, *down), "size")
        return r, r
    return radius(first, across, "x"), radius(second, down, "y")


def _inset(text: str, measure: Measure) -> Curves | None:
    sides, _, corners = text.partition("round ")
    words = sides.split()
    top, right, bottom, left = (
        words * 4 if len(words) == 1 else words * 2 if len(words) == 2 else [*words, words[1]]
    )[:4]
    x0, x1 = measure.length(left, "x"), measure.width - measure.length(right, "x")
    y0, y1 = measure.length(top, "y"), measure.height - measure.length(bottom, "y")
    radii = [measure.length(word, "x") for word in corners.split()] or [0.0]
    if len(set(radii)) > 1 or "/" in corners or not math.isfinite(x1 - x0):
        raise ValueError("corners of several radii are not followed")
    return outline.rectangle(x0, y0, x1 - x0, y1 - y0, radii[0], radii[0])
