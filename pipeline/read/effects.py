"""Clip paths and masks as exact geometry (W3C CSS Masking 1)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.geometry import overlay
from pipeline.geometry.polygon import NOTHING
from pipeline.read import area, clipshape, flatten, shapes
from pipeline.read.area import whole
from pipeline.read.blend import Item, clipped, flattened
from pipeline.read.context import Context, Reading, href
from pipeline.read.document import local
from pipeline.read.matrix import IDENTITY, Matrix, apply, around, finite, inverse, parse, times
from pipeline.read.paint import Draw
from pipeline.read.sizes import Box, Measure, placed
from pipeline.read.style import ROOT, reference

Array = NDArray[np.float64]
# A mask shows paint where it is at least this light; cloth has no half-tones.
THRESHOLD = 0.5


def transform_of(element: etree._Element, context: Context, job: Reading) -> Matrix:
    """The element's own transform (the CSS property wins over the attribute); identity where malformed."""
    css = context.style.own.get("transform")
    text = css if css is not None else element.get("transform")
    if not text:
        return IDENTITY
    try:
        matrix = parse(text)
        origin = context.style.own.get("transform-origin") or element.get("transform-origin")
        if origin:
            places = [*origin.split(), "0"][:2]
            matrix = around(matrix, *context.measure.pair(*places))
    except ValueError as error:
        job.tell("element-broken", "error", context, f"its transform is ignored, because {error}; correct it.")
        return IDENTITY
    return matrix


def clip_region(value: str, context: Context, job: Reading, box: Box | None) -> BaseGeometry | None:
    """What ``clip-path: value`` leaves visible, in mm; None where it doesn't clip."""
    target = reference(value)
    if target is None:
        try:
            return clipshape.region(value, context, box, job.settings.flatness_mm)
        except ValueError:
            pass
        fault = f"its clip-path “{value[:40]}” is not followed; clip with a drawn path."
        job.tell("clip-left-out", "warning", context, fault)
        return None
    clip = job.find(target[0], context, "clip-path")
    if clip is None or local(clip) != "clipPath":
        return None
    if not job.enters(clip, context, "clip-path"):
        return NOTHING
    matrix = context.matrix
    measure = context.measure
    if clip.get("clipPathUnits") == "objectBoundingBox":
        if box is None:
            return NOTHING
        matrix, measure = times(matrix, (box[2], 0, 0, box[3], box[0], box[1])), Measure(1, 1)
    style = job.cascade.style(clip, ROOT, context.name, measure)
    inside = replace(context, matrix=matrix, measure=measure, style=style, chain=(*context.chain, clip))
    inside = replace(inside, matrix=times(matrix, transform_of(clip, inside, job)))
    if not finite(inside.matrix):
        return NOTHING
    parts = [part for child in clip if (part := _silhouette(child, inside, job)) is not None]
    region: BaseGeometry = overlay.union_all(parts) if parts else NOTHING
    return _clipped_again(region, inside, job)


def _clipped_again(region: BaseGeometry, context: Context, job: Reading) -> BaseGeometry:
    """A clip path may itself be clipped."""
    value = context.style.get("clip-path")
    if value == "none" or region.is_empty:
        return region
    again = clip_region(value, context, job, box_of(shapely.get_coordinates(region), context.matrix))
    return region if again is None else overlay.intersection(region, again)


def _silhouette(element: etree._Element, context: Context, job: Reading) -> BaseGeometry | None:
    """The filled shape of one child of a clip path."""
    if not isinstance(element.tag, str):
        return None
    kind = local(element)
    job.count_element(bool(context.chain))
    style = job.cascade.style(element, context.style, context.name, context.measure)
    if style.get("display") == "none":
        return None
    inside = replace(context, style=style)
    inside = replace(inside, matrix=times(context.matrix, transform_of(element, inside, job)))
    if kind == "use":
        return _used_silhouette(element, inside, job)
    if kind == "text":
        job.tell("text-left-out", "warning", context, "the text in its clip path is left out.")
    if kind not in shapes.SHAPES or style.get("visibility") != "visible" or not finite(inside.matrix):
        return None
    try:
        outline, _ = shapes.drawn(element, style, inside.measure, job.settings.most_segments)
    except ValueError as error:
        job.tell("element-broken", "error", context, f"a part of its clip path is left out: {error}.")
        return None
    if outline is None:
        return None
    job.count_segments(len(outline.curves))
    tracks = flatten.tracks(outline, apply(inside.matrix, outline.curves), job.settings.flatness_mm)
    region: BaseGeometry = area.filled([t.points for t in tracks], area.rule_of(style.get("clip-rule")))
    return _clipped_again(region, inside, job)


def _used_silhouette(element: etree._Element, context: Context, job: Reading) -> BaseGeometry | None:
    target = job.find(href(element).lstrip("#"), context, "use")
    if target is None or not job.enters(target, context, "use"):
        return None
    try:
        x, y = context.measure.pair(element.get("x") or "0", element.get("y") or "0")
    except ValueError:
        x = y = 0.0
    moved = times(context.matrix, (1, 0, 0, 1, x, y))
    region = _silhouette(target, replace(context, matrix=moved, chain=(*context.chain, target)), job)
    return None if region is None else _clipped_again(region, context, job)


def masked(
    items: list[Item], value: str, context: Context, job: Reading, box: Box | None, draw: Draw
) -> list[Item]:
    """``items`` where the mask is light enough."""
    target = reference(value)
    mask = job.find(target[0], context, "mask") if target else None
    if mask is None or local(mask) != "mask":
        return items
    if not job.enters(mask, context, "mask"):
        return []
    region, soft = _mask_region(mask, context, job, box, draw)
    if soft:
        words = "its mask has half-tones; what it shows by half or more is sewn, the rest left out."
        job.tell("mask-flattened", "note", context, words)
    return [part for item in items if (part := clipped(item, region))]


def _mask_region(
    mask: etree._Element, context: Context, job: Reading, box: Box | None, draw: Draw
) -> tuple[MultiPolygon, bool]:
    style = job.cascade.style(mask, ROOT, context.name, context.measure)
    matrix, measure = context.matrix, context.measure
    if mask.get("maskContentUnits") == "objectBoundingBox":
        if box is None:
            return NOTHING, False
        matrix, measure = times(matrix, (box[2], 0, 0, box[3], box[0], box[1])), Measure(1, 1)
    inside = replace(context, matrix=matrix, measure=measure, style=style, chain=(*context.chain, mask))
    pieces = flattened(draw(mask, inside))
    by_alpha = style.get("mask-type") == "alpha"
    light = [
        piece.alpha * (1.0 if by_alpha else float(np.dot(piece.rgb, (0.2125, 0.7154, 0.0721)))) for piece in pieces
    ]
    shown = [piece.area for piece, value in zip(pieces, light, strict=True) if value >= THRESHOLD]
    frame = _mask_frame(mask, context, box)
    region = (
        whole(overlay.intersection(overlay.union_all(shown), frame)) if shown and frame is not None else NOTHING
    )
    return region, any(0.05 < value < 0.95 for value in light)


def _mask_frame(mask: etree._Element, context: Context, box: Box | None) -> BaseGeometry | None:
    """The rectangle outside which a mask shows nothing, in mm."""
    by_box = mask.get("maskUnits", "objectBoundingBox") == "objectBoundingBox"
    if by_box and box is None:
        return None
    usual = {"x": "-10%", "y": "-10%", "width": "120%", "height": "120%"}
    try:
        sides = placed(lambda name: mask.get(name, usual[name]), context.measure, box if by_box else None)
    except ValueError:
        return None
    return overlay.buffer(area.frame(context.matrix, sides), 0)


def box_of(points: Array, matrix: Matrix) -> Box | None:
    """The bounding box in user units of points in mm ``(n, 2)``; None where it has no size."""
    back = inverse(matrix)
    if back is None or not len(points):
        return None
    user = apply(back, points)
    (x0, y0), (x1, y1) = user.min(axis=0), user.max(axis=0)
    if x1 <= x0 or y1 <= y0:
        return None
    return float(x0), float(y0), float(x1 - x0), float(y1 - y0)
