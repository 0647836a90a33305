"""The command line: the only module that knows click or prints."""

from __future__ import annotations

import json
import os
import shutil
import sys
from math import isfinite, nan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from pipeline.errors import ArtworkError, BrokenPromiseError, SettingsError

if TYPE_CHECKING:  # loaded where they are needed: help comes at once
    from pipeline.batch.convert import Progress
    from pipeline.batch.report import Report
    from pipeline.settings import Settings
    from pipeline.write.summary import Row

MOST_WIDTH_MM = 2000.0


def _width(context: click.Context, parameter: click.Parameter, written: str | None) -> float | None:
    """The number of mm; what is none, or out of range, is refused with how to write it."""
    if written is None:
        return None
    try:
        width = float(written)
    except ValueError:
        width = nan
    if not isfinite(width):
        raise click.BadParameter(
            f"{written!r} is not a width; write a plain number of mm, such as 90.5.", context, parameter
        )
    if not 0.0 < width <= MOST_WIDTH_MM:
        raise click.BadParameter(f"{written} mm; allowed: over 0 to {MOST_WIDTH_MM:g} mm.", context, parameter)
    return width


GRAVITY = ("note", "warning", "error")
"""Severities of findings, from the least grave on."""

SEVERITIES = ("errors", "warnings", "notes")
"""Columns that count them, the gravest first."""

settings_option = click.option(
    "--settings",
    "settings_file",
    metavar="FILE",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="TOML file with settings; 'plystitch settings' lists them all.",
)
width_option = click.option(
    "--width",
    "width_mm",
    metavar="MM",
    callback=_width,
    help="Width to sew the artwork's viewport at, up to 2000 mm. As the file says if left out.",
)


def _shown(text: str, kept: str = "") -> str:
    """``text`` without letters that a terminal obeys: those stand as JSON would write them, but for ``kept``."""
    return "".join(each if each.isprintable() or each in kept else json.dumps(each)[1:-1] for each in text)


class _Command(click.Group):
    """The command, whose complaints show no letter raw that a terminal would obey."""

    def main(self, *args: Any, standalone_mode: bool = True, **extra: Any) -> Any:
        """As click has it, but for how complaints are shown."""
        run: Any = super().main
        if not standalone_mode:
            return run(*args, standalone_mode=False, **extra)
        try:
            sys.exit(run(*args, standalone_mode=False, **extra))
        except click.ClickException as error:
            message = _shown(error.format_message(), "\n")
            error.format_message = lambda: message  # type: ignore[method-assign]
            error.show()
            sys.exit(error.exit_code)
        except click.Abort:
            click.echo("Aborted!", err=True)
            sys.exit(1)


@click.group(cls=_Command)
@click.version_option(package_name="plystitch")
def main() -> None:
    """Convert layered SVG artwork into embroidery stitch plans and machine files."""


def _settings(file: Path | None) -> Settings:
    """The settings of a file, or the defaults."""
    from pipeline.settings import load

    try:
        return load(file)
    except SettingsError as error:
        raise click.UsageError(str(error)) from error


@main.command()
@click.argument("paths", metavar="PATH...", nargs=-1, required=True, type=click.Path(exists=True, path_type=Path))
@click.option(
    "--out",
    metavar="DIR",
    required=True,
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for the results.",
)
@settings_option
@width_option
@click.option(
    "--workers",
    metavar="N",
    type=click.IntRange(min=1, max=512),
    help="Files to convert at once. One a processor core if left out.",
)
@click.option(
    "--refuse",
    "refused",
    type=click.Choice(GRAVITY),
    help="Exit with status 1 also if a plan has a finding of this severity or a graver one.",
)
@click.option("--twin", is_flag=True, help="Sew each design cut out puzzle-fashion as well, to compare figures.")
@click.option("--json", "as_json", is_flag=True, help="Print the results as JSON.")
def convert(
    paths: tuple[Path, ...],
    out: Path,
    settings_file: Path | None,
    width_mm: float | None,
    workers: int | None,
    twin: bool,
    refused: str | None,
    as_json: bool,
) -> None:
    """Convert SVG files into DIR. PATH is a file, or a folder to search for *.svg and *.svgz.

    For every file DIR receives the stitch plan, the machine file, a picture and the operator's sheet; for all
    of them a summary and a gallery (index.html).

    Exit status: 0 if all files were converted, 1 if one failed (the others are still written) or has findings that
    --refuse names, 2 if the command was used wrongly.
    """
    from pipeline.batch.convert import OutputError, convert_all
    from pipeline.write.summary import summary_json

    settings = _settings(settings_file)
    meter = _Meter()
    try:
        report = convert_all(paths, out, settings, workers or _cores(), width_mm, meter.show, twin)
    except OutputError as error:
        raise click.UsageError(str(error)) from error
    except KeyboardInterrupt:
        meter.clear()
        left = f"Stopped. The files converted so far are whole, in {_shown(str(out))}; no summary is written."
        click.echo(left, err=True)
        sys.exit(1)
    finally:
        meter.clear()
    for row in report.rows:
        if row.status == "failed":
            click.echo(f"{_shown(row.name)}: {_shown(row.reason)}", err=True)
    grave = [(row.name, _refused(row, refused)) for row in report.rows]
    for name, count in grave:
        if count:
            told = f"{count} finding{'s' if count > 1 else ''} of severity {refused} or graver."
            click.echo(f"{_shown(name)}: {told}", err=True)
    click.echo(_shown(summary_json(report.rows).decode().rstrip("\n"), "\n") if as_json else _as_table(report))
    sys.exit(1 if any(count for _, count in grave) else report.exit_status)


@main.command()
@click.argument("file", metavar="FILE", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "--out",
    metavar="DIR",
    type=click.Path(file_okay=False, path_type=Path),
    help="Folder for a picture and a page of both side by side. Only figures are printed if left out.",
)
@settings_option
@width_option
def compare(file: Path, out: Path | None, settings_file: Path | None, width_mm: float | None) -> None:
    """Sew FILE in layers and, by the same engine, cut out puzzle-fashion, and hold both side by side.

    Prints stitches, gaps after pull, thickness and the rest; DIR receives NAME.compare.png and NAME.compare.html.
    """
    from pipeline import flow  # these two load geometry, which a batch's own process does without
    from pipeline.write.comparison import comparison_rows, verdict, write_comparison

    settings = _settings(settings_file)
    try:
        layered, cut_out = flow.compare(file, settings, width_mm)
    except (ArtworkError, BrokenPromiseError) as error:
        click.echo(f"{_shown(file.name)}: {_shown(str(error))}", err=True)
        sys.exit(1)
    click.echo(_columns([("figure", "in layers", "cut out"), *comparison_rows(layered, cut_out)]))
    click.echo(f"\n{verdict(layered, cut_out)}")
    if out is not None:
        try:
            write_comparison(layered, cut_out, out, file.stem, settings.write)
        except OSError as error:
            raise click.UsageError(f"The output folder {out} cannot be written: {error.strerror}.") from error


def _refused(row: Row, severity: str | None) -> int:
    """How many findings of a file are of ``severity`` or graver."""
    return {"error": row.errors, "warning": row.errors + row.warnings, "note": row.findings}.get(severity or "", 0)


@main.command("settings")
def settings_() -> None:
    """List every setting: key, default, allowed range, unit and meaning."""
    from pipeline.settings import describe

    rows = []
    for each in describe():
        default = str(each.default).lower() if isinstance(each.default, bool) else str(each.default)
        allowed = "" if each.low is None or each.high is None else f"{each.low:g} to {each.high:g}"
        rows.append((each.key, default, allowed, each.unit, each.meaning))
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

    def show(self, progress: Progress) -> None:
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


def _as_table(report: Report) -> str:
    head = ("file", "status", "stitches", "colours", "size mm", "minutes", "thread m", *SEVERITIES)
    table = _columns([head, *(_cells(row) for row in report.rows)])
    told = f"{table}\n\n{report.converted} converted, {report.failed} failed"
    if any(row.findings for row in report.rows):
        told += "; each file's page (NAME.html) says what its errors, warnings and notes are"
    return told


def _cells(row: Row) -> tuple[str, ...]:
    if row.status == "failed":
        return (_shown(row.name), row.status, *("" for _ in range(5 + len(SEVERITIES))))
    return (
        _shown(row.name),
        row.status,
        str(row.stitches),
        str(row.colours),
        f"{row.width_mm:.1f} × {row.height_mm:.1f}",
        f"{row.minutes:.1f}",
        f"{row.thread_m:.1f}",
        str(row.errors),
        str(row.warnings),
        str(row.findings - row.errors - row.warnings),
    )


def _columns(rows: list[tuple[str, ...]]) -> str:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return "\n".join(
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )
