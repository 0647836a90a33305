"""Plan → files: plan, machine file, sewn picture, operator's sheet; for a batch its summary and gallery."""

from pipeline.write.comparison import Opening, comparison_rows, verdict, write_comparison
from pipeline.write.comparison import Side as ComparisonSide
from pipeline.write.files import write_files, write_whole
from pipeline.write.gallery import gallery_bytes, write_gallery
from pipeline.write.machine import MachineStitches, machine_bytes, read_machine_file
from pipeline.write.picture import picture_bytes
from pipeline.write.plan import plan_bytes, plan_document
from pipeline.write.settings import WriteSettings
from pipeline.write.sheet import sheet_bytes
from pipeline.write.summary import Row, write_summary
from pipeline.write.trace import trace_svg

__all__ = [
    "ComparisonSide",
    "MachineStitches",
    "Opening",
    "Row",
    "WriteSettings",
    "comparison_rows",
    "gallery_bytes",
    "machine_bytes",
    "picture_bytes",
    "plan_bytes",
    "plan_document",
    "read_machine_file",
    "sheet_bytes",
    "trace_svg",
    "verdict",
    "write_comparison",
    "write_files",
    "write_gallery",
    "write_summary",
    "write_whole",
]
