"""Plan → files: plan, machine file, sewn picture, operator's sheet; for a batch its summary and gallery."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.write.comparison import (
        ComparisonSide as ComparisonSide,
        Opening as Opening,
        comparison_rows as comparison_rows,
        verdict as verdict,
        write_comparison as write_comparison,
    )
    from pipeline.write.files import write_files as write_files
    from pipeline.write.gallery import gallery_bytes as gallery_bytes, write_gallery as write_gallery
    from pipeline.write.machine import (
        MachineStitches as MachineStitches,
        machine_bytes as machine_bytes,
        read_machine_file as read_machine_file,
    )
    from pipeline.write.picture import picture_bytes as picture_bytes
    from pipeline.write.plan import plan_bytes as plan_bytes, plan_document as plan_document
    from pipeline.write.settings import WriteSettings as WriteSettings
    from pipeline.write.sheet import sheet_bytes as sheet_bytes
    from pipeline.write.summary import Row as Row, summary_json as summary_json, write_summary as write_summary
    from pipeline.write.trace import trace_svg as trace_svg
    from pipeline.write.whole import write_whole as write_whole

lazily(
    __name__,
    comparison="ComparisonSide Opening comparison_rows verdict write_comparison",
    files="write_files",
    gallery="gallery_bytes write_gallery",
    machine="MachineStitches machine_bytes read_machine_file",
    picture="picture_bytes",
    plan="plan_bytes plan_document",
    settings="WriteSettings",
    sheet="sheet_bytes",
    summary="Row summary_json write_summary",
    trace="trace_svg",
    whole="write_whole",
)
