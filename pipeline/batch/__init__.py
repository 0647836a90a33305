"""Many files: find them, convert each in a process of its own, and report what became of every one."""

from pipeline.batch.convert import OutputError, Progress, convert_all
from pipeline.batch.report import Report

__all__ = ["OutputError", "Progress", "Report", "convert_all"]
