"""Many files: find them, convert each in a process of its own, and report what became of every one."""

from typing import TYPE_CHECKING

from pipeline.lazy import lazily

if TYPE_CHECKING:
    from pipeline.batch.convert import OutputError as OutputError, Progress as Progress, convert_all as convert_all
    from pipeline.batch.report import Report as Report

lazily(
    __name__,
    convert="OutputError Progress convert_all",
    report="Report",
)
