"""Counts, thread, time, price."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from crafts import craft
from measure_made import FABRIC, MACHINE, THREAD, one_pass, rows, sewing

from pipeline.measure import reckoning
from pipeline.measure.reckoning import diameter_mm, price, spools
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import stitches
from pipeline.model import Counts, Fabric, Sewing

PLAIN = MeasureSettings(cut_tail_mm=0.0, interlock=0.5)


def counted(job: Sewing, settings: MeasureSettings = PLAIN, fabric: Fabric = FABRIC) -> Counts:
    return reckoning.count(job, craft(fabric, THREAD, MACHINE), settings)


def line(count: int, step_mm: float, at: float = 0.0) -> list[tuple[float, float]]:
    return [(at + number * step_mm, 0.0) for number in range(count)]


def test_needle_penetrations_are_counted_by_layer() -> None:
    job = sewing(
        one_pass(line(5, 2.0), "lock"),
        one_pass(line(7, 2.0, 10.0), "foundation", "sewn"),
        one_pass(line(11, 2.0, 24.0), "travel", "sewn"),
        one_pass(line(13, 2.0, 50.0), "cover", "trim"),
        one_pass(line(3, 2.0, 80.0), "cover", "jump"),
        one_pass(line(2, 2.0, 90.0), "cover", "colour", thread=1),
    )
    found = counted(job)
    assert (found.stitches, found.lock, found.foundation, found.travel, found.cover) == (41, 5, 7, 11, 18)
    assert (found.jumps, found.trims, found.colour_changes) == (1, 1, 1)


def test_size_is_that_of_the_needle_points() -> None:
    found = counted(sewing(one_pass([(3.0, 1.0), (-2.0, 4.0), (8.5, -3.5)])))
    assert (found.width_mm, found.height_mm) == (10.5, 7.5)


def test_a_thousand_stitches_of_4_mm_through_1_mm_take_5_m() -> None:
    # L + T: handbook of the trade, lockstitch geometry (ISO 4915, class 301).
    found = counted(sewing(one_pass(line(1001, 4.0))))
    assert found.thread_m == pytest.approx(1000 * 0.005 + 0.001)
    assert found.bobbin_m == pytest.approx(found.thread_m * 0.65)


def test_lockstitch_301_worked_example() -> None:
    """Thickness 0.01 in, 10 stitches an inch: C = 2 + 2·T·S = 2.2 in of thread an inch, both threads alike."""
    inch = 25.4
    balanced = replace(PLAIN, bobbin_share=1.0)
    cloth = replace(FABRIC, thickness_mm=0.01 * inch)
    seam = counted(sewing(one_pass(line(1001, inch / 10.0))), balanced, cloth)
    assert (seam.thread_m + seam.bobbin_m) * 1000.0 / (100.0 * inch) == pytest.approx(2.2, abs=3e-4)


def test_a_tatami_of_4_mm_takes_the_5_to_6_m_a_thousand_of_the_trade() -> None:
    """Common practice: 5-6 m of top thread and 3-3.5 m of bobbin thread; embroidery tension draws the lock beneath.
    Balanced (L + T) falls a little short of it, for the last stitches of rows are shorter than 4 mm."""
    job = sewing(one_pass(rows(0.0, 0.0, 80.0, 60.0)))
    drawn, even = (counted(job, each) for each in (MeasureSettings(), replace(PLAIN, cut_tail_mm=30.0)))
    assert even.stitches >= 80.0 * 60.0 / (0.2 * 4.0)
    assert 5.0 <= drawn.thread_m / drawn.stitches * 1000.0 <= 6.0
    assert 4.5 <= even.thread_m / even.stitches * 1000.0 <= 5.0
    assert 3.0 <= drawn.bobbin_m / drawn.stitches * 1000.0 <= 3.7


def test_the_way_through_grows_by_what_lies_beneath() -> None:
    """A full layer beneath adds a thread's diameter: 0.20 mm at 27 tex (handbook of the trade)."""
    assert diameter_mm(THREAD) == pytest.approx(0.196, abs=0.001)
    lower, upper = rows(0.0, 0.0, 30.0, 30.0), rows(6.0, 6.0, 24.0, 24.0)
    alone = sewing(one_pass(upper))
    stacked = sewing(one_pass(lower), one_pass(upper, approach="jump", part="r2.1"))
    extra = counted(stacked).thread_m - counted(sewing(one_pass(lower))).thread_m - counted(alone).thread_m
    move = np.hypot(*(upper[0] - lower[-1])) / 1000.0
    assert (extra - move) * 1000.0 / len(upper) == pytest.approx(0.196, rel=0.05)


def test_tails_are_lost_at_the_start_and_at_every_cut() -> None:
    job = sewing(
        one_pass(line(2, 1.0)),
        one_pass(line(2, 1.0, 50.0), approach="trim"),
        one_pass(line(2, 1.0, 90.0), approach="colour", thread=1),
    )
    with_tails = counted(job, replace(PLAIN, cut_tail_mm=40.0))
    assert with_tails.thread_m - counted(job).thread_m == pytest.approx(3 * 0.040)


def test_a_jump_takes_thread_and_a_trim_does_not() -> None:
    def moved(approach: str) -> float:
        return counted(sewing(one_pass(line(2, 1.0)), one_pass(line(2, 1.0, 8.0), approach=approach))).thread_m  # type: ignore[arg-type]

    assert moved("jump") - moved("trim") == pytest.approx(0.007)


def test_spools_share_out_all_thread_and_have_plain_names() -> None:
    job = sewing(
        one_pass(line(101, 3.0)),
        one_pass(line(51, 2.0, 400.0), approach="colour", thread=1),
        one_pass(line(11, 3.0, 600.0), approach="colour", thread=0),
        colours=("#8b0000", "#483d8b"),
    )
    settings = MeasureSettings(interlock=0.5)
    found = spools(job, craft(FABRIC, THREAD), settings)
    assert [spool.name for spool in found] == ["dark red", "dark slate blue"]
    assert found[1].metres == pytest.approx((50 * 2.0 + 51 + 30.0) / 1000.0)
    assert sum(spool.metres for spool in found) == pytest.approx(counted(job, settings).thread_m)


def test_minutes_at_full_speed() -> None:
    assert counted(sewing(one_pass(line(1601, 4.0)))).minutes == pytest.approx(2.0, rel=1e-3)


def test_long_stitches_slow_the_machine() -> None:
    short, long = (counted(sewing(one_pass(line(1601, step)))).minutes for step in (4.0, 6.0))
    assert long / short == pytest.approx(1.5, rel=1e-3)


def test_cuts_and_colour_changes_take_their_seconds() -> None:
    def minutes(approach: str) -> float:
        return counted(sewing(one_pass(line(9, 1.0)), one_pass(line(9, 1.0, 9.0), approach=approach))).minutes  # type: ignore[arg-type]

    moved = minutes("jump")
    assert (minutes("trim") - moved) * 60.0 == pytest.approx(MACHINE.trim_s)
    assert (minutes("colour") - moved) * 60.0 == pytest.approx(MACHINE.colour_change_s)


def test_price_is_set_up_and_thousands_and_says_how() -> None:
    counts = counted(sewing(one_pass(line(12500, 0.5))))
    found = price(counts, MeasureSettings(price_per_thousand=1.2, price_set_up=15.0))
    assert found.amount == pytest.approx(30.0)
    assert found.formula == "15.00 set-up + 12.500 thousand stitches × 1.20 = 30.00"


def test_a_sewing_without_stitches_counts_nothing() -> None:
    found = counted(sewing())
    assert found.stitches == found.cover == found.jumps == 0
    assert found.thread_m == found.minutes == found.width_mm == 0.0


def test_stitches_tell_turns_from_stitches_along_a_row() -> None:
    # Square turns: the two short stitches between rows are turns, what lies along rows isn't.
    path = [(0, 0), (4, 0), (8, 0), (8, 0.2), (4, 0.2), (0, 0.2), (0, 0.4), (4, 0.4)]
    found = stitches(sewing(one_pass(path), one_pass(line(3, 2.0, 20.0), "foundation", "trim")))
    np.testing.assert_allclose(found.lengths, [4, 4, 0.2, 4, 4, 0.2, 4, 2, 2])
    assert found.turn.tolist() == [False, False, True, False, False, True, False, False, False]
    assert found.layer.tolist() == ["cover"] * 7 + ["foundation"] * 2
