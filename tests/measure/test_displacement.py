"""Pull and push as places to which needle points move."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from measure_made import FABRIC, Array, one_pass, rows, sewing

from pipeline.measure.displacement import after_pull, displaced
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import path
from pipeline.model import Fabric

SETTINGS = MeasureSettings()
WOVEN = replace(FABRIC, pull_mm=0.2, bias=1.4)
KNIT = replace(FABRIC, pull_mm=0.2, bias=1.0)
ANGLES = (0.0, 15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 135.0)


def lost(angle_deg: float, length: float, fabric: Fabric) -> float:
    """By how much one row is narrower."""
    turn = np.deg2rad(angle_deg)
    along = np.array([np.cos(turn), -np.sin(turn)])
    moved = displaced(path(sewing(one_pass([(0.0, 0.0), along * length]))), fabric, SETTINGS)
    return length - float(np.ptp(moved @ along))


@pytest.mark.parametrize("angle", ANGLES)
@pytest.mark.parametrize("fabric", [WOVEN, KNIT], ids=["woven", "knit"])
def test_narrower_in_every_case_and_more_so_the_longer(angle: float, fabric: Fabric) -> None:
    """Radavičienė and Jucienė, Fibres & Textiles in Eastern Europe 20(3), 2012: sewn is smaller than designed."""
    found = [lost(angle, length, fabric) for length in (0.5, 1.0, 1.5, 2.0, 4.0, 7.0)]
    assert min(found) > 0.0
    assert all(after >= before - 1e-12 for before, after in pairwise(found))


def test_a_woven_gives_most_on_the_bias_and_a_knit_everywhere_alike() -> None:
    woven = {angle: lost(angle, 4.0, WOVEN) for angle in ANGLES}
    assert max(woven, key=lambda angle: woven[angle]) in (45.0, 135.0)
    assert woven[45.0] == pytest.approx(1.4 * woven[0.0])
    assert woven[0.0] == pytest.approx(0.4)
    assert [lost(angle, 4.0, KNIT) for angle in ANGLES] == pytest.approx([0.4] * len(ANGLES))


def zigzag(count: int, width: float) -> Array:
    return np.array([(0.2 * k, width * (k % 2)) for k in range(count)])


def test_a_column_grows_at_its_ends_by_the_push() -> None:
    moved = displaced(path(sewing(one_pass(zigzag(81, 4.0)))), KNIT, SETTINGS)
    # Rungs lean, so that pull takes a hundredth off again.
    assert moved[0, 0] == pytest.approx(-0.2 * SETTINGS.push_share, abs=0.02)
    assert moved[-1, 0] == pytest.approx(16.0 + 0.2 * SETTINGS.push_share, abs=0.02)
    assert np.abs(moved[40, 0] - 8.0) < 0.01
    assert np.diff(moved[:, 0]).min() > 0.0


def test_a_short_column_grows_less_and_no_push_is_none() -> None:
    short = displaced(path(sewing(one_pass(zigzag(6, 4.0)))), KNIT, SETTINGS)
    assert 0.0 < short[-1, 0] - 1.0 < 0.03
    still = displaced(path(sewing(one_pass(zigzag(81, 4.0)))), KNIT, replace(SETTINGS, push_share=0.0))
    np.testing.assert_allclose(still[:, 0], 0.2 * np.arange(81), atol=0.011)


def test_a_fill_spreads_across_its_rows_and_opens_nowhere() -> None:
    spots = rows(0, 0, 30, 30, fanned=True)
    moved = displaced(path(sewing(one_pass(spots))), KNIT, SETTINGS)
    # Ends of rows fan out to the turns, so that pull takes some hundredths of the push off again.
    assert 0.1 < np.ptp(moved[:, 1]) - np.ptp(spots[:, 1]) <= 0.2 + 1e-9
    assert np.ptp(moved[:, 0]) < np.ptp(spots[:, 0])


def test_after_pull_keeps_the_passes() -> None:
    job = sewing(one_pass(rows(0, 0, 9, 9)), one_pass(rows(9, 0, 18, 9), approach="colour", thread=1))
    moved = after_pull(job, KNIT, SETTINGS)
    assert [len(each.points) for each in moved.passes] == [len(each.points) for each in job.passes]
    np.testing.assert_allclose(
        np.vstack([each.points for each in moved.passes]), displaced(path(job), KNIT, SETTINGS)
    )
