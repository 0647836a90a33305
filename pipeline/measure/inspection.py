"""A plan's own inspection: what its needle points alone would look like."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.measure.coverage import Artwork, Mask, Sight, artwork, share, sight, thread_outside
from pipeline.measure.gap import gaps
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thickness import Peak, peak_layers, peak_penetrations
from pipeline.measure.thread_path import path
from pipeline.model import Checks, Fabric, Region, Sewing, Thread


@dataclass(frozen=True, eq=False)
class Inspection:
    """The figures, and the maps and places behind them."""

    checks: Checks
    art: Artwork
    sight: Sight
    gaps: Mask
    layers: Peak
    penetrations: Peak


def examine(
    sewing: Sewing, regions: tuple[Region, ...], thread: Thread, fabric: Fabric, settings: MeasureSettings
) -> Inspection:
    """Look at ``sewing`` as it would lie over the artwork that ``regions`` show."""
    table = path(sewing)
    art = artwork(regions, table, settings)
    seen = sight(table, sewing.colours, art, thread.laid_mm, settings)
    beyond, every = thread_outside(table, art, settings)
    open_ = gaps(table, art, thread, fabric, settings)
    layers, penetrations = peak_layers(table, settings), peak_penetrations(table)
    checks = Checks(
        picture_agreement=share(seen.agrees, art.judged),
        covered=share(seen.covered, art.shown),
        outside=beyond / every if every else 0.0,
        gap_mm2=float(open_.sum()) * art.grid.cell_mm2,
        peak_layers=layers.value,
        peak_penetrations_per_mm2=penetrations.value,
        stitches=len(table.points),
    )
    return Inspection(checks, art, seen, open_, layers, penetrations)


def inspect(
    sewing: Sewing, regions: tuple[Region, ...], thread: Thread, fabric: Fabric, settings: MeasureSettings
) -> Checks:
    """The figures of ``examine`` alone."""
    return examine(sewing, regions, thread, fabric, settings).checks
