"""Third-party artwork through the whole line; sampled in a quick run, in full with PLYSTITCH_FULL=1."""

from __future__ import annotations

import json
import statistics
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from judge import judge, short_stitches

from pipeline import batch, flow
from pipeline.settings import Settings
from pipeline.write import read_machine_file

pytestmark = pytest.mark.corpus
SETTINGS = Settings()
SCHEMA = json.loads((Path(flow.__file__).parent / "write" / "plan.schema.json").read_text())

Sample = Callable[[str, int, int], list[Path]]


@pytest.mark.parametrize(
    ("name", "full", "quick", "least"),
    [("twemoji", 200, 10, 0.98), ("flags", 100, 6, 0.98), ("openclipart", 60, 6, 0.9)],
)
def test_set_converts_and_every_result_is_whole(
    name: str, full: int, quick: int, least: float, sample: Sample, tmp_path: Path
) -> None:
    files = sample(name, full, quick)
    report = batch.convert_all(files, tmp_path, SETTINGS, workers=2, width_mm=80.0)
    good = [row for row in report.rows if row.status == "converted"]
    assert len(report.rows) == len(files)
    assert len(good) >= least * len(files), [(row.name, row.reason) for row in report.rows if row not in good]
    assert not list(tmp_path.rglob("*.error.txt"))
    for row in good:
        stem = tmp_path / Path(row.name).with_suffix("")
        plan = json.loads(stem.with_suffix(".plan.json").read_bytes())
        assert not list(Draft202012Validator(SCHEMA).iter_errors(plan))
        read = read_machine_file(stem.with_suffix(".dst").read_bytes())
        every = np.vstack([item["points"] for item in plan["passes"]])
        assert np.abs(read.points + plan["centre"] - every).max() < 1e-6
        assert read.count("trim") == plan["counts"]["trims"]
        assert len(read.points) == plan["counts"]["stitches"] == row.stitches


def test_flat_emoji_look_like_the_reference_renderer_paints_them(sample: Sample) -> None:
    verdicts = []
    for path in sample("twemoji", 200, 10):
        plan = flow.convert(path, SETTINGS, 80.0)
        short, longest = short_stitches(plan)
        assert (short, longest <= 7.0 + 1e-9) == (0, True), path.name
        if not any("left-out" in f.code or "flattened" in f.code or "blended" in f.code for f in plan.findings):
            verdicts.append(judge(path, plan, any(f.code == "page-background" for f in plan.findings)))
    assert statistics.median(v.agreement for v in verdicts) >= 0.97
    assert statistics.median(v.covered for v in verdicts) >= 0.99
    assert statistics.median(v.outside for v in verdicts) <= 0.005
