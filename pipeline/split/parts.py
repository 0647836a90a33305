"""Surfaces to parts: the room's one function."""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely.geometry import Polygon

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Finding, Note, Part, Surface
from pipeline.split.drafts import Draft, drafts, whole
from pipeline.split.settings import SplitSettings
from pipeline.split.strokes import stroke_drafts

HIDDEN_MM2 = 6.0
"""A limb up to this size that lies beneath other regions is not sewn: it only came of restoring what was cut."""

HIDDEN_SHARE = 0.3
"""Such a limb may show this share of itself: its overlap at the joint, and what the joins of regions leave open."""


def split(surfaces: tuple[Surface, ...], settings: SplitSettings, note: Note) -> tuple[Part, ...]:
    """The parts of every surface by local width: tatami cores, satin columns, runs.

    Parts of one surface are numbered in order of place (top to bottom, then left to right). Together they
    cover the surface's outline; at joints the narrower reaches ``overlap_mm`` beneath the wider.
    """
    return tuple(part for surface in surfaces for part in _parts(surface, settings, note))


def _parts(surface: Surface, settings: SplitSettings, note: Note) -> Iterator[Part]:
    region = surface.region
    made: list[Draft] = []
    for polygon in whole(region.outline):
        if _too_small(polygon, settings):
            spot = polygon.representative_point()
            message = (
                f"{region.element}: a speck of {polygon.area:.2f} mm² is too small to sew and is left out;"
                " enlarge it or take it out of the artwork."
            )
            note(Finding("too-small-to-sew", "note", message, region.id, (spot.x, spot.y)))
        else:
            known = stroke_drafts(polygon, region.stroke, settings) if region.stroke is not None else []
            made.extend(known or drafts(polygon, settings))
    made = [draft for draft in made if _shows(draft, surface)]
    made.sort(key=lambda d: (round(d.area.bounds[1], 4), round(d.area.bounds[0], 4), round(d.area.area, 4)))
    for number, draft in enumerate(made, start=1):
        if draft.kind == "run" and draft.widths[1] < settings.finest_line_mm:
            spot = draft.area.representative_point()
            message = (
                f"{region.element}: {draft.widths[1]:.2f} mm wide, finer than thread sews; it becomes a run about"
                " 0.3 mm wide. Draw it wider if its shape matters."
            )
            note(Finding("too-fine-for-shape", "note", message, region.id, (spot.x, spot.y)))
        yield _part(surface, number, draft)


def _shows(draft: Draft, surface: Surface) -> bool:
    """Whether a part can be seen, or is large enough to carry what lies on it."""
    region = surface.region
    if region.restored_mm2 <= 0.0 or draft.kind == "tatami" or draft.area.area > HIDDEN_MM2:
        return True
    return bool(draft.area.intersection(region.visible).area > HIDDEN_SHARE * draft.area.area)


def _too_small(polygon: Polygon, settings: SplitSettings) -> bool:
    if polygon.area >= settings.least_area_mm2:
        return False
    return bool(polygon.buffer(-0.5 * settings.finest_line_mm).is_empty)


def _part(surface: Surface, number: int, draft: Draft) -> Part:
    region = surface.region
    return Part(
        id=f"{region.id}.{number}",
        region=region.id,
        kind=draft.kind,
        area=draft.area,
        width_mm=draft.widths,
        foundation=multipolygon(shapely.intersection(surface.foundation, draft.area)),
        bare=multipolygon(shapely.intersection(surface.bare, draft.area)),
        row_mm=surface.row_mm,
        why=_why(draft),
        angle_deg=surface.angle_deg if draft.kind == "tatami" else None,
        column=draft.column,
        lines=draft.lines,
    )


def _why(draft: Draft) -> str:
    least, median, most = draft.widths
    if draft.fell_back:
        return f"{median:.1f} mm wide, but too uneven for satin: {draft.kind}."
    if draft.kind == "satin" and most - least > 0.5:
        return f"{least:.1f} to {most:.1f} mm wide: satin."
    return f"{median:.1f} mm wide: {draft.kind}."
