"""From painted items to the shapes of a drawing: page background, specks, thread colours."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely

from pipeline.geometry import overlay
from pipeline.geometry.polygon import multipolygon
from pipeline.losses import each
from pipeline.model import Shape
from pipeline.read import colour
from pipeline.read.blend import Item, clipped
from pipeline.read.notes import Notes
from pipeline.read.settings import ReadSettings

# The share of the viewport that a page must cover: exporters round their page by some hundredths.
WHOLE = 0.995
# How far (ΔE00) a page may be from the page colour: nobody sees less.
ALIKE = 2.3
# A page lies around the design, so at least this share of its edge is seen; of a flag's white less is.
FRAMING = 0.6
# How far (mm) from the edge a shape may end and still hide it.
EDGE_MM = 0.05


def inside(items: list[Item], width: float, height: float) -> list[Item]:
    """The parts within the viewport: a screen shows no more. Raises LostError with elements that cannot be cut."""
    frame = shapely.box(0, 0, width, height)
    shapely.prepare(frame)
    boxes = shapely.bounds([item.area for item in items])
    within = ((boxes[:, :2] >= 0) & (boxes[:, 2:] <= (width, height))).all(axis=1) if len(items) else ()
    pairs = zip(items, within, strict=True)
    cut = each(
        [item.element for item in items], pairs, lambda pair: pair[0] if pair[1] else clipped(pair[0], frame)
    )
    return [item for item in cut if item is not None]


def without_page(
    items: list[Item], width: float, height: float, settings: ReadSettings, notes: Notes
) -> list[Item]:
    """Without a bottom item that covers the whole viewport in the page's colour and frames the design."""
    if len(items) < 2:
        return items
    bottom = items[0]
    if bottom.area.area < WHOLE * width * height or not _alike(bottom.rgb, colour.unhexed(settings.page_colour)):
        return items
    if _seen(items[1:], width, height) < FRAMING:
        return items
    done = "it is sewn" if settings.keep_page else "it is left out; set read.keep_page to sew it"
    words = f"{bottom.element}: this shape in {colour.hexed(bottom.rgb)} covers the whole page; {done}."
    notes.add("page-background", "note", bottom.element, words)
    return items if settings.keep_page else items[1:]


def _seen(items: list[Item], width: float, height: float) -> float:
    """The share of the viewport's edge that no item reaches."""
    edge = shapely.box(EDGE_MM, EDGE_MM, width - EDGE_MM, height - EDGE_MM).exterior
    over = [item.area for item in _valid(items) if item.alpha > 0]
    return float(overlay.difference(edge, overlay.union_all(over)).length / edge.length)


def _alike(one: colour.Rgb, two: colour.Rgb) -> bool:
    labs = colour.lab(np.array([one, two]))
    return float(colour.difference(labs[:1], labs[1:])[0]) <= ALIKE


def _speck(item: Item, settings: ReadSettings) -> bool:
    """Whether a painted area is too small to see, or a filled hairline such as exporters leave between pieces."""
    area, around = item.area.area, item.area.length
    if area <= settings.least_area_mm2:
        return True
    if item.stroke is not None or 2.0 * area > settings.sliver_mm * around:
        return False
    return bool(overlay.buffer(item.area, -settings.sliver_mm / 2, quad_segs=1).is_empty)


def shapes(items: list[Item], settings: ReadSettings, notes: Notes) -> tuple[Shape, ...]:
    """Shapes in thread colours, specks and hidden duplicates left out."""
    speck = [_speck(item, settings) for item in items]
    large = [item for item, small in zip(items, speck, strict=True) if not small]
    if len(large) < len(items):
        lost = sorted({item.element for item, small in zip(items, speck, strict=True) if small})
        words = (
            f"{len(items) - len(large)} painted specks of at most {settings.least_area_mm2:g} mm² or slivers under "
            f"{settings.sliver_mm:g} mm wide are left out "
            f"({', '.join(lost[:5])}{' and others' if len(lost) > 5 else ''})."
        )
        notes.add("specks-left-out", "note", lost[0], words)
    large = _valid(large)
    thread = _threads(large, settings, notes)
    made: list[Shape] = []
    for item in _rejoined(large, thread):
        shade = thread[colour.hexed(item.rgb)]
        if made and item.stroke is None and made[-1].stroke is None and made[-1].area.equals_exact(item.area, 1e-6):
            made.pop()
        made.append(Shape(item.element, item.label, shade, item.area, item.stroke))
    return tuple(made)


def _valid(items: list[Item]) -> list[Item]:
    """With the rare invalid area mended."""
    sound = shapely.is_valid([item.area for item in items])
    if bool(np.all(sound)):
        return items
    mended = [
        item if good else replace(item, area=multipolygon(item.area))
        for item, good in zip(items, sound, strict=True)
    ]
    return [item for item in mended if not item.area.is_empty]


def _rejoined(items: list[Item], thread: dict[str, str]) -> list[Item]:
    """With the pieces of one translucent shape that get the same thread joined again."""
    done: list[Item] = []
    start = 0
    for item in items:
        if not item.part or (done and done[-1].part != item.part):
            start = len(done)
        shade = thread[colour.hexed(item.rgb)]
        for i in range(start, len(done)):
            other = done[i]
            if item.part and thread[colour.hexed(other.rgb)] == shade:
                done[i] = replace(other, area=multipolygon(overlay.union_all([other.area, item.area])))
                break
        else:
            done.append(item)
    return done


def _threads(items: list[Item], settings: ReadSettings, notes: Notes) -> dict[str, str]:
    areas: dict[str, float] = {}
    for item in items:
        shade = colour.hexed(item.rgb)
        areas[shade] = areas.get(shade, 0.0) + item.area.area
    thread = colour.merged(areas, settings.same_colour, settings.most_colours)
    changed = [shade for shade, kept in thread.items() if shade != kept]
    if changed:
        pairs = ", ".join(f"{shade} into {thread[shade]}" for shade in changed[:6])
        more = f" and {len(changed) - 6} more" if len(changed) > 6 else ""
        sewn = f"Of {len(areas)} colours {len(set(thread.values()))} threads are sewn: {pairs}{more}; "
        notes.add("colours-merged", "note", "colours", sewn + "lower read.same_colour to keep them apart.")
    return thread
