"""Sewing → figures: counts, thread, time, price, and the plan's own inspection, from needle points alone."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.measure.coverage import (
        Artwork as Artwork,
        artwork as artwork,
        foundation_on_cover as foundation_on_cover,
    )
    from pipeline.measure.displacement import after_pull as after_pull
    from pipeline.measure.findings import inspection_findings as inspection_findings
    from pipeline.measure.gap import Gap as Gap, area_by_pair as area_by_pair
    from pipeline.measure.inspection import Inspection as Inspection, examine as examine, inspect as inspect
    from pipeline.measure.reckoning import count as count, price as price, spools as spools
    from pipeline.measure.settings import MeasureSettings as MeasureSettings
    from pipeline.measure.thread_path import Stitches as Stitches, stitches as stitches

lazily(
    __name__,
    coverage="Artwork artwork foundation_on_cover",
    displacement="after_pull",
    findings="inspection_findings",
    gap="Gap area_by_pair",
    inspection="Inspection examine inspect",
    reckoning="count price spools",
    settings="MeasureSettings",
    thread_path="Stitches stitches",
)
