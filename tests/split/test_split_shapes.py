"""What the splitting room makes of shapes whose parts a digitizer would agree on."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.affinity import rotate, scale, translate
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from pipeline.geometry.medial import medial_axis
from pipeline.geometry.polygon import multipolygon
from pipeline.model import Column, Finding, Line, Part, Region, Stroke, Surface, points
from pipeline.split.drafts import _with_strips
from pipeline.split.groups import cut, gathered
from pipeline.split.parts import split
from pipeline.split.settings import SplitSettings
from pipeline.split.stretches import stretches


def disc(radius: float, x: float = 0.0, y: float = 0.0) -> Polygon:
    return Point(x, y).buffer(radius, quad_segs=32)


def star(count: int, outer: float, inner: float) -> Polygon:
    turn = np.arange(2 * count) * math.pi / count
    radius = np.where(np.arange(2 * count) % 2 == 0, outer, inner)
    return Polygon(np.column_stack([radius * np.sin(turn), -radius * np.cos(turn)]))


def spiral(width: float) -> Polygon:
    turn = np.linspace(0, 5 * math.pi, 400)
    radius = 2 + 0.66 * turn
    line = LineString(np.column_stack([radius * np.cos(turn), radius * np.sin(turn)]))
    return line.buffer(width / 2, cap_style="flat", quad_segs=32)


RECTANGLE = box(0, 0, 30, 3)
ELLIPSE = scale(disc(1), 10, 2.5)
ANNULUS = disc(8).difference(disc(6))
WEDGE = Polygon([(0, -0.25), (50, -3), (50, 3), (0, 0.25)])
LETTER_L = Polygon([(0, 0), (3, 0), (3, 12), (12, 12), (12, 15), (0, 15)])
LETTER_T = Polygon([(0, 0), (15, 0), (15, 2.5), (9, 2.5), (9, 14), (6, 14), (6, 2.5), (0, 2.5)])
LETTER_X = rotate(box(-10, -1.25, 10, 1.25), 35).union(rotate(box(-10, -1.25, 10, 1.25), -35))
LETTER_P = box(0, 0, 2.5, 16).union(disc(5, 2, 4.5).difference(disc(2.5, 2, 4.5)).intersection(box(1, -1, 10, 12)))
EIGHT = disc(4.5).union(disc(4.5, 0, 7)).difference(disc(2.4).union(disc(2.4, 0, 7)))
COMB = shapely.union_all([box(0, 0, 32, 9), *(box(x, 8, x + 2, 18) for x in range(2, 30, 4))])
LIMBS = shapely.union_all([disc(9), box(8, -0.35, 20, 0.35), box(-0.9, 8, 0.9, 20)])
HAIRS = shapely.union_all(
    [LineString(line).buffer(0.25) for line in ([(0, 0), (10, 0)], [(5, 0), (5, 8)], [(5, 4), (9, 8)])]
)
SHAPES = {
    "rectangle": RECTANGLE,
    "ellipse": ELLIPSE,
    "annulus": ANNULUS,
    "wedge": WEDGE,
    "L": LETTER_L,
    "T": LETTER_T,
    "X": LETTER_X,
    "P": LETTER_P,
    "8": EIGHT,
    "comb": COMB,
    "limbs": LIMBS,
    "hairs": HAIRS,
    "spiral": spiral(2.5),
    "star": star(5, 12, 4.6),
    "fine star": star(8, 14, 4),
    "wide star": star(5, 30, 12),
    "beak": disc(12).union(Polygon([(11, -2.5), (11, 2.5), (26, 0)])),
}


def surface(shape: BaseGeometry, bare: BaseGeometry | None = None) -> Surface:
    outline = multipolygon(shape)
    region = Region("r3", "svg/path[1]", None, 2, "#224466", outline, outline)
    rest = outline if bare is None else multipolygon(outline.intersection(bare))
    return Surface(region, "base", (), rest, rest, 0.21, 45.0, "on bare fabric")


def parted(shape: BaseGeometry, settings: SplitSettings | None = None) -> tuple[Part, ...]:
    found: list[Finding] = []
    return split((surface(shape),), settings or SplitSettings(), CRAFT, found.append)


def kinds(shape: BaseGeometry) -> list[str]:
    return sorted(part.kind for part in parted(shape))


def column_of(part: Part) -> Column:
    assert part.column is not None
    return part.column


def tilt(column: Column, way: tuple[float, float]) -> float:
    """The largest angle (degrees) by which a cross-section is off square to ``way``."""
    rungs = column.left - column.right
    along = np.abs(rungs @ np.array(way)) / np.hypot(*rungs.T)
    return float(np.degrees(np.arcsin(along)).max())


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("rectangle", ["satin"]),
        ("ellipse", ["satin"]),
        ("annulus", ["satin"]),
        ("L", ["satin"]),
        ("T", ["satin"] * 2),
        ("X", ["satin"] * 3),
        ("P", ["satin"] * 2),
        ("8", ["satin"] * 2),
        ("spiral", ["satin"]),
        ("comb", ["satin"] * 7 + ["tatami"]),
        ("limbs", ["satin", "tatami", "triple run"]),
        ("hairs", ["run"]),
        ("wide star", ["tatami"]),
        ("beak", ["satin", "tatami"]),
    ],
)
def test_kinds(name: str, expected: list[str]) -> None:
    assert kinds(SHAPES[name]) == expected


@pytest.mark.parametrize("name", SHAPES)
def test_parts_cover_the_outline_and_stay_inside(name: str) -> None:
    shape = SHAPES[name]
    union = shapely.union_all([part.area for part in parted(shape)])
    assert shape.difference(union).area < 1e-4 * shape.area
    assert union.difference(shape).area < 1e-4 * shape.area


@pytest.mark.parametrize("name", SHAPES)
def test_parts_overlap_only_a_little_at_joints(name: str) -> None:
    parts = parted(SHAPES[name])
    assert parts
    for k, one in enumerate(parts):
        for two in parts[k + 1 :]:
            shared = one.area.intersection(two.area)
            # Nothing of what two parts share lies deeper than the overlap, and half a width to its sides.
            widest = max(one.width_mm[1], two.width_mm[1])
            assert shared.area <= 0.85 * max(widest, 1.0) * 1.6


@pytest.mark.parametrize("name", [name for name in SHAPES if name not in ("hairs", "star", "wide star")])
def test_columns_keep_their_promises(name: str) -> None:
    parts = [part for part in parted(SHAPES[name]) if part.kind == "satin"]
    assert parts
    for part in parts:
        assert part.column is not None
        left, right = part.column.left, part.column.right
        assert left.shape == right.shape
        assert len(left) >= 2
        if part.column.closed:
            left, right = np.vstack([left, left[:1]]), np.vstack([right, right[:1]])
        quads = shapely.polygons(np.stack([left[:-1], left[1:], right[1:], right[:-1]], axis=1))
        cover = shapely.union_all(shapely.make_valid(quads))
        assert cover.intersection(part.area).area > 0.97 * part.area.area
        assert cover.difference(part.area.buffer(0.03)).area < 0.01 * part.area.area
        rungs = shapely.linestrings(np.stack([left, right], axis=1))
        assert not shapely.crosses(rungs[:-1], rungs[1:]).any()


@pytest.mark.parametrize("name", ["hairs", "limbs"])
def test_lines_are_connected_inside_and_reach_the_ends(name: str) -> None:
    shape = SHAPES[name]
    parts = [part for part in parted(shape) if part.kind in ("run", "triple run")]
    assert parts
    for part in parts:
        lines = [LineString(line.points) for line in part.lines]
        assert all(shape.buffer(1e-6).covers(line) for line in lines)
        ends = {tuple(line.points[k]) for line in part.lines for k in (0, -1)}
        assert len(ends) == len(lines) + 1  # a tree shares its end points exactly
        bold = shapely.union_all([line.buffer(0.55 * part.width_mm[1] + 0.1) for line in lines])
        assert bold.intersection(part.area).area > 0.9 * part.area.area


def test_a_straight_column_is_exact() -> None:
    column = column_of(parted(RECTANGLE)[0])
    assert tilt(column, (1.0, 0.0)) < 0.1
    assert np.abs(np.hypot(*(column.left - column.right).T) - 3.0).max() < 0.01
    middle = 0.5 * (column.left + column.right)
    assert np.ptp(middle[:, 0]) == pytest.approx(30.0, abs=0.03)


def test_a_ring_is_a_closed_column_with_radial_cross_sections() -> None:
    column = column_of(parted(ANNULUS)[0])
    assert column.closed
    across = column.left - column.right
    out = 0.5 * (column.left + column.right)
    cross = across[:, 0] * out[:, 1] - across[:, 1] * out[:, 0]
    angle = np.degrees(np.arcsin(np.abs(cross) / (np.hypot(*across.T) * np.hypot(*out.T))))
    assert np.percentile(angle, 95) < 0.1
    assert np.abs(np.hypot(*across.T) - 2.0).max() < 0.01


def test_left_and_right_are_as_seen_on_the_way() -> None:
    column = column_of(parted(RECTANGLE)[0])
    ahead = np.diff(0.5 * (column.left + column.right), axis=0)
    across = (column.left - column.right)[1:]
    assert (ahead[:, 0] * across[:, 1] - ahead[:, 1] * across[:, 0] < 0).all()  # y down


def test_bends_stay_square() -> None:
    x = np.linspace(0, 40, 300)
    wave = LineString(np.column_stack([x, 4 * np.sin(x / 5)])).buffer(1.25, cap_style="flat", quad_segs=32)
    column = column_of(parted(wave)[0])
    middle = 0.5 * (column.left + column.right)
    ahead, across = np.gradient(middle, axis=0), column.left - column.right
    sine = np.abs((ahead * across).sum(axis=1)) / (np.hypot(*ahead.T) * np.hypot(*across.T))
    assert np.degrees(np.arcsin(sine)).max() < 2.0


def test_the_wedge_changes_where_its_width_crosses_the_limit() -> None:
    shape = Polygon([(0, -0.05), (60, -3), (60, 3), (0, 0.05)])
    settings = SplitSettings(hairline_mm=1.0)
    parts = parted(shape, settings)
    assert sorted(part.kind for part in parts) in (["run", "satin"], ["satin", "triple run"])
    run = next(part for part in parts if part.kind != "satin")
    crossing = 60 * (settings.run_below_mm - 0.1) / 5.9
    assert run.area.bounds[2] - settings.overlap_mm == pytest.approx(crossing, abs=0.35)


def test_a_width_that_wavers_about_the_limit_does_not_flicker() -> None:
    x = np.linspace(0, 60, 400)
    half = 0.5 * (0.97 + 0.12 * np.sin(x))
    shape = Polygon(np.vstack([np.column_stack([x, half]), np.column_stack([x, -half])[::-1]]))
    assert len(parted(shape)) == 1


def test_corners_of_a_wide_shape_stay_tatami() -> None:
    assert kinds(box(0, 0, 30, 20)) == ["tatami"]
    assert kinds(Polygon([(0, 0), (40, 0), (20, 34.6)])) == ["tatami"]


def test_a_limb_reaches_beneath_the_core_by_the_overlap() -> None:
    parts = parted(box(0, 0, 20, 20).union(box(20, 9, 35, 11)))
    satin = next(part for part in parts if part.kind == "satin")
    assert satin.area.bounds[0] == pytest.approx(20 - SplitSettings().overlap_mm, abs=0.2)


def test_a_knob_on_a_hairline_is_satin() -> None:
    antenna = LineString([(0, 0), (3, 8), (8, 10)]).buffer(0.3).union(disc(1.2, 8, 10))
    assert kinds(antenna) == ["satin", "triple run"]


@pytest.mark.parametrize(
    ("width", "expected"), [(0.25, "run"), (0.5, "run"), (0.8, "triple run"), (1.6, "satin"), (6.8, "satin")]
)
def test_kind_by_width(width: float, expected: str) -> None:
    assert kinds(box(0, 0, 30, width)) == [expected]


@pytest.mark.parametrize("angle", [17.0, 33.0, 90.0])
@pytest.mark.parametrize("name", ["rectangle", "T", "X", "P", "8", "comb", "limbs", "star"])
def test_turning_keeps_the_kinds(name: str, angle: float) -> None:
    assert kinds(rotate(SHAPES[name], angle, origin=(0, 0))) == kinds(SHAPES[name])


def test_ids_count_from_one_and_repeat() -> None:
    first, second = parted(LIMBS), parted(LIMBS)
    assert [part.id for part in first] == ["r3.1", "r3.2", "r3.3"]
    for one, two in zip(first, second, strict=True):
        assert (one.id, one.kind, one.why, one.width_mm) == (two.id, two.kind, two.why, two.width_mm)
        assert one.area.equals_exact(two.area, 0.0)


def test_parts_carry_the_surface_decisions() -> None:
    place = surface(LIMBS, bare=box(-30, -30, 0, 30))
    found: list[Finding] = []
    parts = split((place,), SplitSettings(), CRAFT, found.append)
    for part in parts:
        assert part.row_mm == 0.21
        assert (part.angle_deg == 45.0) == (part.kind == "tatami")
        assert part.foundation.equals(multipolygon(place.foundation.intersection(part.area)))
    assert not found


def test_noise_of_the_outline_leaves_the_letter_a_letter() -> None:
    rng = np.random.default_rng(3)
    line = shapely.get_coordinates(shapely.segmentize(LETTER_T, 0.3).exterior)[:-1]
    noisy = Polygon(line + rng.uniform(-0.06, 0.06, line.shape))
    assert kinds(noisy) == ["satin"] * 2


def test_specks_and_hairlines_are_reported() -> None:
    found: list[Finding] = []
    shape = MultiPolygon([box(0, 0, 0.2, 0.5), box(5, 0, 20, 0.2), box(0, 5, 10, 8)])
    parts = split((surface(shape),), SplitSettings(), CRAFT, found.append)
    assert [finding.code for finding in found] == ["too-small-to-sew", "too-fine-for-shape"]
    assert all(finding.region == "r3" and finding.at is not None for finding in found)
    assert sorted(part.kind for part in parts) == ["run", "satin"]


def test_awkward_outlines_never_raise_and_lose_nothing() -> None:
    rng = np.random.default_rng(11)
    for _ in range(60):
        blobs = [
            translate(rotate(scale(disc(1), *rng.uniform(0.1, 6, 2)), rng.uniform(0, 180)), *rng.uniform(0, 25, 2))
            for _ in range(rng.integers(1, 9))
        ]
        holes = [disc(rng.uniform(0.05, 2), *rng.uniform(0, 25, 2)) for _ in range(3)]
        shape = multipolygon(shapely.union_all(blobs).difference(shapely.union_all(holes)))
        found: list[Finding] = []
        parts = split((surface(shape),), SplitSettings(), CRAFT, found.append)
        union = shapely.union_all([part.area for part in parts])
        lost = shape.difference(union).area
        assert lost <= 0.3 * sum(finding.code == "too-small-to-sew" for finding in found) + 1e-3 * shape.area
        assert union.difference(shape).area < 1e-3 * shape.area + 0.1


def test_a_stroke_runs_along_its_true_centreline() -> None:
    cross = (Line(points([(0, 0), (20, 8)])), Line(points([(0, 8), (20, 0)])))
    painted = shapely.union_all([LineString(line.points).buffer(0.35, cap_style="flat") for line in cross])
    place = surface(painted)
    known = replace(place, region=replace(place.region, stroke=Stroke(cross, 0.7)))
    (part,) = split((known,), SplitSettings(), CRAFT, lambda finding: None)
    assert part.kind == "triple run"
    assert len(part.lines) == 4
    assert sum((line.points == (10.0, 4.0)).all(axis=1).sum() for line in part.lines) == 4
    off = shapely.distance(
        shapely.points(np.vstack([line.points for line in part.lines])),
        shapely.union_all([LineString(line.points) for line in cross]),
    )
    assert off.max() < 1e-6


def test_a_stroke_that_no_longer_fits_is_not_used() -> None:
    line = Line(points([(0, 0), (20, 0)]))
    place = surface(box(0, -0.3, 20, 0.3).union(box(9, -0.3, 9.6, 12)))
    known = replace(place, region=replace(place.region, stroke=Stroke((line,), 0.6)))
    (part,) = split((known,), SplitSettings(), CRAFT, lambda finding: None)
    assert max(line.points[:, 1].max() for line in part.lines) > 11


def test_a_small_limb_beneath_other_regions_is_left_out() -> None:
    body, barb = box(0, 0, 20, 3), box(9, 3, 9.6, 6)
    place = surface(body.union(barb))
    region = replace(place.region, visible=multipolygon(body), restored_mm2=barb.area)
    hidden = split((replace(place, region=region),), SplitSettings(), CRAFT, lambda finding: None)
    assert [part.kind for part in hidden] == ["satin"]
    assert len(parted(body.union(barb))) == 2


@pytest.mark.parametrize("name", ["rectangle", "annulus", "ellipse", "spiral", "L"])
def test_sides_follow_the_outline_between_cross_sections(name: str) -> None:
    (part,) = parted(SHAPES[name])
    column = column_of(part)
    sides = [
        LineString(np.vstack([side, side[:1]]) if column.closed else side) for side in (column.left, column.right)
    ]
    outline = SHAPES[name].boundary
    for side in sides:
        spots = shapely.points(shapely.get_coordinates(shapely.segmentize(side, 0.05)))
        assert shapely.distance(spots, outline).max() < 0.02


def test_an_acute_corner_too_wide_for_a_mitre_becomes_a_butt_joint() -> None:
    letter = Polygon([(0, 0), (30, 0), (30, 5), (9, 24), (30, 24), (30, 29), (0, 29), (0, 24), (21, 5), (0, 5)])
    parts = parted(scale(letter, 0.93, 0.93))
    assert {part.kind for part in parts} == {"satin"}
    assert 2 <= len(parts) <= 3, "cut at its corners, not in the middle of a limb"
    widest = max(np.hypot(*(column_of(p).left - column_of(p).right).T).max() for p in parts)
    assert widest < 1.6 * SplitSettings().satin_up_to_mm


@pytest.mark.parametrize("turn", [0.0, 40.0, 180.0])
def test_a_small_wedge_is_no_line(turn: float) -> None:
    assert kinds(rotate(Polygon([(0, 0), (2.4, -0.35), (2.4, 0.35)]), turn)) == ["satin"]
    assert kinds(rotate(box(0, 0, 30, 0.45), turn)) == ["run"]


@pytest.mark.parametrize(
    "ring", [disc(0.7).difference(disc(0.25)), box(0, 0, 1.2, 1.6).difference(box(0.3, 0.4, 0.9, 1.2))]
)
def test_a_small_ring_is_sewn_round(ring: Polygon) -> None:
    (part,) = parted(ring)
    assert part.column.closed if part.column is not None else part.lines[0].closed


@pytest.mark.parametrize("turn", [0.0, 90.0, 180.0, 270.0])
def test_a_strip_at_a_joint_lies_beyond_its_face_whichever_way_its_branch_runs(turn: float) -> None:
    settings = SplitSettings()
    axis = medial_axis(rotate(LETTER_T, turn), 0.2, 0.6)
    layout = gathered(axis, stretches(axis, settings), settings)
    cut(axis, layout)
    limbs = [g for g in layout.groups if any((id(m), end) in layout.under for m in g.members for end in (0, 1))]
    assert limbs
    for limb in limbs:
        assert limb.face is not None
        more = _with_strips(axis, limb, limb.face, layout, settings).area - limb.face.area
        assert more >= 0.5 * settings.overlap_mm * 2.5
