"""A batch from paths to report."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from pipeline.batch.pool import Lost, Pool
from pipeline.batch.report import Report, failed_row
from pipeline.batch.search import find
from pipeline.batch.work import Convert, Task, perform, tidy
from pipeline.settings import Settings
from pipeline.write.gallery import write_gallery
from pipeline.write.summary import Row, write_summary


class OutputError(Exception):
    """The output folder cannot be used; the message is one sentence for the person who named it."""


@dataclass(frozen=True)
class Progress:
    """How far a batch is: files done, all files, and the names of those in work."""

    done: int
    total: int
    in_work: tuple[str, ...]


def convert_all(
    paths: Sequence[Path],
    out: Path,
    settings: Settings,
    workers: int = 1,
    width_mm: float | None = None,
    progress: Callable[[Progress], None] | None = None,
    twin: bool = False,
    convert: Convert | None = None,
) -> Report:
    """Convert every SVG file of ``paths`` (files, or folders searched recursively) into ``out``.

    Each file is converted in a child process, ``workers`` at a time, the largest first; one that crashes, hangs
    or takes too much memory is reported as failed. ``summary.csv``, ``summary.json`` and ``index.html`` are
    written last.
    ``twin`` is as for ``convert`` of one file; a ``convert`` of your own must be importable by name.

    Raises OutputError if ``out`` cannot be written.
    """
    _prepare(out)
    jobs = find(paths)
    tasks = [Task(job, out, settings, width_mm, twin, convert) for job in jobs if job.refusal is None]
    tasks.sort(key=lambda task: -task.size)
    pool: Pool[Task, Row] = Pool(perform, workers, settings.batch)
    refused = len(jobs) - len(tasks)

    def changed(done: int, in_work: tuple[int, ...]) -> None:
        if progress is not None:
            names = tuple(tasks[place].job.name.as_posix() for place in in_work)
            progress(Progress(refused + done, len(jobs), names))

    try:
        results = pool.run(tasks, changed)
    except BaseException:  # stopped by hand, or worse: leave nothing half-written behind
        for task in tasks:
            tidy(task)
        raise
    rows = {task.job: _row(task, result) for task, result in zip(tasks, results, strict=True)}
    report = Report(tuple(rows.get(job) or failed_row(job.name.as_posix(), job.refusal or "") for job in jobs))
    try:
        write_summary(report.rows, out)
        write_gallery(report.rows, out)
    except OSError as error:
        raise OutputError(f"The summary cannot be written into {out}: {error.strerror}.") from error
    return report


def _prepare(out: Path) -> None:
    """Make ``out`` and try it, before hours of work are spent for nothing."""
    try:
        out.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=out):
            pass
    except OSError as error:
        raise OutputError(f"The output folder {out} cannot be written: {error.strerror}.") from error


def _row(task: Task, result: Row | Lost) -> Row:
    if isinstance(result, Lost):
        tidy(task)
        result = failed_row(task.job.name.as_posix(), result.reason)
    if result.status == "failed" and task.has_results:
        return replace(result, reason=f"{result.reason} The results of an earlier run are still in {task.folder}.")
    return result
