"""A plan's own inspection: what its needle points alone would look like."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipeline.craft import Craft
from pipeline.measure.coverage import Artwork, Sight, artwork, probes, share, sight, thread_outside
from pipeline.measure.gap import Gap, gaps, largest_gaps
from pipeline.measure.nearness import Mask
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thickness import Map, layers, penetrations
from pipeline.measure.thread_path import Path, path
from pipeline.model import Checks, Points, Region, Sewing


@dataclass(frozen=True, eq=False)
class Inspection:
    """The figures, and the maps and places behind them.

    ``open`` are the cells where fabric shows after pull and push, ``gaps`` its largest pieces, ``outside``
    places of thread beyond the artwork.
    """

    checks: Checks
    art: Artwork
    table: Path
    sight: Sight
    open: Mask
    gaps: tuple[Gap, ...]
    layers: Map
    penetrations: Map
    outside: Points


def examine(
    sewing: Sewing,
    regions: tuple[Region, ...],
    craft: Craft,
    settings: MeasureSettings,
    art: Artwork | None = None,
) -> Inspection:
    """Look at ``sewing`` as it would lie over the artwork that ``regions`` show.

    ``art`` is the ``artwork`` of the same regions and settings, if it was made already.
    """
    table = path(sewing)
    art = art or artwork(regions, settings)
    tried = probes(table.segments[table.lies])
    seen = sight(table, sewing.colours, art, tried, craft.thread_mm, settings)
    beyond, every, outside = thread_outside(table, art, tried, settings)
    open_ = gaps(table, art, craft, settings)
    pieces = largest_gaps(open_, art)
    thick, pierced = layers(tried, craft.layer_mm_per_mm2, settings), penetrations(table)
    checks = Checks(
        picture_agreement=share(seen.agrees, art.judged),
        covered=share(seen.covered, art.shown),
        outside=beyond / every if every else 0.0,
        gap_mm2=float(np.count_nonzero(open_)) * art.grid.cell_mm2,
        peak_layers=thick.peak,
        peak_penetrations_per_mm2=pierced.peak,
        stitches=len(table.points),
        longest_gap_mm=max((piece.length_mm for piece in pieces), default=0.0),
        thick_mm2=thick.area_over(settings.most_layers),
        pierced_mm2=pierced.area_over(settings.most_penetrations),
    )
    return Inspection(checks, art, table, seen, open_, pieces, thick, pierced, outside)
