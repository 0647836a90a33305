"""What an inspection tells a person."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from crafts import craft
from measure_made import FABRIC, MACHINE, THREAD, one_pass, region, rows, sewing, square
from shapely.geometry import MultiPolygon, box

from pipeline.measure.findings import inspection_findings
from pipeline.measure.inspection import examine
from pipeline.measure.settings import MeasureSettings
from pipeline.model import Finding, Machine, Region, Sewing

SETTINGS = MeasureSettings()


def found(job: Sewing, *regions: Region, machine: Machine = MACHINE) -> dict[str, Finding]:
    seen = examine(job, regions, craft(FABRIC, THREAD), SETTINGS)
    return {each.code: each for each in inspection_findings(seen, job, craft(FABRIC, THREAD, machine), SETTINGS)}


def test_a_plain_square_has_none() -> None:
    assert found(sewing(one_pass(rows(0, 0, 30, 30, fanned=True))), region(square(0, 0, 30))) == {}


@pytest.mark.parametrize(
    ("width", "height", "remedy"),
    [(190.0, 90.0, None), (190.2, 60.0, "99 %"), (85.0, 150.0, "turn it by 90°"), (95.0, 95.0, "94 %")],
)
def test_the_hoop_keeps_10_mm_to_spare(width: float, height: float, remedy: str | None) -> None:
    """A hoop of 200 x 100 mm leaves 190 x 90."""
    line = [(width * k / 40, height * (k % 2)) for k in range(41)]
    finding = found(sewing(one_pass(line, "travel")), region(box(0, 0, width, height))).get("larger-than-hoop")
    if remedy is None:
        assert finding is None
        return
    assert finding is not None
    assert finding.severity == "error"
    assert remedy in finding.message


def test_more_colours_than_needles() -> None:
    job = sewing(*(one_pass(rows(0, 0, 9, 9), approach="colour", thread=k) for k in range(3)))
    shape = region(square(0, 0, 9), "#1ec83c")
    assert "has 3 colours and one head has 2 needles" in found(job, shape)["more-colours-than-needles"].message
    assert "more-colours-than-needles" not in found(job, shape, machine=replace(MACHINE, needles=3))


def test_too_thick_and_where() -> None:
    layers = [one_pass(rows(0, 0, 30, 30), approach="trim", part="r1.1") for _ in range(3)]
    pile = [one_pass(rows(20, 4, 25, 9), approach="trim", part=f"r{k}.1") for k in (2, 3)]
    finding = found(sewing(*layers, *pile), region(square(0, 0, 30)))["too-thick"]
    assert finding.at is not None
    assert 20 <= finding.at[0] <= 25
    assert 4 <= finding.at[1] <= 9
    assert "too-thick" not in found(sewing(*layers), region(square(0, 0, 30)))


def test_too_many_penetrations() -> None:
    """A small knot is a note from a quarter over the limit on; a row of knots a warning, told once."""
    knot = [(5.0 + 0.3 * (k % 3), 5.0 + 0.3 * (k // 3 % 3)) for k in range(15)]
    shape = region(square(0, 0, 10))
    small = found(sewing(one_pass(knot)), shape)["too-many-penetrations"]
    assert small.severity == "note"
    assert small.at is not None
    assert "15 times" in small.message
    assert "too-many-penetrations" not in found(sewing(one_pass(knot[:14])), shape)
    wide = [(x + 0.5 * k, y) for k in range(6) for x, y in knot]
    assert found(sewing(one_pass(wide)), shape)["too-many-penetrations"].severity == "warning"


def test_a_region_in_the_wrong_colour_is_named_with_a_place_inside_the_fault() -> None:
    right, wrong = region(box(0, 0, 15, 30)), region(box(15, 0, 30, 30), "#1e3cc8", "r2")
    job = sewing(one_pass(rows(0, 0, 20, 30)), one_pass(rows(20, 0, 30, 30), approach="colour", thread=1))
    finding = found(job, right, wrong)["colour-off"]
    assert finding.region == "r2"
    assert "svg/r2" in finding.message
    assert finding.at is not None
    assert 15.0 < finding.at[0] < 20.0


def test_fabric_that_shows_is_named_with_its_place() -> None:
    finding = found(sewing(one_pass(rows(0, 0, 30, 20))), region(square(0, 0, 30)))["fabric-shows"]
    assert (finding.region, finding.severity) == ("r1", "warning")
    assert finding.at is not None
    assert finding.at[1] > 20.0


def test_a_region_too_small_to_judge_is_let_be() -> None:
    speck = region(square(40, 0, 0.9), "#1e3cc8", "r2")
    assert "fabric-shows" not in found(sewing(one_pass(rows(0, 0, 30, 30))), region(square(0, 0, 30)), speck)


def test_notches_between_row_ends_are_no_colour_fault() -> None:
    """A row ends every 0.4 mm on each side; the hair-fine notches show what lies beneath, and nobody minds."""
    lower, upper = square(0, 0, 30), box(10, 5, 13, 25)
    shapes = (
        region(lower, visible=MultiPolygon([lower.difference(upper)])),
        region(upper, "#1e3cc8", "r2"),
    )
    top = rows(10, 5, 13, 25, fanned=True)
    job = sewing(one_pass(rows(0, 0, 30, 30)), one_pass(top, approach="colour", thread=1))
    assert "colour-off" not in found(job, *shapes)
    assert examine(job, shapes, craft(FABRIC, THREAD), SETTINGS).checks.picture_agreement < 1.0


@pytest.mark.parametrize("width", [3.0, 5.0, 6.2, 6.8, 7.0])
def test_a_plain_bar_of_satin_is_not_off_in_colour(width: float) -> None:
    """Between the ends of two rungs lies a notch finer than thread; the wider the bar, the more area they are."""
    sides = np.where(np.arange(98) % 2, 10.1, 9.9 + width), 5.2 + 0.2 * np.arange(98)
    zigzag = [(float(x), float(y)) for x, y in zip(*sides, strict=True)]
    shape = region(box(10, 5, 10 + width, 25))
    job = sewing(one_pass(zigzag))
    assert examine(job, (shape,), craft(FABRIC, THREAD), SETTINGS).checks.picture_agreement < 0.99
    assert "colour-off" not in found(job, shape)


def test_many_small_faults_are_one_finding() -> None:
    """Each too small to be judged as a region; one in six of the ground in the wrong colour."""
    ground = square(0, 0, 20)
    job = sewing(one_pass(rows(0, 0, 20, 20)), *(
        one_pass(rows(x, y, x + 1.6, y + 1.6), approach="colour" if (x, y) == (1, 1) else "trim", thread=1)
        for x in range(1, 20, 4) for y in range(1, 20, 4)
    ))  # fmt: skip
    finding = found(job, region(ground))["colour-off"]
    assert finding.severity == "warning"
    assert finding.at is not None


def test_thread_outside() -> None:
    job = sewing(one_pass(rows(0, 0, 30, 30)), one_pass([(30, 15), (36, 15), (42, 15)], "travel", "sewn"))
    finding = found(job, region(square(0, 0, 30)))
    assert "thread-outside" not in finding  # 11.4 mm of 4,500 is little
    longer = sewing(one_pass(rows(0, 0, 30, 30)), one_pass([(30 + 6 * k, 15) for k in range(9)], "travel", "sewn"))
    assert "1.0 %" in found(longer, region(square(0, 0, 30)))["thread-outside"].message
