"""What tests share: samples of third-party artwork, and plans, each made once a session."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from corpora import seeded

from pipeline import flow
from pipeline.batch.convert import convert_all
from pipeline.batch.report import Report
from pipeline.model import Plan
from pipeline.settings import Settings

PROJECT = Path(__file__).parents[1]
FULL = os.environ.get("PLYSTITCH_FULL") == "1"
WIDTH_MM = 80.0

Sample = Callable[[str, int, int], list[Path]]
Demo = Callable[[str], Plan]


def chosen(name: str, full: int, quick: int) -> list[Path]:
    """A seeded sample of a set: ``full`` files, or the first ``quick`` of them in a quick run; skips without."""
    files = seeded(name, full if FULL else quick)
    if not files:
        if os.environ.get("CI"):
            pytest.fail(f"the {name} set could not be installed, and in CI it must be")
        pytest.skip(f"the {name} set could not be installed here (npm, or Debian's openclipart-svg)")
    return files


@pytest.fixture(scope="session")
def sample() -> Sample:
    """``chosen``, as a fixture."""
    return chosen


@pytest.fixture(scope="session")
def converted(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., tuple[Report, Path, list[Path]]]:
    """``converted(name, full, quick)``: the report, the folder and the files of a sample, batched at 80 mm.

    Words are sewn at their own size. Larger samples hold the smaller ones, so all tests of a set share one batch.
    """

    @functools.cache
    def convert(name: str, count: int) -> tuple[Report, Path, list[Path]]:
        files = chosen(name, count, count)
        folder = tmp_path_factory.mktemp(name)
        width = None if name == "words" else WIDTH_MM
        return convert_all(files, folder, Settings(), workers=2, width_mm=width), folder, files

    return lambda name, full, quick: convert(name, full if FULL else quick)


@pytest.fixture(scope="session")
def artwork() -> Path:
    """The folder of our own designs."""
    return PROJECT / "artwork"


@functools.cache
def _demo(name: str) -> Plan:
    return flow.convert(PROJECT / "artwork" / f"{name}.svg", Settings())


@pytest.fixture(scope="session")
def demo() -> Demo:
    """``demo(name)``: the plan of one of our own designs with all defaults."""
    return _demo
