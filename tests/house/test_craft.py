"""One craft value: fabric, thread, machine and settings meet in one place, and every room follows it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pipeline import convert
from pipeline.craft import GRID_MM, RECORD_MM, LengthSettings
from pipeline.model import Plan
from pipeline.recipes import FABRICS, THREADS
from pipeline.settings import Settings

ARTWORK = Path(__file__).parents[2] / "artwork"
FINE = next(thread for thread in THREADS if thread.name == "polyester 60")


def made(name: str, settings: Settings) -> Plan:
    return convert(ARTWORK / f"{name}.svg", settings)


def cover_mm(plan: Plan) -> float:
    lengths = [
        np.hypot(*np.diff(each.points, axis=0).T).sum() for each in plan.sewing.passes if each.layer == "cover"
    ]
    return float(sum(lengths))


def test_a_finer_thread_sews_finer(demo: Callable[[str], Plan]) -> None:
    """As much closer as it is thinner: the same cover of the same area, so thread in inverse proportion."""
    usual, fine = demo("five-deep"), made("five-deep", replace(Settings(), thread=FINE))
    assert cover_mm(fine) / cover_mm(usual) == pytest.approx(0.25 / FINE.laid_mm, rel=0.04)
    assert fine.checks.covered > 0.99
    assert fine.checks.peak_layers == pytest.approx(usual.checks.peak_layers, rel=0.15)


def test_a_finer_thread_keeps_finer_detail() -> None:
    """Handbook: letters from about 5 mm cap height, 4 mm with 60-weight (common practice, no source)."""
    usual, fine = Settings().craft, replace(Settings(), thread=FINE).craft
    assert fine.satin_from_mm == pytest.approx(0.8 * usual.satin_from_mm)
    detail = Settings().split.for_thread(fine.fineness)
    assert detail.letter_reads_from_mm == pytest.approx(4.0)
    assert Settings().split.for_thread(1.0) == Settings().split


@pytest.mark.parametrize("fabric", FABRICS, ids=lambda fabric: fabric.name)
def test_rows_and_pitch_are_the_recipes_with_the_usual_thread(fabric: object) -> None:
    craft = replace(Settings(), fabric=fabric).craft  # type: ignore[arg-type]
    assert (craft.row_mm, craft.pitch_mm, craft.pull_mm) == (
        craft.fabric.row_mm, craft.fabric.pitch_mm, craft.fabric.pull_mm,
    )  # fmt: skip


@pytest.mark.parametrize("longest", [4.5, 7.0])
def test_the_longest_stitch_holds_everywhere(longest: float) -> None:
    settings = replace(Settings(), lengths=LengthSettings(longest_mm=longest))
    plan = made("five-deep", settings)
    every = np.vstack([each.points for each in plan.sewing.passes])
    sewn = np.concatenate(
        [[each.approach == "sewn", *[True] * (len(each.points) - 1)] for each in plan.sewing.passes]
    )
    step = np.hypot(*np.diff(every, axis=0).T)[sewn[1:]]
    assert step.max() <= longest + 1e-6
    assert step.max() > longest - 1.5


def test_the_machine_files_limits() -> None:
    assert (0.1, pytest.approx(12.1)) == (GRID_MM, RECORD_MM)
