"""Third-party artwork through the whole line; sampled in a quick run, in full with PLYSTITCH_FULL=1."""

from __future__ import annotations

import json
import statistics
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from canvas import canvas, looks
from jsonschema import Draft202012Validator
from sewn import LAYERS, sewn

from pipeline import flow
from pipeline.batch.report import Report
from pipeline.write.machine import read_machine_file

pytestmark = pytest.mark.corpus
SCHEMA = json.loads((Path(flow.__file__).parent / "write" / "plan.schema.json").read_text())

Converted = Callable[[str, int, int], tuple[Report, Path, list[Path]]]
SETS = {"twemoji": (200, 10, 0.98), "flags": (100, 6, 0.98), "openclipart": (60, 4, 0.9), "words": (12, 5, 1.0)}
"""Files in full and in a quick run, and the least share of them that must convert."""


@pytest.mark.parametrize("name", SETS)
def test_set_converts_and_every_result_is_whole(name: str, converted: Converted) -> None:
    full, quick, least = SETS[name]
    report, folder, files = converted(name, full, quick)
    good = [row for row in report.rows if row.status == "converted"]
    assert len(report.rows) == len(files)
    assert len(good) >= least * len(files), [(row.name, row.reason) for row in report.rows if row not in good]
    assert not list(folder.rglob("*.error.txt"))
    for row in good:
        stem = folder / Path(row.name).with_suffix("")
        plan = json.loads(stem.with_suffix(".plan.json").read_bytes())
        assert not list(Draft202012Validator(SCHEMA).iter_errors(plan))
        assert [f["message"] for f in plan["findings"] if f["code"] == "region-left-out"] == [], row.name
        read = read_machine_file(stem.with_suffix(".dst").read_bytes())
        every = np.vstack([item["points"] for item in plan["passes"]])
        assert np.abs(read.points + plan["centre"] - every).max() < 1e-6
        assert read.count("trim") == plan["counts"]["trims"]
        assert len(read.points) == plan["counts"]["stitches"] == row.stitches


def test_flat_emoji_look_like_the_reference_renderer_paints_them(converted: Converted) -> None:
    _, folder, files = converted("twemoji", *SETS["twemoji"][:2])
    verdicts = []
    for path in files:
        plan = json.loads((folder / f"{path.stem}.plan.json").read_bytes())
        work = sewn(plan)
        firm = work.stitched & (work.layer != LAYERS.index("lock"))
        assert work.lengths[firm].min() >= 0.3 - 1e-9, path.name
        assert work.lengths[work.stitched].max() <= 7.0 + 1e-6, path.name
        codes = [finding["code"] for finding in plan["findings"]]
        if not any(word in code for code in codes for word in ("left-out", "flattened", "blended")):
            colours = [item["colour"] for item in plan["threads"]]
            board = canvas(path, plan["source"]["width_mm"], colours, "page-background" in codes)
            verdicts.append(looks(board, work))
    assert statistics.median(v["agreement"] for v in verdicts) >= 0.97
    assert statistics.median(v["covered"] for v in verdicts) >= 0.99
    assert statistics.median(v["outside"] for v in verdicts) <= 0.005
