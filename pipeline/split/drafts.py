"""Pieces of one polygon with the way each is sewn, before they become parts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import LineString, MultiPolygon, Polygon

from pipeline.geometry import overlay
from pipeline.geometry.medial import PIN_HOLE_MM2, Axis, medial_axis
from pipeline.geometry.polygon import holding, opened
from pipeline.geometry.polyline import Array
from pipeline.model import Column, Line
from pipeline.split.column import Chord, closed_column, lump_column, open_column, swept_column
from pipeline.split.groups import Group, Layout, chain, cut, gathered, share
from pipeline.split.halving import halve, open_loop
from pipeline.split.joints import reaching, strip
from pipeline.split.lines import as_line, prolonged, smooth
from pipeline.split.patches import bare_of, patched, reach
from pipeline.split.plain import Draft, compact, run_kind, spacing, wholly_wide, without_pinholes
from pipeline.split.settings import SplitSettings
from pipeline.split.stretches import SATIN, TATAMI, Stretch, stretches

QUARTER = np.array([[0.0, 1.0], [-1.0, 0.0]])
"""Turns a row vector (x, y) to (-y, x), from the way across to the way along."""

TRIES = 3
"""How many times a column that fails its own check is cut in two before it falls back to another kind."""

PATCHY_MM = 3.0
"""A column at least this wide is tatami as a whole if one half of it fails; narrower keeps a good half."""

DOT = 0.4
"""A shape too small for a letter is a dot if it fills this share of a square about it."""

LENIENT = 1.15
"""Before a column becomes tatami because a half of it fails, it may be wider than satin by this factor."""

BARE = 0.12, 0.14, 0.1
"""A run is checked: it is a lump if it leaves more than this share of its area bare, and there, where discs of this
radius (mm) have room, more than so many mm²."""

SLIVER = 2.0, 1.5, 0.15
"""A run of up to so many mm² that widens to this many times its median width is a wedge and no line: it is a lump
if thread as wide as it lies leaves this share of it bare."""

LUMP_WIDTHS = 6.0
"""A face of less than so many squares of its width is tried as a lump before it is cut in two."""

TAPER = 12.0
"""A centreline runs on straight from where its axis ends for at most so many of its radii there: into tapers."""

LIMB_MM, FINE_MM = (0.6, 0.45), 0.45
"""Limbs that stand out less are no limbs (first); the second holds for shapes of a mean width below ``FINE_MM``,
where one stitch out and back shows."""


def drafts(polygon: Polygon, settings: SplitSettings) -> list[Draft]:
    """The pieces of ``polygon``, in the order in which its axis was walked."""
    polygon = without_pinholes(polygon)
    if wholly_wide(polygon, settings):
        width = 2.0 * shapely.maximum_inscribed_circle(polygon, 0.5).length
        return [Draft("tatami", polygon, (settings.satin_up_to_mm, width, width))]
    x0, y0, x1, y1 = polygon.bounds
    size = max(x1 - x0, y1 - y0)
    if size < settings.smallest_letter_mm and polygon.area > DOT * size * size and not _open(polygon):
        return [compact(polygon, settings)]
    axis = medial_axis(polygon, spacing(polygon), LIMB_MM[1] if _fine(polygon) else LIMB_MM[0])
    found = stretches(axis, settings)
    if not found:
        return [compact(polygon, settings)]
    layout = gathered(axis, found, settings)
    for group in tuple(layout.groups):
        open_loop(group, layout, axis)
    cut(axis, layout)
    made = []
    for group in list(layout.groups):
        made.extend(_piece(axis, group, layout, settings))
    return _merged(made)


def _fine(polygon: Polygon) -> bool:
    """Whether the mean width of ``polygon`` is that of a single run."""
    return bool(2.0 * polygon.area < FINE_MM * polygon.length)


def _open(polygon: Polygon) -> bool:
    """Whether a hole in ``polygon`` is to be seen: then it is a ring, however small."""
    return any(Polygon(hole).area > PIN_HOLE_MM2 for hole in polygon.interiors)


def _merged(made: list[Draft]) -> list[Draft]:
    """Tatami pieces that touch along a line as one: a column that fell back goes with the core beside it."""
    fills = [draft for draft in made if draft.kind == "tatami"]
    if len(fills) < 2:
        return made
    union = overlay.union_all([draft.area for draft in fills])
    wholes = [p for p in shapely.get_parts(union) if isinstance(p, Polygon)]
    inside = [[d for d in fills if whole.covers(d.area.representative_point())] for whole in wholes]
    merged = []
    for whole, those in zip(wholes, inside, strict=True):
        least, most = min(d.widths[0] for d in those), max(d.widths[2] for d in those)
        largest = max(those, key=lambda d: d.area.area)
        fell_back = all(d.fell_back for d in those)
        merged.append(Draft("tatami", whole, (least, largest.widths[1], most), fell_back=fell_back))
    return [draft for draft in made if draft.kind != "tatami"] + merged


def _piece(axis: Axis, group: Group, layout: Layout, settings: SplitSettings, tries: int = TRIES) -> list[Draft]:
    face = group.face
    if face is None:
        return []
    if not group.members:
        return [compact(face, settings)]
    widths = _widths(group)
    if group.sort == TATAMI:
        return [Draft("tatami", face, widths)]
    if group.sort == SATIN:
        return _satin(axis, group, face, layout, widths, settings, tries)
    return patched(_run(axis, group, face, layout, widths, settings), settings)


def _widths(group: Group) -> tuple[float, float, float]:
    every = np.concatenate([stretch.widths for stretch in group.members])
    return (float(every.min()), float(np.median(every)), float(every.max()))


@dataclass(frozen=True, eq=False)
class End:
    """One end of a chain of stretches: its cross-section (left, right as walked), and what lies there."""

    chord: Chord
    free: bool
    child: bool


def _end(axis: Axis, layout: Layout, stretch: Stretch, at_end: bool, outward: bool) -> End:
    """The end of ``stretch``; ``outward`` if a walk along the chain goes with the branch's own direction there."""
    name = (id(stretch), at_end)
    left, right = axis.samples[list(layout.chords.get(name, stretch.chord(at_end)))]
    return End((left, right) if outward else (right, left), name not in layout.chords, name in layout.under)


def _satin(
    axis: Axis,
    group: Group,
    face: Polygon,
    layout: Layout,
    widths: tuple[float, float, float],
    settings: SplitSettings,
    tries: int,
) -> list[Draft]:
    walk = chain(group, layout)
    if walk is not None:
        ends = _ends(axis, layout, walk)
        column = _column(face, walk, ends, layout, settings)
        if column is not None:
            return [_reaching(axis, face, column, ends, widths, settings)]
        if face.area < LUMP_WIDTHS * widths[1] ** 2:
            area = _with_strips(axis, group, face, layout, settings)
            column = lump_column(area, settings)
            if column is not None:
                return [Draft("satin", area, widths, column)]
        halves = _halves(axis, group, face, layout, settings, tries) if tries else []
        if halves and (widths[1] < PATCHY_MM or not any(draft.fell_back for draft in halves)):
            return halves
        if halves:
            return [_patchy(axis, face, halves, ends, widths, settings)]
    area = _with_strips(axis, group, face, layout, settings)
    column = lump_column(area, settings)
    if column is not None:
        return [Draft("satin", area, widths, column)]
    if widths[1] >= settings.tatami_from_mm:
        return [Draft("tatami", area, widths, fell_back=True)]
    return patched(_run(axis, group, face, layout, widths, settings, True), settings)


Chain = list[tuple[Stretch, bool]]


def _ends(axis: Axis, layout: Layout, walk: Chain) -> tuple[End, End]:
    """Where a walk along a chain of stretches starts and ends."""
    (first, forwards), (last, onwards) = walk[0], walk[-1]
    return _end(axis, layout, first, not forwards, forwards), _end(axis, layout, last, onwards, onwards)


def _column(
    face: Polygon, walk: Chain, ends: tuple[End, End], layout: Layout, settings: SplitSettings
) -> Column | None:
    """The column of a face along its axis, else of parallel cross-sections where an end is free."""
    first, forwards = walk[0]
    start, end = ends
    if (id(first), not forwards) in layout.joined or (first.branch.closed and first.start is None):
        column = closed_column(face, settings)
    else:
        column = open_column(face, start.chord, end.chord, (start.free, end.free), settings)
    if column is None and (start.free or end.free):
        across = end.chord if start.free else start.chord
        column = swept_column(face, (across[0] - across[1]) @ QUARTER, settings)
    return column


def _reaching(
    axis: Axis,
    face: Polygon,
    column: Column,
    ends: tuple[End, End],
    widths: tuple[float, float, float],
    settings: SplitSettings,
) -> Draft:
    """The column with its overlaps, as a piece."""
    area, column = reaching(column, face, axis.windows, (ends[0].child, ends[1].child), settings.overlap_mm)
    return Draft("satin", area, widths, column)


def _halves(
    axis: Axis, group: Group, face: Polygon, layout: Layout, settings: SplitSettings, tries: int
) -> list[Draft]:
    """The pieces of a group that is cut once more; none if it is too short."""
    cuts = len(layout.cuts)
    second = halve(group, _longest(group), layout, axis)
    if second is group:
        second = halve(group, _longest(group), layout, axis)
    if second is None:
        return []
    apart = share(axis, layout, face, [group, second], layout.cuts[cuts:])
    return [draft for half in (group, second, *apart) for draft in _piece(axis, half, layout, settings, tries - 1)]


def _patchy(
    axis: Axis,
    face: Polygon,
    halves: list[Draft],
    ends: tuple[End, End],
    widths: tuple[float, float, float],
    settings: SplitSettings,
) -> Draft:
    """A wide face of which a half failed: satin a little wider than allowed if that covers it, else tatami."""
    start, end = ends
    wider = replace(settings, satin_up_to_mm=LENIENT * settings.satin_up_to_mm)
    column = open_column(face, start.chord, end.chord, (start.free, end.free), wider)
    if column is not None:
        return _reaching(axis, face, column, ends, widths, settings)
    return Draft("tatami", _grown(face, halves), widths, fell_back=True)


def _longest(group: Group) -> Stretch:
    return max(group.members, key=lambda member: len(member.widths))


def _grown(face: Polygon, halves: list[Draft]) -> Polygon:
    """``face`` with the overlaps that its halves have with others."""
    return holding(overlay.union_all([face, *(half.area for half in halves)]), face)


def _with_strips(axis: Axis, group: Group, face: Polygon, layout: Layout, settings: SplitSettings) -> Polygon:
    area = face
    for stretch in group.members:
        for at_end in (False, True):
            if (id(stretch), at_end) in layout.joined:
                continue
            end = _end(axis, layout, stretch, at_end, at_end)
            if end.child:
                area = strip(area, end.chord, axis.windows, settings.overlap_mm)
    return area


def _run(
    axis: Axis,
    group: Group,
    face: Polygon,
    layout: Layout,
    widths: tuple[float, float, float],
    settings: SplitSettings,
    fell_back: bool = False,
) -> Draft:
    lines = []
    for stretch in group.members:
        left = axis.samples[stretch.branch.left[stretch.first : stretch.last]]
        right = axis.samples[stretch.branch.right[stretch.first : stretch.last]]
        middle = 0.5 * (left + right)
        if stretch.branch.closed and stretch.start is None and stretch.end is None:
            lines.append(as_line(smooth(middle, True), True))
            continue
        before = _node(layout, stretch.start, group)
        after = _node(layout, stretch.end, group)
        middle = np.vstack([*before, middle, *after])
        line = smooth(middle)
        if not len(after):
            line = _onwards(axis, layout, stretch, True, line, settings)
        if not len(before):
            line = _onwards(axis, layout, stretch, False, line[::-1], settings)[::-1]
        if len(line) > 1:
            lines.append(as_line(line))
    if not lines:
        return compact(face, settings)
    over = [overlay.buffer(LineString(line.points), 0.5 * max(widths[1], 0.05), cap_style="flat") for line in lines]
    area = overlay.union_all([face, *over])
    area = holding(overlay.intersection(area, axis.windows.around(area.bounds)), face)
    if _leaves_bare(area, lines, widths, settings):
        column = lump_column(area, settings)
        if column is not None:
            return Draft("satin", area, widths, column)
        if not opened(area, 0.5 * settings.tatami_from_mm).is_empty:
            return Draft("tatami", area, widths, fell_back=True)
    return Draft(run_kind(widths[1], settings), area, widths, lines=tuple(lines), fell_back=fell_back)


def _leaves_bare(
    area: Polygon, lines: list[Line], widths: tuple[float, float, float], settings: SplitSettings
) -> bool:
    """Whether runs along ``lines`` leave too much of ``area`` bare for a line."""
    bare = bare_of(area, lines, reach(widths, settings))
    if bare.area > BARE[0] * area.area and opened(bare, BARE[1]).area > BARE[2]:
        return True
    if area.area > SLIVER[0] or widths[2] < SLIVER[1] * widths[1]:
        return False
    bare = bare_of(area, lines, settings.run_reach_mm)
    return bool(bare.area > SLIVER[2] * area.area)


def _node(layout: Layout, end: Stretch | int | None, group: Group) -> list[Array]:
    if isinstance(end, int) and layout.cluster[end] in group.junctions:
        return [layout.spots[layout.cluster[end]]]
    return []


def _onwards(
    axis: Axis, layout: Layout, stretch: Stretch, at_end: bool, line: Array, settings: SplitSettings
) -> Array:
    """``line`` moved on at its last point: to the end of the shape, or into its neighbour."""
    end = _end(axis, layout, stretch, at_end, at_end)
    radius = float(stretch.branch.radii[-1 if at_end else 0])
    if len(line) < 2:
        return line
    return prolonged(
        line, axis.windows, TAPER * radius + 0.3 if end.free else settings.overlap_mm if end.child else 0.1
    )


def whole(outline: MultiPolygon) -> list[Polygon]:
    """The polygons of an outline in order of place."""
    return sorted(outline.geoms, key=lambda p: (round(p.bounds[1], 6), round(p.bounds[0], 6), p.area))
