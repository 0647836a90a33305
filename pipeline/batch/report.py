"""What became of a batch."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.model import Plan
from pipeline.write.summary import Row


@dataclass(frozen=True)
class Report:
    """A row for every file, in the order of their names. It owns the exit status."""

    rows: tuple[Row, ...]

    @property
    def converted(self) -> int:
        """How many files have their results."""
        return sum(row.status == "converted" for row in self.rows)

    @property
    def failed(self) -> int:
        """How many files have none."""
        return len(self.rows) - self.converted

    @property
    def exit_status(self) -> int:
        """0 if every file was converted, otherwise 1 (2 is kept for a command used wrongly)."""
        return 1 if self.failed else 0


def converted_row(name: str, plan: Plan, seconds: float) -> Row:
    """The row of a file that has its results."""
    counts = plan.counts
    severities = [finding.severity for finding in plan.findings]
    return Row(
        name=name,
        status="converted",
        stitches=counts.stitches,
        colours=len(set(plan.sewing.colours)),
        colour_changes=counts.colour_changes,
        trims=counts.trims,
        width_mm=counts.width_mm,
        height_mm=counts.height_mm,
        minutes=counts.minutes,
        thread_m=counts.thread_m,
        price=plan.price.amount,
        findings=len(severities),
        warnings=severities.count("warning"),
        errors=severities.count("error"),
        seconds=seconds,
    )


def failed_row(name: str, reason: str, seconds: float = 0.0) -> Row:
    """The row of a file that has none."""
    return Row(name=spelled(name), status="failed", reason=spelled(reason), seconds=seconds)


def spelled(text: str) -> str:
    """``text`` as UTF-8 can hold it: names of files need not be."""
    return text.encode("utf-8", "replace").decode()
