"""Kinds by width, joints by overlap, bends by angle: over families of shapes instead of single ones."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.affinity import rotate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import multipolygon
from pipeline.model import Line, Part, Region, Stroke, Surface, points
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings

SETTINGS = SplitSettings()


def parted(shape: Polygon | MultiPolygon, stroke: Stroke | None = None) -> tuple[Part, ...]:
    outline = multipolygon(shape)
    region = Region("r1", "s1", None, 0, "#224466", outline, outline, 0.0, stroke)
    return split(
        (Surface(region, "base", (), outline, outline, 0.2, 45.0, ""),), SETTINGS, CRAFT, lambda finding: None
    )


def wanted(width: float) -> str:
    """The kind of a long even limb (common practice, no source)."""
    return "run" if width < 0.51 else "triple run" if width < 1.0 else "satin" if width <= 7.0 else "tatami"


WIDTHS = (0.35, 0.45, 0.65, 0.85, 1.1, 1.5, 2.5, 4.0, 6.8, 7.4, 12.0)


@pytest.mark.parametrize("turn", [0.0, 27.0])
@pytest.mark.parametrize("width", WIDTHS)
def test_a_long_bar_is_sewn_by_its_width_all_of_it(width: float, turn: float) -> None:
    bar = rotate(box(0, 0, 45, width), turn, origin=(0, 0))
    parts = parted(bar)
    assert [part.kind for part in parts] == [wanted(width)]
    assert parts[0].width_mm[1] == pytest.approx(width, rel=0.04)
    assert parts[0].area.symmetric_difference(bar).area < 0.02 * bar.area


@pytest.mark.parametrize("width", [0.3, 0.5, 0.6, 0.8, 0.99, 1.2, 3.0])
def test_a_painted_line_is_sewn_by_its_own_width(width: float) -> None:
    line = LineString([(0, 0), (12, 4), (24, 0), (30, 10)])
    stroke = Stroke((Line(points(line.coords)),), width)
    parts = parted(line.buffer(width / 2, join_style="mitre", cap_style="flat"), stroke)
    kinds = {part.kind for part in parts}
    assert kinds == {"run" if width < 0.6 else wanted(width)}
    if width < 1.0:
        (part,) = parts
        drawn = shapely.union_all([LineString(item.points) for item in part.lines])
        assert drawn.hausdorff_distance(line) <= 0.51 * width, "true to its centreline, to the very ends"


LONGER = {55: 2.3}
"""Recorded allowances: rungs of a sharp bend that is turned, not built of two columns, × the width."""


@pytest.mark.parametrize("width", [2.0, 3.5])
@pytest.mark.parametrize(("degrees", "columns"), [(25, 2), (55, 1), (120, 1), (150, 1), (170, 1)])
def test_a_chevron_is_two_columns_if_acute_and_one_if_it_merely_bends(
    degrees: int, columns: int, width: float
) -> None:
    half = np.radians(degrees / 2)
    tip = np.array([0.0, 0.0])
    ends = [30.0 * np.array([s * np.sin(half), np.cos(half)]) for s in (-1, 1)]
    shape = LineString([ends[0], tip, ends[1]]).buffer(
        width / 2, cap_style="flat", join_style="mitre", mitre_limit=2
    )
    parts = parted(shape)
    assert {part.kind for part in parts} == {"satin"}
    assert len(parts) == columns
    for part in parts:
        assert part.column is not None
        rungs = np.hypot(*(part.column.left - part.column.right).T)
        assert np.quantile(rungs, 0.97) <= LONGER.get(degrees, 1.5) * width


@pytest.mark.parametrize("turn", [0.0, 40.0])
@pytest.mark.parametrize(("bar", "stem"), [(3.0, 3.0), (3.0, 1.5), (2.0, 4.0)])
def test_limbs_that_meet_overlap_by_what_the_settings_say(bar: float, stem: float, turn: float) -> None:
    shape = shapely.union_all([box(0, 0, 30, bar), box(14, bar / 2, 14 + stem, 26)])
    parts = parted(rotate(shape, turn, origin=(0, 0)))
    assert [part.kind for part in parts] == ["satin", "satin"]
    shared = parts[0].area.intersection(parts[1].area)
    assert shared.area == pytest.approx(SETTINGS.overlap_mm * stem, rel=0.25)
    covered = shapely.union_all([part.area for part in parts])
    assert rotate(shape, turn, origin=(0, 0)).difference(covered).area < 0.02 * shape.area
    through = max(parts, key=lambda part: part.area.length)
    assert through.area.length == pytest.approx(2 * (30 + bar), rel=0.05), "the straight way runs through"


def test_a_limb_of_a_wide_body_reaches_beneath_it_and_not_the_other_way() -> None:
    body, limb = Point(0, 0).buffer(11), box(9, -1.5, 28, 1.5)
    tatami, satin = sorted(parted(body.union(limb)), key=lambda part: part.kind == "satin")
    assert (tatami.kind, satin.kind) == ("tatami", "satin")
    assert satin.area.intersection(tatami.area).area == pytest.approx(1.5, rel=0.4)
    assert body.buffer(0.6).covers(tatami.area)


@pytest.mark.parametrize(("high", "low"), [(2.2, 0.5), (1.4, 0.4), (0.7, 0.5)])
def test_a_small_figure_of_thick_and_thin_limbs_is_satin_throughout(high: float, low: float) -> None:
    """As a letter is: its hairline too."""
    figure = shapely.union_all([box(0, 0, high, 9), box(5, 0, 5 + high, 9), box(0, 8.0, 5 + high, 8.0 + low)])
    assert {part.kind for part in parted(figure)} == {"satin"}


@pytest.mark.parametrize("blob", [0.9, 1.4])
def test_a_bead_on_a_thin_line_is_more_than_a_line(blob: float) -> None:
    shape = shapely.union_all([box(0, -0.2, 30, 0.2), Point(15, 0).buffer(blob)])
    parts = parted(shape)
    satin = [part for part in parts if part.kind == "satin"]
    assert len(satin) == 1
    assert Point(15, 0).buffer(blob - 0.2).difference(satin[0].area).area < 0.05
    assert {part.kind for part in parts} - {"satin"} <= {"run", "triple run"}


def test_a_leaf_too_short_for_a_line_is_bold_where_one_run_leaves_its_sides_bare() -> None:
    leaf = Polygon([(0, 0), (1.5, -0.44), (3, 0), (1.5, 0.44)])
    assert [part.kind for part in parted(leaf)] in (["triple run"], ["satin"])


@pytest.mark.parametrize("thick", [1.1, 1.4])
def test_a_large_shape_of_modelled_limbs_is_satin_hairlines_included(thick: float) -> None:
    """Mostly thin, but a part of it is nearly twice as thick, and larger than a letter: still one look."""
    figure = shapely.union_all([box(0, 0, 0.65, 20), box(14, 0, 14 + thick, 12), box(0, 10, 14.2, 10.65)])
    assert {part.kind for part in parted(figure)} == {"satin"}


def test_an_even_net_of_the_same_hairlines_is_a_bold_line() -> None:
    figure = shapely.union_all([box(0, 0, 0.7, 20), box(14, 0, 14.7, 20), box(0, 10, 14.7, 10.7)])
    assert {part.kind for part in parted(figure)} == {"triple run"}


def forked(*limbs: tuple[float, float, float]) -> Polygon:
    """Limbs from one place: angle in degrees, length and width."""
    ends = [(np.array([np.cos(np.radians(a)), np.sin(np.radians(a))]) * long, width) for a, long, width in limbs]
    lines = [LineString([(0, 0), end]).buffer(width / 2, cap_style="flat") for end, width in ends]
    return shapely.union_all([*lines, Point(0, 0).buffer(max(width for _, width in ends) / 2)])


@pytest.mark.parametrize("turn", [35, 50, 65])
def test_of_two_ways_through_a_fork_the_straighter_is_one_column(turn: float) -> None:
    one, two = sorted(parted(forked((0, 20, 3), (180, 20, 3), (180 - turn, 24, 3))), key=lambda p: p.area.bounds[3])
    assert (one.kind, two.kind) == ("satin", "satin")
    assert one.area.bounds[0] < -19.5
    assert one.area.bounds[2] > 19.5
    assert two.area.bounds[3] > 12


def test_two_limbs_that_meet_more_sharply_than_a_column_turns_are_two_columns() -> None:
    """A V of two limbs at 60° on a stem that is too thin for either to run on into."""
    parts = parted(forked((60, 20, 3), (120, 20, 3), (270, 12, 0.7)))
    assert [part.kind for part in parts] == ["satin"] * 3
    assert all(part.area.bounds[2] - part.area.bounds[0] < 15 for part in parts)


@pytest.mark.parametrize("turn", [0.0, 30.0])
def test_a_line_with_square_ends_is_sewn_to_both_of_them(turn: float) -> None:
    line = rotate(LineString([(0, 0), (12, 0)]), turn, origin=(0, 0))
    stroke = Stroke((Line(points(line.coords)),), 0.7)
    (part,) = parted(line.buffer(0.35, cap_style="square"), stroke)
    sewn = shapely.union_all([LineString(item.points) for item in part.lines])
    assert sewn.length == pytest.approx(12.6, abs=0.12)
    assert sewn.centroid.distance(line.centroid) < 0.02


@pytest.mark.parametrize("degrees", [50, 60, 75, 90])
@pytest.mark.parametrize("apart", [0.0, 0.4, 0.8, 1.2])
@pytest.mark.parametrize("width", [0.6, 0.8])
def test_thin_lines_that_cross_stay_lines_even_if_one_goes_on_a_little_aside(
    width: float, apart: float, degrees: int
) -> None:
    """What is wider where their branches meet is no blob of satin."""
    way, aside = 15 * np.array([np.cos(np.radians(degrees)), np.sin(np.radians(degrees))]), apart * width / 2
    lines = [(-15, 0), (15, 0)], [(-aside, 0), way - (aside, 0)], [(aside, 0), (aside, 0) - way]
    shape = shapely.union_all([LineString(line).buffer(width / 2, cap_style="flat") for line in lines])
    assert [part.kind for part in parted(shape)] == ["triple run"]
