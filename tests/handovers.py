"""A picture of every handover, as SVG: what one room gives to the next, for looking at and for the manual."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from pipeline.geometry.polygon import largest
from pipeline.model import Block, Kind, Layer, Part, Pass, Points, Region, Role, Shape, Spot, Step, Surface

KIND_COLOURS: dict[Kind, str] = {
    "tatami": "#8fb8d6",
    "satin": "#f0b45f",
    "run": "#62a87c",
    "triple run": "#a678b8",
}
LAYER_COLOURS: dict[Layer, str] = {
    "foundation": "#b07d2b",
    "cover": "#7ba7c4",
    "travel": "#c2185b",
    "lock": "#2e7d32",
}
ROLE_COLOURS: dict[Role, str] = {"base": "#000000", "overlay": "#c2185b", "mixed": "#5e35b1"}
HAIR, FINE, BOLD = 0.06, 0.12, 0.3
"""Line widths in mm."""

TICK_MM = 4.0
"""Length of the tick that shows an angle."""

MARGIN_MM = 3.0


def trace_svg(room: str, items: Sequence[Any], width_mm: float, height_mm: float) -> str:
    """What ``room`` hands on, drawn over a viewport of ``width_mm`` × ``height_mm``, as an SVG document.

    ``items`` are ``read``'s shapes, ``regions``' regions, ``roles``' surfaces (the bare part hatched, the part
    with foundation dashed, a tick along the rows, the id coloured by the role), ``split``'s parts by kind with
    the cross-sections of columns, ``steps``' steps numbered from start (dot) to end (ring), ``stitch``'s blocks
    with their needle points by layer, or ``tie``'s passes with their moves (dashed; red where the thread is
    cut).

    Raises KeyError for a room that hands on nothing to draw.
    """
    body, legend = ROOMS[room](items), LEGENDS.get(room, {})
    left = top = -MARGIN_MM
    foot = 5.0 if legend else 0.0
    width, height = width_mm + 2 * MARGIN_MM, height_mm + 2 * MARGIN_MM + foot
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}mm" height="{height:g}mm" '
        f'viewBox="{left:g} {top:g} {width:g} {height:g}">\n'
        f"<title>{escape(room)}</title>\n"
        '<defs><pattern id="bare" width="1" height="1" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><path d="M0 0V1" stroke="#222" stroke-width="{BOLD}"/></pattern></defs>\n'
        f'<rect x="{left:g}" y="{top:g}" width="{width:g}" height="{height:g}" fill="#fff"/>\n'
        f'<rect width="{width_mm:g}" height="{height_mm:g}" fill="none" stroke="#aaa" stroke-width="{HAIR}"/>\n'
        '<g font-family="sans-serif" font-size="2" stroke-linejoin="round" stroke-linecap="round">\n'
        + "\n".join([*body, *_legend(legend, height_mm + MARGIN_MM)])
        + "\n</g>\n</svg>\n"
    )


# --- one function a room ---------------------------------------------------------------------------------


def _read(shapes: Iterable[Shape]) -> list[str]:
    found = []
    for shape in shapes:
        found.append(_area(shape.area, fill=shape.colour, stroke="#000", width=HAIR, title=shape.element))
        lines = shape.stroke.lines if shape.stroke else ()
        found += [_line(_path(line.points, line.closed), "#fff", FINE, dash=True) for line in lines]
    return found


def _regions(regions: Iterable[Region]) -> list[str]:
    """Whole outlines, each let through so that what runs on beneath shows; the id stands where it is seen."""
    found, labels = [], []
    for region in regions:
        found.append(
            _area(region.outline, fill=region.colour, stroke="#000", width=FINE, opacity=0.6, title=region.element)
        )
        labels.append(_text(_spot(region.visible), region.id))
    return found + labels


def _roles(surfaces: Iterable[Surface]) -> list[str]:
    found, labels = [], []
    for surface in surfaces:
        region = surface.region
        title = f"{region.id} {surface.role}: {surface.why}"
        found.append(
            _area(region.outline, fill=region.colour, stroke="#000", width=FINE, opacity=0.55, title=title)
        )
        found.append(_area(surface.bare, fill="url(#bare)", opacity=0.45))
        found.append(_area(surface.foundation, stroke="#c2185b", width=FINE, dash=True))
        spot = _spot(region.visible)
        labels += [_tick(spot, surface.angle_deg), _text(spot, region.id, ROLE_COLOURS[surface.role])]
    return found + labels


def _split(parts: Iterable[Part]) -> list[str]:
    found, labels = [], []
    for part in parts:
        title = f"{part.id}: {part.why}"
        found.append(
            _area(part.area, fill=KIND_COLOURS[part.kind], stroke="#000", width=HAIR, opacity=0.8, title=title)
        )
        if part.column is not None:
            rungs = " ".join(map(_path, np.stack([part.column.left, part.column.right], axis=1)))
            found.append(_line(rungs, "#7a4a00", HAIR))
        found += [_line(_path(line.points, line.closed), "#000", FINE) for line in part.lines]
        if part.angle_deg is not None:
            labels.append(_tick(_spot(part.area), part.angle_deg))
    return found + labels


def _steps(steps: Sequence[Step]) -> list[str]:
    found = [_area(step.part.area, fill=step.colour, stroke="#000", width=HAIR, opacity=0.45) for step in steps]
    for before, after in pairwise(steps):
        cut = before.colour != after.colour
        found.append(
            _line(_path(np.array([before.end, after.start])), "#b3261e" if cut else "#222", FINE, dash=True)
        )
    for number, step in enumerate(steps, start=1):
        found += [_dot(step.start, 0.5, "#222"), _ring(step.end, 0.5), _text(step.start, str(number))]
    return found


def _stitch(blocks: Iterable[Block]) -> list[str]:
    found = []
    for block in blocks:
        last: Points = np.empty((0, 2))
        for strand in block.strands:
            found += _sewn(np.vstack([last, strand.points]), strand.layer, block.step.part.id)
            last = strand.points[-1:]
    return found


def _tie(passes: Sequence[Pass]) -> list[str]:
    found = []
    for before, after in zip([None, *passes], passes, strict=False):
        last = before.points[-1:] if before is not None else np.empty((0, 2))
        run_on = after.approach == "sewn"
        found += _sewn(np.vstack([last if run_on else last[:0], after.points]), after.layer, after.part)
        if len(last) and not run_on:
            colour = "#222" if after.approach == "jump" else "#b3261e"
            found.append(_line(_path(np.vstack([last, after.points[:1]])), colour, FINE, dash=True))
    return found


def _sewn(line: Points, layer: Layer, title: str) -> list[str]:
    """Stitches as a hair line, needle points as dots: a dash of no length with round ends is one."""
    dots = " ".join(f"M{_pair(x, y)}h0" for x, y in line.tolist())
    colour = LAYER_COLOURS[layer]
    return [_line(_path(line), colour, HAIR, title=f"{title} {layer}"), _line(dots, colour, 2.5 * HAIR)]


ROOMS: dict[str, Callable[[Sequence[Any]], list[str]]] = {
    "read": _read,
    "regions": _regions,
    "roles": _roles,
    "split": _split,
    "steps": _steps,
    "stitch": _stitch,
    "tie": _tie,
}
LEGENDS: dict[str, dict[str, str]] = {
    "roles": {str(role): colour for role, colour in ROLE_COLOURS.items()},
    "split": {str(kind): colour for kind, colour in KIND_COLOURS.items()},
    "stitch": {str(layer): colour for layer, colour in LAYER_COLOURS.items()},
    "tie": {**{str(layer): colour for layer, colour in LAYER_COLOURS.items()}, "cut": "#b3261e", "uncut": "#222"},
}


# --- drawing ---------------------------------------------------------------------------------------------


def _area(
    area: Polygon | MultiPolygon,
    fill: str = "none",
    stroke: str = "none",
    width: float = HAIR,
    opacity: float = 1.0,
    dash: bool = False,
    title: str = "",
) -> str:
    rings = shapely.get_rings(shapely.get_parts(area))
    shape = " ".join(_path(shapely.get_coordinates(ring)[:-1], closed=True) for ring in rings)
    return (
        f'<path d="{shape}" fill="{escape(fill)}" fill-rule="evenodd" fill-opacity="{opacity:g}" '
        f'stroke="{stroke}" stroke-width="{width:g}"{_dashed(dash)}>{_title(title)}</path>'
    )


def _line(path: str, colour: str, width: float, dash: bool = False, title: str = "") -> str:
    return (
        f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}"{_dashed(dash)}>'
        f"{_title(title)}</path>"
    )


def _dashed(dash: bool) -> str:
    return ' stroke-dasharray="0.8 0.6"' if dash else ""


def _title(text: str) -> str:
    return f"<title>{escape(text)}</title>" if text else ""


def _path(line: Points, closed: bool = False) -> str:
    return "M" + "L".join(_pair(x, y) for x, y in line.tolist()) + ("Z" if closed else "")


def _pair(x: float, y: float) -> str:
    return f"{x:.2f} {y:.2f}"


def _spot(area: Polygon | MultiPolygon) -> Spot:
    """A place for a label: inside the area, in its largest piece."""
    inside = shapely.point_on_surface(largest(area) or area)
    return float(inside.x), float(inside.y)


def _tick(spot: Spot, angle_deg: float) -> str:
    """A double line along the rows."""
    turn = np.deg2rad(angle_deg)
    reach = np.array([np.cos(turn), -np.sin(turn)]) * TICK_MM / 2.0
    ends = _path(np.array([spot - reach, spot + reach]))
    return _line(ends, "#fff", 2 * BOLD) + _line(ends, "#000", BOLD)


def _text(spot: Spot, text: str, colour: str = "#000000") -> str:
    return (
        f'<text x="{spot[0] + 0.6:.2f}" y="{spot[1] - 0.6:.2f}" fill="{colour}" paint-order="stroke" stroke="#fff" '
        f'stroke-width="0.5">{escape(text)}</text>'
    )


def _dot(spot: Spot, radius: float, colour: str) -> str:
    return f'<circle cx="{spot[0]:.2f}" cy="{spot[1]:.2f}" r="{radius:g}" fill="{colour}"/>'


def _ring(spot: Spot, radius: float) -> str:
    return (
        f'<circle cx="{spot[0]:.2f}" cy="{spot[1]:.2f}" r="{radius:g}" fill="none" stroke="#222" '
        f'stroke-width="{FINE}"/>'
    )


def _legend(entries: dict[str, str], top: float) -> list[str]:
    found = []
    for number, (name, colour) in enumerate(entries.items()):
        left = number * 19.0
        found.append(f'<rect x="{left:g}" y="{top:g}" width="2.4" height="2.4" fill="{colour}"/>')
        found.append(f'<text x="{left + 3.2:g}" y="{top + 2:g}">{escape(name)}</text>')
    return found
