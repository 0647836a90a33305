"""One shape element to its painted items: fill, stroke, in the order asked for."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import replace

import numpy as np
import shapely
from lxml import etree

from pipeline.geometry.polygon import multipolygon
from pipeline.losses import FAILURES
from pipeline.model import Line, Stroke, points
from pipeline.read import area, flatten, shapes
from pipeline.read.blend import Item
from pipeline.read.context import Context, Reading
from pipeline.read.document import local
from pipeline.read.effects import box_of
from pipeline.read.flatten import Track
from pipeline.read.markers import MARKED, marked
from pipeline.read.matrix import Matrix, apply, inverse, scale, similar
from pipeline.read.outline import Curves
from pipeline.read.paint import Draw, Paints, Place
from pipeline.read.sizes import Box, numbers
from pipeline.read.stroke import MOST_DASHES, Pencil, dashed, outlined, too_fine

# What a shape paints, in the usual order.
_STEPS = ("fill", "stroke", "markers")


class Painter:
    """Paints the shapes of one job."""

    def __init__(self, job: Reading, draw: Draw) -> None:
        self._job = job
        self._draw = draw
        self.paints = Paints(job, draw)

    def shape(self, element: etree._Element, context: Context) -> list[Item]:
        """The items of one shape, bottom first; broken ones leave a finding."""
        style = context.style
        try:
            outline, fault = shapes.drawn(element, style, context.measure, self._job.settings.most_segments)
        except ValueError as error:
            self._job.broken(context, error)
            return []
        if fault is not None:
            words = f"its path data cannot be read from “{fault}” on, so it is drawn up to there; correct it."
            self._job.tell("path-broken", "error", context, words)
        return self.outline(outline, context, element) if outline is not None else []

    def outline(self, outline: Curves, context: Context, element: etree._Element) -> list[Item]:
        """The items of an outline in the user units of ``context``, bottom first."""
        if context.style.get("visibility") != "visible" or inverse(context.matrix) is None:
            return []
        self._job.count_segments(len(outline.curves))
        try:
            return self._painted(outline, context, element)
        except FAILURES as error:
            words = f"it cannot be drawn ({error}); simplify it in the drawing."
            self._job.tell("element-broken", "error", context, words)
            return []

    def _painted(self, outline: Curves, context: Context, element: etree._Element) -> list[Item]:
        curves = apply(context.matrix, outline.curves)
        tracks = flatten.tracks(outline, curves, self._job.settings.flatness_mm)
        wanted = context.style.get("paint-order")
        order: Iterable[str] = _STEPS
        if wanted != "normal":
            order = dict.fromkeys([*(step for step in wanted.split() if step in _STEPS), *_STEPS])
        box = None
        if "url" in context.style.get("fill") + context.style.get("stroke"):
            box = box_of(np.vstack([track.points for track in tracks]), context.matrix)
        items: list[Item] = []
        for step in order:
            if step == "fill":
                items += self._fill(tracks, context, box)
            elif step == "stroke":
                items += self._stroke(outline, curves, context, box, element)
            elif local(element) in MARKED:
                width = self._length(context, "stroke-width", 1.0)
                items += marked(outline, context, self._job, width, self._draw)
        return items

    def _fill(self, tracks: list[Track], context: Context, box: Box | None) -> list[Item]:
        if context.style.get("fill") == "none":
            return []
        rule = area.rule_of(context.style.get("fill-rule"))
        region = area.filled([track.points for track in tracks], rule)
        if region.is_empty:
            return []
        found = self.paints.flat("fill", Place(context, box, region))
        return [Item(context.name, context.label, rgba[:3], rgba[3], part) for rgba, part in found]

    def _stroke(
        self,
        outline: Curves,
        curves: flatten.Array,
        context: Context,
        box: Box | None,
        element: etree._Element,
    ) -> list[Item]:
        if context.style.get("stroke") == "none":
            return []
        fixed = context.style.get("vector-effect") == "non-scaling-stroke"
        alike = fixed or similar(context.matrix)
        size = self._job.mm_per_px if fixed else scale(context.matrix)
        pencil = self._pencil(context, size, outline, element)
        if pencil is None:
            return []
        tolerance = self._job.settings.flatness_mm
        onto: Matrix | None = None
        if not alike:
            a, b, c, d, e, f = context.matrix
            onto = (a / size, b / size, c / size, d / size, e, f)
            curves = outline.curves * size
            tolerance /= max(1.0, float(np.linalg.norm(np.array([[onto[0], onto[2]], [onto[1], onto[3]]]), ord=2)))
        lines = flatten.tracks(outline, curves, tolerance, pencil.width / 2)
        if any(too_fine(line, pencil) for line in lines):
            self._job.ignored(context, "stroke-dasharray", "its dashes are too fine")
            pencil = replace(pencil, dashes=())
        area.refuse_tangle([line.points for line in lines])
        lines = [piece for line in lines for piece in dashed(line, pencil)]
        region = outlined(lines, pencil, tolerance / 2)
        if onto is not None:
            region = multipolygon(shapely.transform(region, lambda spots: apply(onto, spots)))
        if region.is_empty:
            return []
        found = self.paints.flat("stroke", Place(context, box, region))
        stroke = _centre(lines, pencil.width) if alike else None
        return [
            Item(context.name, context.label, rgba[:3], rgba[3], part, stroke, outlining=True)
            for rgba, part in found
        ]

    def _pencil(self, context: Context, size: float, outline: Curves, element: etree._Element) -> Pencil | None:
        """How the shape is stroked, lengths in mm; None for a stroke of no width."""
        style, measure = context.style, context.measure
        width = self._length(context, "stroke-width", 1.0)
        if width <= 0:
            return None
        try:
            limit = float(style.get("stroke-miterlimit"))
        except ValueError:
            limit = 4.0
        pattern: list[float] = []
        text = style.get("stroke-dasharray").strip()
        if text not in ("none", "0", ""):
            try:
                parts = text.replace(",", " ").split()[:MOST_DASHES]
                pattern = [measure.length(part, "size") for part in parts]
                if min(pattern) < 0:
                    raise ValueError("a dash is negative")
            except ValueError as error:
                self._job.ignored(context, "stroke-dasharray", error)
                pattern = []
        pattern = pattern * 2 if len(pattern) % 2 else pattern
        stretch = _path_length(element, outline) if pattern else 1.0
        join = style.get("stroke-linejoin").lower()
        return Pencil(
            width * size,
            join if join in ("round", "bevel") else "miter",  # type: ignore[arg-type]
            style.get("stroke-linecap").lower(),  # type: ignore[arg-type]
            limit if math.isfinite(limit) and limit >= 1 else 4.0,
            tuple(part * size * stretch for part in pattern),
            self._length(context, "stroke-dashoffset", 0.0) * size * stretch,
        )

    def _length(self, context: Context, prop: str, default: float) -> float:
        try:
            value = context.measure.length(context.style.get(prop), "size")
            if value < 0 and prop == "stroke-width":
                raise ValueError("it is negative")
        except ValueError as error:
            self._job.ignored(context, prop, error)
            return default
        return value


def _path_length(element: etree._Element, outline: Curves) -> float:
    """True length over the author's ``pathLength``; 1 without one."""
    try:
        said = numbers(element.get("pathLength") or "")
    except ValueError:
        return 1.0
    if len(said) != 1 or said[0] <= 0:
        return 1.0
    size = float(np.ptp(outline.curves, axis=(0, 1)).max()) or 1.0
    total = 0.0
    for track in flatten.tracks(outline, outline.curves, size * 1e-4):
        line = np.vstack([track.points, track.points[:1]]) if track.closed else track.points
        total += float(np.hypot(*np.diff(line, axis=0).T).sum())
    return total / said[0]


def _centre(lines: list[Track], width: float) -> Stroke | None:
    kept = tuple(
        Line(points(line.points), line.closed and len(line.points) > 2) for line in lines if len(line.points) > 1
    )
    return Stroke(kept, width) if kept else None
