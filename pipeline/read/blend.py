"""Painted items and their opacity: what a flat colour has to be so that cloth shows what the screen shows."""

from __future__ import annotations

from dataclasses import dataclass, replace

import shapely
from shapely.geometry import MultiPolygon
from shapely.geometry.base import BaseGeometry

from pipeline.errors import ArtworkError
from pipeline.geometry import overlay
from pipeline.losses import each
from pipeline.model import Stroke
from pipeline.read.area import whole
from pipeline.read.colour import Rgb, hexed, over

# Paint more opaque than this looks opaque, less opaque than that invisible (half a step of 8 bits).
OPAQUE, INVISIBLE = 1 - 0.5 / 255, 0.5 / 255
# Slivers of an overlay below this (mm²) are rounding, not paint.
SLIVER = 1e-4
# Meetings of translucent paint with what lies beneath, weighed by their points (50 count once more), beyond
# which a drawing is refused: about 50 µs each.
MOST_MEETINGS = 100_000


@dataclass(frozen=True, eq=False)
class Item:
    """One painted area in mm with its colour and opacity; ``stroke`` as in ``Shape``."""

    element: str
    label: str | None
    rgb: Rgb
    alpha: float
    area: MultiPolygon
    stroke: Stroke | None = None
    outlining: bool = False
    """Whether it paints a stroke (such areas don't count for an object's bounding box)."""
    part: int = 0
    """Which translucent paint it was cut from, counted from 1; 0 for a whole."""


def clipped(item: Item, region: BaseGeometry) -> Item | None:
    """The part of an item inside ``region``; its centreline is kept only if nothing is lost."""
    if region.covers(item.area):
        return item
    if not region.intersects(item.area):
        return None
    area = whole(overlay.intersection(item.area, region), SLIVER)
    if area.is_empty:
        return None
    entire = area.area > item.area.area * 0.9999
    return replace(item, area=area, stroke=item.stroke if entire else None)


def flattened(items: list[Item]) -> list[Item]:
    """The same picture as items that don't overlap, each with one colour and opacity."""
    pieces: list[Item] = []
    meetings = 0
    for item in items:
        meetings = _counted(meetings + len(pieces) // 8)
        if item.alpha >= OPAQUE:
            pieces = [left for piece in pieces if (left := _without(piece, item.area))]
            pieces.append(item)
            continue
        rest: BaseGeometry = item.area
        kept: list[Item] = []
        for piece in pieces:
            if not _meet(piece.area.bounds, item.area.bounds) or not piece.area.intersects(item.area):
                kept.append(piece)
                continue
            meetings = _counted(meetings + 1 + int(shapely.get_num_coordinates(piece.area)) // 50)
            both = whole(overlay.intersection(piece.area, item.area), SLIVER)
            if both.is_empty:
                kept.append(piece)
                continue
            rest = overlay.difference(rest, piece.area)
            if left := _without(piece, item.area):
                kept.append(left)
            kept.append(_mixed(item, piece, both))
        alone = whole(rest, SLIVER)
        if not alone.is_empty:
            entire = alone.area > item.area.area * 0.9999
            kept.append(replace(item, area=alone, stroke=item.stroke if entire else None))
        pieces = kept
    return pieces


def _counted(meetings: int) -> int:
    if meetings > MOST_MEETINGS:
        raise ArtworkError(
            "Too many translucent shapes lie on each other to find out what one sees; "
            "flatten the transparency in the drawing."
        )
    return meetings


def _without(piece: Item, area: BaseGeometry) -> Item | None:
    if not _meet(piece.area.bounds, area.bounds) or not piece.area.intersects(area):
        return piece
    left = whole(overlay.difference(piece.area, area), SLIVER)
    return None if left.is_empty else replace(piece, area=left, stroke=None)


def _mixed(top: Item, below: Item, area: MultiPolygon) -> Item:
    """Source over destination with both translucent (W3C Compositing, simple alpha)."""
    alpha = top.alpha + below.alpha * (1 - top.alpha)
    rgb = over(top.rgb, top.alpha / alpha, below.rgb)
    return replace(top, rgb=rgb, alpha=alpha, area=area, stroke=None)


def composited(items: list[Item], ground: Rgb) -> tuple[list[Item], dict[str, list[str]]]:
    """Opaque items bottom to top that look as ``items`` do on ``ground``, and the colours given per element.

    A translucent item becomes one item for every colour that lies visible beneath it. Raises LostError with the
    elements for which that cannot be worked out.
    """
    done: list[Item] = []
    given: dict[str, list[str]] = {}
    meetings = 0

    def paint(numbered: tuple[int, Item]) -> None:
        nonlocal meetings
        number, item = numbered
        if item.alpha >= OPAQUE:
            done.append(item)
        elif item.alpha > INVISIBLE:
            under = [other for other in done if _meet(item.area.bounds, other.area.bounds)]
            weight = int(shapely.get_num_coordinates([other.area for other in under]).sum()) // 50 if under else 0
            meetings = _counted(meetings + len(under) + len(done) // 8 + weight)
            for piece in _on_top(item, under, ground, number):
                done.append(piece)
                names = given.setdefault(item.element, [])
                if hexed(piece.rgb) not in names:
                    names.append(hexed(piece.rgb))

    each([item.element for item in items], enumerate(items, start=1), paint)
    return done, given


def _on_top(item: Item, below: list[Item], ground: Rgb, number: int) -> list[Item]:
    rest: BaseGeometry = item.area
    seen: dict[Rgb, list[BaseGeometry]] = {}
    for other in reversed(below):
        if rest.is_empty:
            break
        if not _meet(rest.bounds, other.area.bounds) or not rest.intersects(other.area):
            continue
        seen.setdefault(other.rgb, []).append(overlay.intersection(rest, other.area))
        rest = overlay.difference(rest, other.area)
    if not rest.is_empty:
        seen.setdefault(ground, []).append(rest)
    mixed: dict[Rgb, list[BaseGeometry]] = {}
    for rgb, parts in seen.items():
        mixed.setdefault(over(item.rgb, item.alpha, rgb), []).extend(parts)
    areas = {rgb: whole(overlay.union_all(parts), SLIVER) for rgb, parts in mixed.items()}
    areas = {rgb: area for rgb, area in areas.items() if not area.is_empty}
    if len(areas) == 1:
        return [replace(item, rgb=next(iter(areas)), alpha=1.0)]
    return [replace(item, rgb=rgb, alpha=1.0, area=area, stroke=None, part=number) for rgb, area in areas.items()]


def _meet(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
