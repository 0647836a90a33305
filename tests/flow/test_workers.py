"""The promise of equal bytes: any number of workers, any run."""

from __future__ import annotations

from pathlib import Path

from pipeline.batch.convert import convert_all
from pipeline.settings import Settings

DESIGNS = ("five-deep", "small-lettering")


def test_one_worker_and_two_write_the_same_bytes(artwork: Path, tmp_path: Path) -> None:
    paths = [artwork / f"{name}.svg" for name in DESIGNS]
    reports = [convert_all(paths, tmp_path / str(n), Settings(), workers=n) for n in (1, 2)]
    assert [[row.name for row in report.rows] for report in reports] == [sorted(p.name for p in paths)] * 2
    for name in DESIGNS:
        for suffix in (".plan.json", ".dst", ".png", ".html"):
            one, two = ((tmp_path / n / (name + suffix)).read_bytes() for n in "12")
            assert one == two, name + suffix
