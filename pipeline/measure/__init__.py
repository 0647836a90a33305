"""Sewing → figures: counts, thread, time, price, and the plan's own inspection, from needle points alone."""

from pipeline.measure.coverage import Artwork, artwork, foundation_on_cover
from pipeline.measure.displacement import after_pull
from pipeline.measure.findings import inspection_findings
from pipeline.measure.gap import Gap, area_by_pair
from pipeline.measure.inspection import Inspection, examine, inspect
from pipeline.measure.reckoning import count, price, spools
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Stitches, stitches

__all__ = [
    "Artwork",
    "Gap",
    "Inspection",
    "MeasureSettings",
    "Stitches",
    "after_pull",
    "area_by_pair",
    "artwork",
    "count",
    "examine",
    "foundation_on_cover",
    "inspect",
    "inspection_findings",
    "price",
    "spools",
    "stitches",
]
