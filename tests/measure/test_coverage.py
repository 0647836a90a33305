"""What shows of the thread: agreement, cover, spill; foundation on cover."""

from __future__ import annotations

import numpy as np
import pytest
from crafts import craft
from groundwork import foundation_on_cover
from measure_made import FABRIC, THREAD, one_pass, region, rows, sewing, square
from PIL import Image, ImageDraw
from shapely.affinity import rotate, translate
from shapely.geometry import MultiPolygon, Point, box

from pipeline.measure.coverage import artwork, probes, thread_outside
from pipeline.measure.inspection import examine
from pipeline.measure.settings import MeasureSettings
from pipeline.measure.thread_path import path
from pipeline.model import Checks, Region, Sewing

SETTINGS = MeasureSettings()
RED, BLUE = "#c81e1e", "#1e3cc8"


def seen(job: Sewing, *regions: Region, settings: MeasureSettings = SETTINGS) -> Checks:
    return examine(job, regions, craft(FABRIC, THREAD), settings).checks


def test_a_whole_fill_covers_and_agrees() -> None:
    found = seen(sewing(one_pass(rows(0, 0, 30, 30))), region(square(0, 0, 30)))
    assert found.picture_agreement == 1.0
    assert found.covered >= 0.9999
    assert found.outside == 0.0
    assert found.stitches == len(rows(0, 0, 30, 30))


def test_a_half_fill_covers_half() -> None:
    found = seen(sewing(one_pass(rows(0, 0, 15, 30))), region(square(0, 0, 30)))
    # Thread ends at x = 15 and counts 0.125 + 0.1 mm farther.
    assert found.covered == pytest.approx(15.225 / 30.0, abs=0.0034)
    # Judged is the square less 0.4 mm all round; thread is drawn to x = 15.125.
    assert found.picture_agreement == pytest.approx((15.125 - 0.4) / 29.2, abs=0.003)


def test_rows_too_far_apart_leave_stripes_bare() -> None:
    # Thread 0.25 mm wide, near to 0.1 mm: rows 0.6 mm apart leave 0.15 mm of each 0.6 uncovered.
    found = seen(sewing(one_pass(rows(0, 0, 30, 30, row_mm=0.6))), region(box(4, 6, 26, 24)))
    assert found.covered == pytest.approx(0.75, abs=0.02)


def test_the_wrong_thread_on_top_disagrees() -> None:
    job = sewing(one_pass(rows(0, 0, 30, 30)), one_pass(rows(0, 0, 10, 30), approach="colour", thread=1))
    assert seen(job, region(square(0, 0, 30))).picture_agreement == pytest.approx(
        1 - (10.125 - 0.4) / 29.2, abs=0.003
    )
    # Sewn the other way round the red lies on top again, and nothing is wrong.
    last = sewing(one_pass(rows(0, 0, 10, 30), thread=1), one_pass(rows(0, 0, 30, 30), approach="colour", thread=0))
    assert seen(last, region(square(0, 0, 30))).picture_agreement == 1.0


def test_a_colour_border_is_not_judged() -> None:
    """Blue reaches 0.35 mm too far over red: less than the 0.4 mm beside a border that are not judged."""
    lower, upper = region(square(0, 0, 30), RED), region(box(10, 0, 20, 30), BLUE, "r2")
    lower = region(square(0, 0, 30), RED, visible=MultiPolygon([box(0, 0, 10, 30), box(20, 0, 30, 30)]))
    near = sewing(one_pass(rows(0, 0, 30, 30)), one_pass(rows(9.8, 0, 20.2, 30), approach="colour", thread=1))
    far = sewing(one_pass(rows(0, 0, 30, 30)), one_pass(rows(9.0, 0, 21.0, 30), approach="colour", thread=1))
    assert seen(near, lower, upper).picture_agreement == 1.0
    assert seen(far, lower, upper).picture_agreement < 0.96


def test_neighbours_of_one_colour_have_no_border() -> None:
    left, right = region(box(0, 0, 15, 30)), region(box(15, 0, 30, 30), id_="r2")
    job = sewing(one_pass(rows(0, 0, 30, 30)), one_pass(rows(14.9, 0, 15.1, 30), approach="colour", thread=1))
    assert seen(job, left, right).picture_agreement < 0.995


def test_a_window_stays_open() -> None:
    frame = box(0, 0, 30, 30).difference(Point(15, 15).buffer(8))
    found = seen(sewing(one_pass(rows(0, 0, 30, 30))), region(frame))
    assert found.covered >= 0.9999
    # Chords of the window shrunk by 0.6 mm: its area over the rows' distance, of 30 mm rows 0.2 mm apart.
    assert found.outside == pytest.approx(np.pi * 7.4**2 / 0.2 / (900 / 0.2), rel=0.01)


def test_thread_outside_is_exact() -> None:
    line = [(5.0, 5.05), (9.0, 5.05), (11.0, 5.05), (14.0, 5.05), (14.0, 9.0)]
    job = sewing(one_pass(line))
    table = path(job)
    art = artwork((region(square(0, 0, 10)),), SETTINGS)
    beyond, every, places = thread_outside(table, art, probes(table.segments[table.lies]), SETTINGS)
    assert (places[:, 0] > 10.6).all()
    assert every == pytest.approx(12.95)
    assert beyond == pytest.approx(14.0 - 10.6 + 3.95)


def test_an_uncut_jump_lies_outside_and_a_trimmed_one_does_not() -> None:
    one, other = rows(0, 0, 10, 10), rows(30, 0, 40, 10)
    shapes = region(square(0, 0, 10)), region(square(30, 0, 10), id_="r2")
    assert seen(sewing(one_pass(one), one_pass(other, approach="jump")), *shapes).outside > 0.01
    assert seen(sewing(one_pass(one), one_pass(other, approach="trim")), *shapes).outside == 0.0


@pytest.mark.parametrize("angle", [0.0, 17.0, 45.0, 90.0])
@pytest.mark.parametrize("shift", [0.0, 0.037])
def test_turning_and_moving_changes_nothing(angle: float, shift: float) -> None:
    spots = rows(0, 0, 20, 12)
    turn = np.radians(angle)
    turned = spots @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) + shift
    shape = translate(rotate(box(0, 0, 26, 12), angle, origin=(0, 0)), shift, shift)
    found = seen(sewing(one_pass(turned)), region(shape))
    assert found.covered == pytest.approx(20.225 / 26.0, abs=0.004)
    assert found.picture_agreement == pytest.approx((20.125 - 0.4) / 25.2, abs=0.004)
    assert found.peak_layers == pytest.approx(1.0, abs=0.12)


def test_pillow_paints_the_same_picture() -> None:
    """An independent rasteriser (Pillow's lines and polygons) agrees to half a point."""
    leaf, disc = Point(14, 14).buffer(11), Point(22, 18).buffer(6)
    lower = region(leaf, RED, visible=MultiPolygon([leaf.difference(disc)]))
    upper = region(disc, BLUE, "r2")
    job = sewing(one_pass(rows(3, 3, 24, 25)), one_pass(rows(17, 13, 28, 22), approach="colour", thread=1))
    found = seen(job, lower, upper)
    agreement, covered = _by_pillow(job, [(lower, 1), (upper, 2)], 25)
    assert 0.5 < agreement < 0.99
    assert found.picture_agreement == pytest.approx(agreement, abs=0.005)
    assert found.covered == pytest.approx(covered, abs=0.005)


def _by_pillow(job: Sewing, regions: list[tuple[Region, int]], scale: int) -> tuple[float, float]:
    size = (30 * scale, 30 * scale)
    wanted, top, near = (Image.new("L", size) for _ in range(3))
    for shape, label in regions:
        for part in shape.visible.geoms:
            ImageDraw.Draw(wanted).polygon([(x * scale, y * scale) for x, y in part.exterior.coords], fill=label)
            for hole in part.interiors:
                ImageDraw.Draw(wanted).polygon([(x * scale, y * scale) for x, y in hole.coords], fill=0)
    for each in job.passes:
        spots = [(x * scale, y * scale) for x, y in each.points]
        ImageDraw.Draw(top).line(spots, fill=each.thread + 1, width=round(0.25 * scale), joint="curve")
        ImageDraw.Draw(near).line(spots, fill=1, width=round(0.45 * scale), joint="curve")
    labels = np.asarray(wanted)
    border = np.zeros(labels.shape, dtype=bool)
    reach = round(0.4 * scale)
    for x in range(-reach, reach + 1):
        for y in range(-reach, reach + 1):
            if x * x + y * y <= reach * reach:
                border |= labels != np.roll(labels, (y, x), axis=(0, 1))
    judged = (labels > 0) & ~border
    return (
        float((np.asarray(top) == labels)[judged].mean()),
        float((np.asarray(near) > 0)[labels > 0].mean()),
    )


def test_foundation_under_its_cover_is_none_on_cover() -> None:
    ground = [(x, y) for y in (1.0, 4.0, 7.0) for x in (1.0, 9.0)]
    job = sewing(one_pass(ground, "foundation"), one_pass(rows(0, 0, 10, 10), approach="sewn"))
    assert foundation_on_cover(job, 0.25) == (0.0, pytest.approx(8 * 3 + 2 * np.hypot(8, 3)))


def test_foundation_on_earlier_cover_is_measured() -> None:
    job = sewing(
        one_pass(rows(0, 0, 10, 10)),
        one_pass([(5.0, 5.0), (25.0, 5.0)], "foundation", "trim", part="r2.1"),
        one_pass(rows(9, 0, 25, 10), approach="sewn", part="r2.1"),
    )
    on_cover, every = foundation_on_cover(job, 0.25)
    assert every == 20.0
    assert on_cover == pytest.approx(5.125, abs=0.26)


def test_nothing_sewn_and_nothing_drawn() -> None:
    nothing = seen(sewing(), region(square(0, 0, 10)))
    assert (nothing.picture_agreement, nothing.covered, nothing.outside, nothing.peak_layers) == (
        0.0,
        0.0,
        0.0,
        0.0,
    )
    blank = seen(sewing(one_pass(rows(0, 0, 10, 10))))
    assert (blank.picture_agreement, blank.covered, blank.outside) == (1.0, 1.0, 1.0)
