"""The batch's rows as CSV, JSON and a gallery."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from pipeline.write.gallery import gallery_bytes, write_gallery
from pipeline.write.summary import COLUMNS, Row, summary_csv, write_summary

DONE = Row(
    "piers/buoy & bell.svg", "converted", "", 1554, 3, 2, 1, 32.004, 26.0, 4.5, 12.345, 21.55, 3, 1, 1, 0.4321
)
FAILED = Row("=gull.svg", "failed", "svg/g[2]: <path> data is broken,\nrepair it.", seconds=0.1)
ROWS = (DONE, FAILED)


def test_csv_and_json_hold_every_row(tmp_path: Path) -> None:
    write_summary(ROWS, tmp_path)
    table = list(csv.DictReader(io.StringIO((tmp_path / "summary.csv").read_text("utf-8"), newline="")))
    document = json.loads((tmp_path / "summary.json").read_bytes())
    assert (document["converted"], document["failed"]) == (1, 1)
    assert [tuple(row) for row in (*table, *document["files"])] == [COLUMNS] * 4
    assert document["files"][0]["thread_m"] == 12.35 or document["files"][0]["thread_m"] == 12.34
    assert document["files"][1]["name"] == "=gull.svg"
    for text, exact in zip(table, document["files"], strict=True):
        for key, value in exact.items():
            assert text[key].lstrip("'") == str(value)


def test_a_spreadsheet_sees_no_formula_in_a_name() -> None:
    assert b"\n'=gull.svg," in summary_csv(ROWS)


@pytest.mark.parametrize("first", ["=", "+", "-", "@", "\t", "\r"])
def test_every_sign_that_begins_a_formula_is_disarmed(first: str) -> None:
    name = f"{first}2+3.svg"
    (row,) = csv.DictReader(io.StringIO(summary_csv([Row(name, "failed")]).decode(), newline=""))
    assert row["name"] == f"'{name}"


def test_no_rows_give_a_head_line_and_an_empty_list(tmp_path: Path) -> None:
    write_summary((), tmp_path)
    assert (tmp_path / "summary.csv").read_text() == ",".join(COLUMNS) + "\n"
    assert json.loads((tmp_path / "summary.json").read_bytes()) == {"converted": 0, "failed": 0, "files": []}


def test_the_gallery_links_to_every_file_and_shows_why_one_failed(tmp_path: Path) -> None:
    write_gallery(ROWS, tmp_path)
    text = (tmp_path / "index.html").read_text("utf-8")
    for suffix in (".html", ".plan.json", ".dst", ".png"):
        assert f'"piers/buoy%20%26%20bell{suffix}"' in text
    assert "svg/g[2]: &lt;path&gt; data is broken" in text
    assert "1 converted, 1 failed" in text
    assert "1,554 stitches" in text
    assert text.index("=gull.svg") < text.index("buoy &amp; bell.svg")
    assert "http" not in text


def test_the_gallery_of_nothing_is_a_page() -> None:
    assert b"0 converted, 0 failed" in gallery_bytes(())


def test_the_summary_counts_each_kind_of_outcome(tmp_path: Path) -> None:
    write_summary((DONE, FAILED, DONE, DONE), tmp_path)
    document = json.loads((tmp_path / "summary.json").read_bytes())
    assert (document["converted"], document["failed"]) == (3, 1)
