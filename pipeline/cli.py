"""The command line: the only module that knows click or prints."""

from __future__ import annotations

import os
import shutil
import sys
from math import isfinite
from pathlib import Path

import click

from pipeline import batch
from pipeline import settings as known
from pipeline.errors import SettingsError
from pipeline.write import Row
from pipeline.write.summary import summary_json


def _finite(context: click.Context, parameter: click.Parameter, value: float | None) -> float | None:
    """Refuse what counts as a number and is none."""
    if value is not None and not isfinite(value):
        raise click.BadParameter(f"{value} is no width.", context, parameter)
    return value


@click.group()
@click.version_option(package_name="plystitch")
def main() -> None:
    """Convert layered SVG artwork into embroidery stitch plans and machine files."""


@main.command()
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option(
    "--out",
    metavar="DIR",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the results.",
)
@click.option(
    "--settings",
    "settings_file",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="TOML file with settings; 'plystitch settings' lists them all.",
)
@click.option(
    "--width",
    "width_mm",
    metavar="MM",
    type=click.FloatRange(min=0.0, max=2000.0, min_open=True),
    callback=_finite,
    help="Width to sew the artwork's viewport at. As the file says if left out.",
)
@click.option(
    "--workers",
    metavar="N",
    type=click.IntRange(min=1, max=512),
    help="Files to convert at once. One a processor core if left out.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def convert(
    paths: tuple[Path, ...],
    out: Path,
    settings_file: Path | None,
    width_mm: float | None,
    workers: int | None,
    as_json: bool,
) -> None:
    """Convert SVG files into DIR. PATH is a file, or a folder to search for *.svg and *.svgz.

    For every file DIR receives the stitch plan, the machine file, a picture and the operator's sheet; for all
    of them a summary and a gallery (index.html).

    Exit status: 0 if all files were converted, 1 if one failed (the others are still written), 2 if the command was
    used wrongly.
    """
    try:
        settings = known.load(settings_file)
    except SettingsError as error:
        raise click.UsageError(str(error)) from error
    meter = _Meter()
    try:
        report = batch.convert_all(paths, out, settings, workers or _cores(), width_mm, meter.show)
    except batch.OutputError as error:
        raise click.UsageError(str(error)) from error
    finally:
        meter.clear()
    for row in report.rows:
        if row.status == "failed":
            click.echo(f"{row.name}: {row.reason}", err=True)
    click.echo(_as_json(report) if as_json else _as_table(report))
    sys.exit(report.exit_status)


@main.command("settings")
def settings_() -> None:
    """List every setting: key, default, allowed range, unit and meaning."""
    rows = [
        (each.key, _plain(each.default), _allowed(each.low, each.high), each.unit, each.meaning)
        for each in known.describe()
    ]
    click.echo(_columns([("setting", "default", "allowed", "unit", "meaning"), *rows]))


def _cores() -> int:
    """The processor cores that this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


class _Meter:
    """Progress on stderr: on a terminal a bar on one line, with the files in work; in a log a line now and then."""

    WIDTH = 24
    LOG_LINES = 20

    def __init__(self) -> None:
        self._live = sys.stderr.isatty()
        self._logged = 0

    def show(self, progress: batch.Progress) -> None:
        """Draw ``progress``."""
        total = max(1, progress.total)
        text = f"{progress.done}/{progress.total}  {', '.join(progress.in_work)}"
        text = "".join(letter if letter.isprintable() else "?" for letter in text)
        if self._live:
            filled = self.WIDTH * progress.done // total
            bar = f"[{'#' * filled}{'-' * (self.WIDTH - filled)}] {text}"
            click.echo(f"\r\x1b[K{bar[: shutil.get_terminal_size().columns - 1]}", nl=False, err=True)
        elif progress.done * self.LOG_LINES // total > self._logged:
            self._logged = progress.done * self.LOG_LINES // total
            click.echo(text.rstrip(), err=True)

    def clear(self) -> None:
        """Leave the line empty for what comes next."""
        if self._live:
            click.echo("\r\x1b[K", nl=False, err=True)


def _as_json(report: batch.Report) -> str:
    return summary_json(report.rows).decode().rstrip("\n")


def _as_table(report: batch.Report) -> str:
    head = ("file", "status", "stitches", "colours", "size mm", "minutes", "thread m", "findings")
    table = _columns([head, *(_cells(row) for row in report.rows)])
    return f"{table}\n\n{report.converted} converted, {report.failed} failed"


def _cells(row: Row) -> tuple[str, ...]:
    if row.status == "failed":
        return (row.name, row.status, "", "", "", "", "", "")
    return (
        row.name,
        row.status,
        str(row.stitches),
        str(row.colours),
        f"{row.width_mm:.1f} × {row.height_mm:.1f}",
        f"{row.minutes:.1f}",
        f"{row.thread_m:.1f}",
        str(row.findings),
    )


def _columns(rows: list[tuple[str, ...]]) -> str:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


def _plain(value: object) -> str:
    return str(value).lower() if isinstance(value, bool) else str(value)


def _allowed(low: float | None, high: float | None) -> str:
    return "" if low is None or high is None else f"{low:g} to {high:g}"
