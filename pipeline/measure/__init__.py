"""Sewing → figures: counts, thread, time, price, and the plan's own inspection, from needle points alone."""

from pipeline.measure.coverage import foundation_on_cover
from pipeline.measure.findings import inspection_findings
from pipeline.measure.inspection import Inspection, examine, inspect
from pipeline.measure.reckoning import Price, count, price, spools
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import Stitches, stitches

__all__ = [
    "Inspection",
    "MeasureSettings",
    "Price",
    "Stitches",
    "count",
    "examine",
    "foundation_on_cover",
    "inspect",
    "inspection_findings",
    "price",
    "spools",
    "stitches",
]
