"""What a fill or stroke paints: a flat colour; gradients and patterns as their mean, with a finding."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from lxml import etree
from shapely.geometry import MultiPolygon

from pipeline.read import colour, gradient
from pipeline.read.area import frame
from pipeline.read.blend import INVISIBLE, Item, clipped, flattened
from pipeline.read.colour import Rgba
from pipeline.read.context import Context, Reading, attribute
from pipeline.read.document import local
from pipeline.read.matrix import Matrix, finite, parse, times
from pipeline.read.sizes import Box, fitted, placed, share, view_box
from pipeline.read.style import Style, reference

Draw = Callable[[etree._Element, Context], list[Item]]
FLAT = "draw flat areas if that won't do."
"""What a sender can do about paint that no thread has."""


@dataclass(frozen=True, eq=False)
class Place:
    """Where paint goes: the element's context, its box in user units (None: of no size), the area in mm."""

    context: Context
    box: Box | None
    area: MultiPolygon


class Paints:
    """Turns paint values into flat colours."""

    def __init__(self, job: Reading, draw: Draw) -> None:
        self._job = job
        self._draw = draw

    def flat(self, prop: str, place: Place) -> list[tuple[Rgba, MultiPolygon]]:
        """What ``prop`` (fill or stroke) paints at ``place``: colours and areas, bottom first; maybe nothing."""
        value = place.context.style.get(prop)
        target = reference(value) if value.lower().startswith("url(") else None
        found = self._server(target, prop, place) if target else self._whole(value, place)
        if not found:
            return []
        alpha = self.opacity(f"{prop}-opacity", place.context)
        return [((*rgba[:3], rgba[3] * alpha), area) for rgba, area in found if rgba[3] * alpha > INVISIBLE]

    def _whole(self, value: str, place: Place) -> list[tuple[Rgba, MultiPolygon]]:
        """A plain colour over all of ``place``."""
        rgba = self._plain(value, place.context)
        return [(rgba, place.area)] if rgba else []

    def opacity(self, prop: str, context: Context) -> float:
        """An opacity property in 0…1; 1, with a finding, where it cannot be read."""
        try:
            return share(context.style.get(prop))
        except ValueError as error:
            self._job.ignored(context, prop, error)
            return 1.0

    def _plain(self, value: str, context: Context) -> Rgba | None:
        low = value.strip().lower()
        style = context.style
        if low in ("context-fill", "context-stroke") and context.outer is not None:
            style, value = context.outer, context.outer.get(low.removeprefix("context-"))
            low = value.strip().lower()
        if low == "currentcolor":
            own = style.get("color")
            return colour.parse(own if own.lower() != "currentcolor" else "#000000")
        return colour.parse(value) or colour.parse(value.split("icc-color")[0])

    def _server(self, target: tuple[str, str], prop: str, place: Place) -> list[tuple[Rgba, MultiPolygon]]:
        ident, fallback = target
        context = place.context
        server = self._job.ids.get(ident)
        kind = local(server) if server is not None else ""
        if server is None or kind not in ("linearGradient", "radialGradient", "pattern"):
            what = "the colour after it is used" if fallback else "nothing is painted there"
            words = f"its {prop} refers to “{ident[:40]}”, which is no gradient or pattern of this file, so {what}."
            self._job.tell("reference-missing", "warning", context, words)
            return self._whole(fallback, place) if fallback else []
        try:
            if kind == "pattern":
                mean = self._pattern(server, prop, place)
                return [(mean, place.area)] if mean else []
            return self._gradient(server, prop, place)
        except ValueError as error:
            words = f"the {kind} of its {prop} cannot be used, because {error}; give it a plain colour."
            self._job.tell("element-broken", "error", context, words)
            return self._whole(fallback, place) if fallback else []

    def _gradient(self, server: etree._Element, prop: str, place: Place) -> list[tuple[Rgba, MultiPolygon]]:
        count = self._job.settings.gradient_bands if prop == "fill" else 1
        found = gradient.painted(server, self._job, place.context, place.box, place.area, count)
        if len(found) > 1:
            shades = ", ".join(colour.hexed(rgba[:3]) for rgba, _ in found)
            words = f"a gradient in its {prop} is sewn as {len(found)} bands: {shades}; {FLAT}"
            self._job.tell("gradient-banded", "note", place.context, words)
        elif found and not gradient.flat(server, self._job, place.context):
            words = f"a gradient in its {prop} is sewn as its mean colour {colour.hexed(found[0][0][:3])}; {FLAT}"
            self._job.tell("gradient-flattened", "note", place.context, words)
        return found

    def _pattern(self, server: etree._Element, prop: str, place: Place) -> Rgba | None:
        """The mean of what one tile shows, bare parts counting as transparent."""
        job, context = self._job, place.context
        if not job.enters(server, context, prop):
            return None
        chain = job.family(server, "pattern")
        tile, onto = _tile(chain, place)
        if tile is None:
            return None
        content = next((member for member in chain if len(member)), None)
        if content is None:
            return None
        style = job.cascade.style(content, Style({}, {}), context.name, context.measure)
        inside = replace(
            context, matrix=onto, style=style, name=f"{context.name}/pattern", chain=(*context.chain, server)
        )
        items = [part for item in self._draw(content, inside) if (part := clipped(item, tile))]
        pieces = flattened(items)
        if not pieces:
            return None
        weights = np.array([piece.area.area for piece in pieces])
        values = np.array([(*piece.rgb, piece.alpha) for piece in pieces])
        r, g, b, alpha = colour.mean(values, weights)
        rgba = (r, g, b, alpha * min(1.0, float(weights.sum()) / tile.area))
        words = f"a pattern in its {prop} is sewn as its mean colour {colour.hexed(rgba[:3])}; {FLAT}"
        job.tell("pattern-flattened", "note", context, words)
        return rgba


def _tile(chain: list[etree._Element], place: Place) -> tuple[shapely.Polygon | None, Matrix]:
    """One tile of a pattern in mm, and the map from its content's units to mm."""

    def get(name: str, default: str = "0") -> str:
        return attribute(chain, name, default) or default

    context, box = place.context, place.box
    by_box = get("patternUnits", "objectBoundingBox") == "objectBoundingBox"
    if by_box and box is None:
        return None, context.matrix
    x, y, w, h = placed(get, context.measure, box if by_box else None)
    if w <= 0 or h <= 0:
        return None, context.matrix
    onto = times(context.matrix, parse(get("patternTransform", "")))
    if not finite(onto):
        raise ValueError("its transform is out of range")
    tile = frame(onto, (x, y, w, h))
    view = view_box(next((member.get("viewBox") for member in chain if member.get("viewBox")), None))
    inner = times(onto, (1, 0, 0, 1, x, y))
    if view is not None:
        inner = times(inner, fitted(view, w, h, get("preserveAspectRatio", "xMidYMid"))[0])
    elif get("patternContentUnits", "userSpaceOnUse") == "objectBoundingBox":
        if box is None:
            return None, inner
        inner = times(inner, (box[2], 0, 0, box[3], 0, 0))
    return (tile if tile.area > 0 else None), inner
