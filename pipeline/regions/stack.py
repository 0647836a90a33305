"""The stack of regions, as a visible list of small passes."""

from __future__ import annotations

from dataclasses import replace

import shapely

from pipeline.errors import ArtworkError
from pipeline.geometry.polygon import NOTHING, multipolygon
from pipeline.losses import each, leaving_out, left_out
from pipeline.model import Drawing, Finding, Note, Region, Shape
from pipeline.regions.joins import join
from pipeline.regions.merge import merged
from pipeline.regions.restore import restored
from pipeline.regions.settings import RegionSettings
from pipeline.regions.settle import settled
from pipeline.regions.sight import visible


def stack(drawing: Drawing, settings: RegionSettings, note: Note) -> tuple[Region, ...]:
    """The drawing's regions, bottom first.

    Hidden shapes are left out with a note, touching shapes of one colour merged where nothing lies between
    them, filled cut-outs closed, and the lower of two abutting regions reaches under the upper. The picture
    that the artwork shows stays the same. A shape that cannot be worked on is left out with a finding.

    Raises:
        ArtworkError: nothing of the drawing shows.
    """
    named = tuple((f"r{z + 1}", shape) for z, shape in enumerate(drawing.shapes))
    return leaving_out(
        named,
        lambda pair: pair[0],
        lambda kept, tell: _stacked(tuple(kept), settings, tell),
        note,
        lambda pair, fault: left_out(pair[1].element, None, pair[1].area, fault),
    )


def _stacked(shapes: tuple[tuple[str, Shape], ...], settings: RegionSettings, note: Note) -> tuple[Region, ...]:
    """``stack``, all shapes at once."""
    names = [name for name, _ in shapes]
    regions = merged(tuple(each(names, range(len(shapes)), lambda z: _region(z, *shapes[z]))))
    if settings.restore:
        regions = restored(regions, settings)
    regions = _shown(regions, settings, note)
    if not regions:
        raise ArtworkError("nothing is painted that could be sewn: draw at least one filled or stroked shape")
    return _numbered(join(settled(regions, settings), settings))


def _region(z: int, name: str, shape: Shape) -> Region:
    area = multipolygon(shape.area)
    return Region(name, shape.element, shape.label, z, shape.colour, area, NOTHING, 0.0, shape.stroke)


def cut_out(regions: tuple[Region, ...]) -> tuple[Region, ...]:
    """The same stack with every region cut down to what shows: the puzzle-fashion plan, for comparison."""
    return tuple(replace(region, outline=region.visible, restored_mm2=0.0) for region in regions)


def _shown(regions: tuple[Region, ...], settings: RegionSettings, note: Note) -> tuple[Region, ...]:
    """The regions of which something shows, with what shows of them."""
    kept = []
    for region, seen in zip(regions, visible(regions), strict=True):
        if seen.area >= settings.least_visible_mm2:
            kept.append(replace(region, visible=seen))
        else:
            at = shapely.point_on_surface(region.outline)
            message = f"{region.element} lies hidden beneath later shapes and is not sewn; delete it if left over"
            note(Finding("hidden-shape", "note", message, None, (at.x, at.y)))
    return tuple(kept)


def _numbered(regions: tuple[Region, ...]) -> tuple[Region, ...]:
    return tuple(replace(region, id=f"r{z + 1}", z=z) for z, region in enumerate(regions))
