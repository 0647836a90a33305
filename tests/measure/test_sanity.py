"""What a shop checks before it sews."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from crafts import craft
from measure_made import FABRIC, MACHINE, THREAD, one_pass, region, rows, sewing, square
from shapely.geometry import MultiPolygon, box
from shapely.ops import unary_union

from pipeline.measure.findings import few, inspection_findings
from pipeline.measure.inspection import examine
from pipeline.measure.settings import MeasureSettings
from pipeline.model import Finding, Region, Sewing

SETTINGS = MeasureSettings()
MADE = craft(FABRIC, THREAD, MACHINE)
PLAIN = sewing(one_pass(rows(0, 0, 30, 30, fanned=True)))


def found(job: Sewing, *regions: Region, settings: MeasureSettings = SETTINGS) -> dict[str, Finding]:
    seen = examine(job, regions, MADE, settings)
    return {each.code: each for each in inspection_findings(seen, job, MADE, settings)}


def test_a_stitch_that_snags_is_named_with_its_place() -> None:
    line = [(0.0, 0.5), (7.0, 0.5), (14.0, 0.5)]
    assert "stitch-too-long" not in found(sewing(one_pass(line)), region(box(0, 0, 20, 1)))
    long = found(sewing(one_pass([*line, (23.0, 0.5)])), region(box(0, 0, 23, 1)))["stitch-too-long"]
    assert "9.0 mm" in long.message
    assert long.at == (23.0, 0.5)


def test_many_short_stitches_and_many_long_ones() -> None:
    shape = region(square(0, 0, 30))
    hair = sewing(one_pass([(0.4 * k, 5.0) for k in range(60)]))
    assert found(hair, shape)["stitches-too-short"].severity == "note"
    assert "stitches-too-short" not in found(PLAIN, shape)
    wide = sewing(one_pass([(0.2 * k, 6.0 * (k % 2)) for k in range(100)]))
    assert "no more than about 650 stitches a minute" in found(wide, shape)["sew-slower"].message
    assert "sew-slower" not in found(PLAIN, shape)


def test_an_open_jump_is_loose_and_a_hidden_one_is_not() -> None:
    jump = [one_pass([(2, 2), (4, 2)]), one_pass([(10, 2), (12, 2)], approach="jump")]
    shape = region(square(0, 0, 30))
    assert "1 uncut thread" in found(sewing(*jump), shape)["loose-thread"].message
    hidden = sewing(*jump, one_pass(rows(0, 0, 30, 30), approach="trim", part="r2.1"))
    assert "loose-thread" not in found(hidden, shape)


def test_threads_that_look_alike() -> None:
    job = sewing(one_pass(rows(0, 0, 9, 9)), one_pass(rows(9, 0, 18, 9), approach="colour", thread=1))
    shape = region(box(0, 0, 18, 9))
    near = replace(job, colours=("#c81e1e", "#cc2222"))
    assert "c81e1e" in found(near, shape)["colours-alike"].message
    assert "colours-alike" not in found(job, shape)


@pytest.mark.parametrize(("width", "closes"), [(0.5, True), (1.2, False)])
def test_a_slit_between_columns_closes(width: float, closes: bool) -> None:
    shape = box(0, 0, 30, 30).difference(box(10, 5, 10 + width, 25))
    finding = found(PLAIN, region(shape)).get("gap-closes")
    assert (finding is not None) == closes
    if finding is not None:
        assert finding.at is not None
        assert 10.0 <= finding.at[0] <= 10.5


def test_a_sharp_notch_is_no_slit() -> None:
    notch = box(0, 0, 30, 30).difference(box(13, -1, 17, 4).convex_hull)
    assert "gap-closes" not in found(PLAIN, region(notch))


@pytest.mark.parametrize(("height", "small"), [(3.0, True), (6.0, False)])
def test_small_lettering_is_a_row_of_pieces_on_one_line(height: float, small: bool) -> None:
    letters = [box(2 + k * height * 0.8, 10, 2 + k * height * 0.8 + height * 0.6, 10 + height) for k in range(5)]
    word = unary_union(letters)
    assert isinstance(word, MultiPolygon)
    shape = region(square(0, 0, 30), visible=word)
    assert ("lettering-small" in found(PLAIN, shape)) == small
    scattered = MultiPolygon([box(5 * k, 3.5 * k, 5 * k + 2, 3.5 * k + 3) for k in range(5)])
    assert "lettering-small" not in found(PLAIN, region(square(0, 0, 30), visible=scattered))


def test_a_region_that_nothing_covers_is_an_error() -> None:
    bare = region(square(40, 0, 5), "#1e3cc8", "r2")
    finding = found(PLAIN, region(square(0, 0, 30)), bare)["region-not-sewn"]
    assert (finding.severity, finding.region) == ("error", "r2")


def test_a_few_of_a_kind_are_told_and_the_rest_counted() -> None:
    every = [Finding("x", "warning", f"Place {k}.") for k in range(8)]
    kept = few(every, SETTINGS)
    assert [each.message for each in kept] == [
        "Place 0.",
        "Place 1.",
        "Place 2. 5 more such places of less weight.",
    ]
    notes = [Finding("x", "note", "Small.")] * 3
    assert [each.message for each in few(notes, SETTINGS)] == ["Small. 2 more such places of less weight."]
    assert [each.severity for each in few([*every[:1], *notes], SETTINGS)] == ["warning"]
    assert few([], SETTINGS) == []


def test_the_gravest_come_first() -> None:
    job = sewing(one_pass(np.vstack([rows(0, 0, 30, 20), [[0.0, 500.0]]])))
    seen = examine(job, (region(square(0, 0, 30)),), MADE, SETTINGS)
    ranks = ["error", "warning", "note"]
    severities = [ranks.index(each.severity) for each in inspection_findings(seen, job, MADE, SETTINGS)]
    assert severities[0] == 0
    assert severities == sorted(severities)
