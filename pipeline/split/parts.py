"""Surfaces to parts: the room's one function."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely.geometry import MultiPolygon, Polygon

from pipeline.craft import Craft
from pipeline.errors import BrokenPromiseError
from pipeline.geometry import overlay
from pipeline.geometry.polygon import multipolygon, opened
from pipeline.losses import each
from pipeline.model import Finding, Note, Part, Region, Surface
from pipeline.split.drafts import drafts, whole
from pipeline.split.patches import emboldened
from pipeline.split.plain import Draft
from pipeline.split.settings import SplitSettings
from pipeline.split.strokes import stroke_drafts

HIDDEN_SHARE = 0.3
"""A thorn may show this share of itself: what the joins of regions leave open."""

HIDDEN_MM2 = 6.0
"""A limb up to this size that nothing shows of is not sewn: it only came of restoring what was cut."""

SEEN_MM2 = 0.05
"""What shows less is not seen."""

SAME_MM2 = 1e-6
"""Areas that differ by less are the same."""

THORN_MM = 0.5
"""Thorns of up to twice this width are cut off where they are hidden. Larger costs the overlap of thin lines."""

LEAST_THORN_MM2 = 0.1
"""Less is no thorn but the rounding of corners."""

MEND_MM = 1e-4
"""A piece that touches itself is grown by this much there."""

SPECK_MM2 = 0.05
"""What such a piece leaves behind of up to this size is no fill of its own."""

LETTER_STROKES = 5.0
"""A figure this many times as large as its strokes are wide is taken for a letter; a dot or a square is not."""


def split(surfaces: tuple[Surface, ...], settings: SplitSettings, craft: Craft, note: Note) -> tuple[Part, ...]:
    """The parts of every surface by local width: tatami cores, satin columns, runs.

    Parts of one surface are numbered in order of place (top to bottom, then left to right). Together they
    cover the surface's outline; at joints the narrower reaches ``overlap_mm`` beneath the wider.
    """
    settings = settings.for_thread(craft.fineness)
    names = [surface.region.id for surface in surfaces]
    made = each(names, surfaces, lambda surface: tuple(_parts(surface, settings, note)))
    return tuple(part for parts in made for part in parts)


def _parts(surface: Surface, settings: SplitSettings, note: Note) -> Iterator[Part]:
    region = surface.region
    made: list[Draft] = []
    outline = without_thorns(region)
    _lettering(region, outline, settings, note)
    for polygon in whole(outline):
        if _too_small(polygon, settings):
            spot = polygon.representative_point()
            message = (
                f"{region.element}: a speck of {polygon.area:.2f} mm² is too small to sew and is left out;"
                " enlarge it or take it out of the artwork."
            )
            note(Finding("too-small-to-sew", "note", message, region.id, (spot.x, spot.y)))
        else:
            known = stroke_drafts(polygon, region.stroke, settings) if region.stroke is not None else []
            made.extend(known or [emboldened(draft, settings) for draft in drafts(polygon, settings)])
    made = [whole for draft in made for whole in _mended(draft)]
    made = [draft for draft in made if _shows(draft, made, region)]
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


def without_thorns(region: Region) -> MultiPolygon:
    """The outline without thin thorns that nothing shows of: they only came of restoring what was cut.

    A polygon that would fall apart is left as it is.
    """
    if region.restored_mm2 <= 0.0:
        return region.outline
    return MultiPolygon([_shorn(polygon, region.visible) for polygon in region.outline.geoms])


def _shorn(polygon: Polygon, visible: MultiPolygon) -> Polygon:
    """One polygon without its hidden thorns; corners that stay are as they were."""
    thin = shapely.get_parts(overlay.difference(polygon, opened(polygon, THORN_MM)))
    thorns = [
        piece
        for piece in thin
        if piece.area > LEAST_THORN_MM2 and overlay.intersection(piece, visible).area < HIDDEN_SHARE * piece.area
    ]
    if not thorns:
        return polygon
    rest = multipolygon(overlay.difference(polygon, overlay.union_all(thorns)), LEAST_THORN_MM2)
    return rest.geoms[0] if len(rest.geoms) == 1 else polygon


def _shows(draft: Draft, made: list[Draft], region: Region) -> bool:
    """Whether a part can be seen, its overlap at the joint apart, or is large enough to carry what lies on it."""
    if region.restored_mm2 <= 0.0 or draft.kind == "tatami" or draft.area.area > HIDDEN_MM2:
        return True
    others = overlay.union_all([other.area for other in made if other is not draft])
    return bool(overlay.intersection(overlay.difference(draft.area, others), region.visible).area > SEEN_MM2)


def _lettering(region: Region, outline: MultiPolygon, settings: SplitSettings, note: Note) -> None:
    """Say so if a region consists of small figures of fine strokes: letters that will not read well."""
    sizes = [max(x1 - x0, y1 - y0) for x0, y0, x1, y1 in (polygon.bounds for polygon in outline.geoms)]
    if not sizes or max(sizes) >= settings.letter_reads_from_mm:
        return
    figure = outline.geoms[sizes.index(max(sizes))]
    stroke = 2.0 * figure.area / figure.length
    if stroke >= settings.run_surely_below_mm or max(sizes) < LETTER_STROKES * stroke:
        return
    spot = figure.representative_point()
    message = (
        f"{region.element}: {max(sizes):.1f} mm large with strokes {stroke:.1f} mm wide; letters read well from"
        f" about {settings.letter_reads_from_mm:g} mm cap height on. Enlarge it or choose a plainer, bolder letter."
    )
    note(Finding("lettering-too-small", "note", message, region.id, (spot.x, spot.y)))


def _too_small(polygon: Polygon, settings: SplitSettings) -> bool:
    if polygon.area >= settings.least_area_mm2:
        return False
    return bool(overlay.buffer(polygon, -0.5 * settings.finest_line_mm).is_empty)


def _part(surface: Surface, number: int, draft: Draft) -> Part:
    region = surface.region
    return Part(
        id=f"{region.id}.{number}",
        region=region.id,
        kind=draft.kind,
        area=draft.area,
        width_mm=draft.widths,
        foundation=_within(surface.foundation, draft.area, region),
        bare=_within(surface.bare, draft.area, region),
        row_mm=surface.row_mm,
        why=_why(draft),
        angle_deg=surface.angle_deg if draft.kind == "tatami" else None,
        column=draft.column,
        lines=draft.lines,
    )


def _mended(draft: Draft) -> list[Draft]:
    """``draft`` made whole where its outline touches itself, as cutting and joining may leave it.

    A fill that falls apart there becomes several; of a column or lines, which are sewn whole, the largest piece
    is the face.
    """
    if draft.area.is_valid:
        return [draft]
    whole = multipolygon(overlay.buffer(multipolygon(draft.area), MEND_MM, quad_segs=1))
    pieces = sorted(whole.geoms, key=lambda piece: -piece.area)
    if not pieces:
        raise BrokenPromiseError(f"a piece of {draft.kind} with no area")
    kept = [piece for piece in pieces if piece.area > SPECK_MM2] if draft.kind == "tatami" else []
    return [replace(draft, area=piece) for piece in kept or pieces[:1]]


def _within(area: MultiPolygon, face: Polygon, region: Region) -> MultiPolygon:
    """The part of ``area`` in ``face``; all of it at once where ``area`` is the whole region."""
    if area.is_empty or area is region.outline or area.area >= region.outline.area - SAME_MM2:
        return multipolygon(face) if not area.is_empty else area
    return multipolygon(overlay.intersection(area, face))


def _why(draft: Draft) -> str:
    least, median, most = draft.widths
    if draft.fell_back:
        return f"{median:.1f} mm wide, but too uneven for satin: {draft.kind}"
    if draft.kind == "satin" and most - least > 0.5:
        return f"{least:.1f} to {most:.1f} mm wide: satin"
    return f"{median:.1f} mm wide: {draft.kind}"
