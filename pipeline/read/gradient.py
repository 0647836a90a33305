"""Gradients (W3C SVG 2, 14.2): where on its ramp each spot lies; the mean colour over an area, or bands."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from lxml import etree
from numpy.typing import NDArray
from shapely.geometry import MultiPolygon

from pipeline.geometry import overlay
from pipeline.read import colour
from pipeline.read.area import whole
from pipeline.read.colour import Rgba
from pipeline.read.context import Context, Reading, attribute
from pipeline.read.document import local
from pipeline.read.matrix import Matrix, apply, inverse, parse, times
from pipeline.read.sizes import Box, Measure, share
from pipeline.read.style import ROOT

Array = NDArray[np.float64]
# Spots a side of the grid on which the mean is taken: 1,600 of them hold it to within a step of 8 bits or so.
GRID = 40
_ENDS = {
    "linearGradient": {"x1": "0%", "y1": "0%", "x2": "100%", "y2": "0%"},
    "radialGradient": {"cx": "50%", "cy": "50%", "r": "50%"},
}


@dataclass(frozen=True, eq=False)
class Ramp:
    """A gradient in place: ``onto`` maps its units to mm; stops are ``offsets (n,)`` and ``colours (n, 4)``."""

    family: list[etree._Element]
    measure: Measure
    onto: Matrix
    back: Matrix
    offsets: Array
    colours: Array

    @property
    def spread(self) -> str:
        return attribute(self.family, "spreadMethod", "pad")

    @property
    def linear(self) -> bool:
        return local(self.family[0]) == "linearGradient"

    def places(self, spots: Array) -> Array | None:
        """Where on the ramp (before spreading) spots in mm lie; None where it has no extent."""
        spots = apply(self.back, spots)
        if self.linear:
            start, way = self.axis()
            size = float(way @ way)
            return None if size == 0 else np.asarray((spots - start) @ way / size)
        centre, focus, r = self.circle()
        if r <= 0:
            return None
        lean = centre - focus
        a = r * r - float(lean @ lean)
        p = spots - focus
        b = p @ lean
        return np.asarray((b + np.sqrt(b * b + a * (p * p).sum(axis=1))) / a)

    def shades(self, places: Array) -> Array:
        """The colours ``(n, 4)`` at places on the ramp."""
        t = _spread(places, self.spread)
        return np.column_stack([np.interp(t, self.offsets, self.colours[:, i]) for i in range(4)])

    def axis(self) -> tuple[Array, Array]:
        """The start of a linear gradient and the way to its end."""
        start = self._spot("x1", "y1")
        return start, self._spot("x2", "y2") - start

    def circle(self) -> tuple[Array, Array, float]:
        """Centre, focus (kept inside) and radius of a radial gradient."""
        centre, r = self._spot("cx", "cy"), self._end("r")
        focus = self._spot("fx", "fy")
        out = focus - centre
        if np.hypot(*out) > 0.99 * r > 0:
            focus = centre + out / np.hypot(*out) * 0.99 * r
        return centre, focus, r

    def _spot(self, x: str, y: str) -> Array:
        return np.array([self._end(x), self._end(y)])

    def _end(self, name: str) -> float:
        kind = local(self.family[0])
        default = _ENDS[kind].get(name) or attribute(self.family, "c" + name[1], "50%")
        text = attribute([member for member in self.family if local(member) == kind], name, default)
        return self.measure.length(text, "size" if name == "r" else "x" if "x" in name else "y")


def painted(
    server: etree._Element, job: Reading, context: Context, box: Box | None, area: MultiPolygon, count: int
) -> list[tuple[Rgba, MultiPolygon]]:
    """Flat colours with their areas, bottom first: the mean over ``area`` (mm), or ``count`` bands of it.

    One colour with ``area`` itself where the gradient is flat anyway; nothing where nothing is painted.
    ``ValueError`` where the gradient is malformed.
    """
    family = job.family(server, *_ENDS)
    offsets, colours = _stops(family, job, context)
    if not len(offsets):
        return []
    last: Rgba = tuple(float(v) for v in colours[-1])  # type: ignore[assignment]
    if bool(np.all(np.abs(colours - colours[0]) < 1e-6)):
        return [(last, area)]
    by_box = attribute(family, "gradientUnits", "objectBoundingBox") == "objectBoundingBox"
    if by_box and box is None:
        return []
    onto = context.matrix
    if by_box and box is not None:
        onto = times(onto, (box[2], 0, 0, box[3], box[0], box[1]))
    onto = times(onto, parse(attribute(family, "gradientTransform", "")))
    back = inverse(onto)
    if back is None:
        return [(last, area)]
    ramp = Ramp(family, Measure(1.0, 1.0) if by_box else context.measure, onto, back, offsets, colours)
    spots = _spots(area)
    places = ramp.places(spots)
    if places is None:
        return [(last, area)]
    if count > 1 and ramp.spread == "pad":
        return _bands(ramp, places, area, count)
    shades = ramp.shades(places)
    return [(colour.mean(shades, np.ones(len(shades))), area)]


def flat(server: etree._Element, job: Reading, context: Context) -> bool:
    """Whether a gradient has but one colour."""
    _, colours = _stops(job.family(server, *_ENDS), job, context)
    return not len(colours) or bool(np.all(np.abs(colours - colours[0]) < 1e-6))


def _bands(ramp: Ramp, places: Array, area: MultiPolygon, count: int) -> list[tuple[Rgba, MultiPolygon]]:
    """Bands of equal width on the stretch of the ramp that shows, each (if opaque) whole beneath the next."""
    t = np.clip(places, 0.0, 1.0)
    edges = np.linspace(float(t.min()), float(t.max()), count + 1)
    which = np.clip(np.searchsorted(edges, t, side="right") - 1, 0, count - 1)
    made: list[tuple[Rgba, MultiPolygon]] = []
    for k in range(count):
        mine = which == k
        if not mine.any():
            continue
        shades = ramp.shades(t[mine])
        region = area if not made else whole(overlay.difference(area, _before(ramp, float(edges[k]), area)))
        if not region.is_empty:
            made.append((colour.mean(shades, np.ones(len(shades))), region))
    if bool(np.all(ramp.colours[:, 3] >= 1)):
        return made
    # Translucent bands that lay on each other would add up: these lie side by side.
    tops = [region for _, region in made[1:]]
    cut = [whole(overlay.difference(region, top)) for (_, region), top in zip(made, tops, strict=False)]
    areas = [*cut, *(region for _, region in made[-1:])]
    return [(rgba, area) for (rgba, _), area in zip(made, areas, strict=True) if not area.is_empty]


def _before(ramp: Ramp, edge: float, area: MultiPolygon) -> shapely.Polygon:
    """The part of the plane (around ``area``) that lies before ``edge`` on the ramp, in mm."""
    if not ramp.linear:
        centre, focus, r = ramp.circle()
        middle = focus + (centre - focus) * edge
        turn = np.linspace(0, 2 * np.pi, 256, endpoint=False)
        ring = middle + np.column_stack([np.cos(turn), np.sin(turn)]) * r * edge
        return shapely.Polygon(apply(ramp.onto, ring))
    start, way = ramp.axis()
    x0, y0, x1, y1 = area.bounds
    corners = apply(ramp.back, np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)]))
    here = start + way * edge
    far = 2 * float(np.hypot(*(corners - here).T).max()) + 1e-9
    along = way / np.hypot(*way) * far
    across = np.array([-along[1], along[0]])
    return shapely.Polygon(
        apply(ramp.onto, np.array([here + across, here - across, here - across - along, here + across - along]))
    )


def _stops(family: list[etree._Element], job: Reading, context: Context) -> tuple[Array, Array]:
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
