"""The batch in rows: one a file, as CSV and as JSON."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Literal

from pipeline.write.whole import write_whole


@dataclass(frozen=True)
class Row:
    """What became of one file. ``name`` is its path in the batch (with forward slashes), ``reason`` says why it
    failed and is empty otherwise; figures of a failed file are 0. ``findings`` counts all of them, ``warnings``
    and ``errors`` those of that severity; ``price`` is in the currency of the settings, ``seconds`` what it took.
    """

    name: str
    status: Literal["converted", "failed"]
    reason: str = ""
    stitches: int = 0
    colours: int = 0
    colour_changes: int = 0
    trims: int = 0
    width_mm: float = 0.0
    height_mm: float = 0.0
    minutes: float = 0.0
    thread_m: float = 0.0
    price: float = 0.0
    findings: int = 0
    warnings: int = 0
    errors: int = 0
    seconds: float = 0.0


COLUMNS = tuple(item.name for item in fields(Row))
DECIMALS = 2


def write_summary(rows: Sequence[Row], folder: Path) -> None:
    """Write ``summary.csv`` (RFC 4180) and ``summary.json`` into ``folder``; both whole or none."""
    write_whole({folder / "summary.csv": summary_csv(rows), folder / "summary.json": summary_json(rows)})


def summary_csv(rows: Sequence[Row]) -> bytes:
    """The rows under a head line, UTF-8."""
    target = io.StringIO(newline="")
    writer = csv.DictWriter(target, COLUMNS)
    writer.writeheader()
    for row in rows:
        writer.writerow({key: _disarmed(value) for key, value in _rounded(row).items()})
    return target.getvalue().encode()


def summary_json(rows: Sequence[Row]) -> bytes:
    """``{"files": [...], "converted": n, "failed": n}``, one row a line."""
    items = ",\n".join("  " + json.dumps(_rounded(row), ensure_ascii=False) for row in rows)
    failed = sum(row.status == "failed" for row in rows)
    files = f"[\n{items}\n]" if rows else "[]"
    return f'{{\n"converted": {len(rows) - failed},\n"failed": {failed},\n"files": {files}\n}}\n'.encode()


def _rounded(row: Row) -> dict[str, object]:
    return {k: round(v, DECIMALS) if isinstance(v, float) else v for k, v in asdict(row).items()}


def _disarmed(value: object) -> object:
    """Text that a spreadsheet would take for a formula gets an apostrophe in front."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value
