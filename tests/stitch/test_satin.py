"""Satin columns: exact figures on exact shapes, and invariants over shapes × places × widths."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from crafts import CRAFT, craft
from scipy.spatial import cKDTree
from shapely.geometry import LineString, MultiPolygon, Polygon

from pipeline.errors import BrokenPromiseError
from pipeline.model import Column, Fabric, Part, Step, points
from pipeline.stitch.rungs import ladder
from pipeline.stitch.satin import lay_satin
from pipeline.stitch.settings import RunSettings, SatinSettings

RUN = RunSettings()
SATIN = SatinSettings()
TWILL = Fabric("twill", 0.15, 0.20, 0.40, "edge and rows", "tear-away", 1.0)


def part_of(left, right, closed=False, foundation=True):
    left, right = points(left), points(right)
    if closed:
        area = Polygon(left).symmetric_difference(Polygon(right))
    else:
        turn = range(len(left) - 1)
        quads = [Polygon([left[i], left[i + 1], right[i + 1], right[i]]).buffer(1e-6) for i in turn]
        area = shapely.union_all(quads)
    assert isinstance(area, Polygon)
    width = np.hypot(*(left - right).T)
    spread = (float(width.min()), float(np.median(width)), float(width.max()))
    bed = MultiPolygon([area]) if foundation else MultiPolygon()
    return Part("p1", "r1", "satin", area, spread, bed, 0.2, "", bare=bed, column=Column(left, right, closed))


def sewn(part, start, end, fabric=TWILL, settings=SATIN):
    return lay_satin(Step(part, "#000000", start, end), settings, RUN, craft(fabric)).strands


def of_layer(strands, layer):
    found = [strand.points for strand in strands if strand.layer == layer]
    return np.vstack(found) if found else np.empty((0, 2))


def all_points(strands):
    return np.vstack([strand.points for strand in strands])


def rectangle(length, width):
    return [[0, 0], [length, 0]], [[0, width], [length, width]]


def around(centre, width):
    way = np.gradient(centre, axis=0)
    way /= np.hypot(*way.T)[:, None]
    half = np.broadcast_to(width, len(centre))[:, None] / 2 * np.column_stack([way[:, 1], -way[:, 0]])
    return centre + half, centre - half


def circle(radius, count=360):
    angle = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


def bent(radius, degrees=180.0):
    """A straight, a bend and a straight, in fine steps."""
    angle = np.radians(np.linspace(0, degrees, 120))
    bend = radius * np.column_stack([np.sin(angle), 1 - np.cos(angle)])
    out = np.array([np.cos(angle[-1]), np.sin(angle[-1])])
    return np.vstack([[[-6, 0], [-3, 0]], bend, bend[-1] + np.outer([3, 6], out)])


def columns():
    x = np.linspace(0, 25, 60)
    level = np.column_stack([x, 0 * x])
    wave = np.column_stack([x, 2 * np.sin(x / 3)])
    corner = (
        [[0, 0], [8, 0], [10, 0], [10, 2], [10, 10]],
        [[0, 2], [8, 2], [8 + 1e-7, 2], [8 + 2e-7, 2], [8, 10]],
    )
    return {
        "rectangle 1.2": part_of(*rectangle(20, 1.2)),
        "rectangle 2": part_of(*rectangle(20, 2)),
        "rectangle 3": part_of(*rectangle(20, 3)),
        "rectangle 5": part_of(*rectangle(20, 5)),
        "split stitches": part_of(*rectangle(12, 9)),
        "wedge": part_of(*around(level, 0.5 + 5.5 * x / 25)),
        "star arm": part_of(*around(level, 4 * (1 - x / 25))),
        "spindle": part_of(*around(level, np.minimum(x, 25 - x) * 0.25)),
        "wave": part_of(*around(wave, 2.5)),
        "bend": part_of(*around(bent(1.5, 170), 2.4)),
        "hook": part_of(*around(bent(1.2, 150), 1.7)),
        "corner": part_of(*corner),
        "short": part_of(*rectangle(0.6, 1.5)),
        "thin": part_of(*rectangle(6, 0.3)),
    }


COLUMNS = columns()


def ends_of(part):
    middle = (part.column.left + part.column.right) / 2
    first, last = tuple(0.97 * middle[0] + 0.03 * middle[1]), tuple(0.97 * middle[-1] + 0.03 * middle[-2])
    half = tuple(middle[len(middle) // 2] * 0.5 + middle[len(middle) // 2 - 1] * 0.5)
    return {
        "there and back": (first, first),
        "through": (first, last),
        "from amid": (half, last),
        "amid": (last, half),
    }


@pytest.mark.parametrize("way", ["there and back", "through", "from amid", "amid"])
@pytest.mark.parametrize("name", COLUMNS)
def test_every_column_is_covered_and_can_be_sewn(name, way):
    part = COLUMNS[name]
    start, end = ends_of(part)[way]
    strands = sewn(part, start, end)
    dots = all_points(strands)
    stitch = np.hypot(*np.diff(dots, axis=0).T)
    on_grid = np.hypot(*np.diff(np.rint(dots * 10) / 10, axis=0).T)
    assert np.hypot(*(dots[0] - start)) <= 0.5
    assert np.hypot(*(dots[-1] - end)) <= 0.5
    assert stitch.max() <= 7.0
    assert on_grid.min() >= 0.3 - 1e-9
    pairs = cKDTree(dots).query_pairs(1.0, output_type="ndarray")
    middles = np.vstack([dots, dots[pairs].mean(axis=1)])
    assert cKDTree(dots).query_ball_point(middles, 0.5, return_length=True).max() <= 14
    cover = shapely.union_all([LineString(s.points) for s in strands if s.layer == "cover" and len(s.points) > 1])
    assert part.area.intersection(cover.buffer(0.225)).area >= 0.995 * part.area.area
    widest = max(0.15, 0.05 * part.width_mm[2])
    spill = LineString(dots).difference(part.area.buffer(widest + 0.01, join_style="mitre", mitre_limit=3))
    assert spill.length <= 0.001 * LineString(dots).length


@pytest.mark.parametrize("way", ["there and back", "through", "from amid", "amid"])
@pytest.mark.parametrize("name", COLUMNS)
def test_what_is_hidden_lies_under_the_cover(name, way):
    part = COLUMNS[name]
    strands = sewn(part, *ends_of(part)[way])
    cover = shapely.union_all([LineString(s.points) for s in strands if s.layer == "cover" and len(s.points) > 1])
    hidden = [s.points for s in strands if s.layer != "cover" and len(s.points) > 1]
    assert hidden or name in ("short", "thin") or (name, way) == ("rectangle 1.2", "through")
    for line in hidden:
        assert LineString(line).difference(cover.buffer(0.3)).length <= 0.02


@pytest.mark.parametrize(("length", "width"), [(10, 1.5), (20, 3), (7.4, 4.2), (30, 6)])
def test_a_rectangle_has_the_exact_number_of_crossings(length, width):
    strands = sewn(part_of(*rectangle(length, width)), (0.1, width / 2), (0.1, width / 2))
    cover = of_layer(strands, "cover")
    side = np.sign(cover[:, 1] - width / 2)
    crossings = np.count_nonzero(side[1:] * side[:-1] < 0)
    assert crossings == round((length - 2 * SATIN.end_inset_mm) / 0.2) + 1  # each advances 0.20, both ends squared
    pull = max(0.15, 0.05 * width)
    assert cover[side != 0][:, 1].min() == pytest.approx(-pull)
    assert cover[side != 0][:, 1].max() == pytest.approx(width + pull)


def test_the_pitch_on_a_straight_rail_is_the_fabrics():
    for pitch in (0.34, 0.40, 0.51):
        fabric = Fabric("twill", 0.15, 0.2, pitch, "edge", "tear-away", 1.0)
        cover = of_layer(sewn(part_of(*rectangle(20, 2)), (0.1, 1), (0.1, 1), fabric), "cover")
        one_side = np.sort(cover[cover[:, 1] < 0][:, 0])
        assert np.diff(one_side)[1:-1] == pytest.approx(pitch, rel=0.02)


@pytest.mark.parametrize(("outer", "inner"), [(8, 5.5), (5, 3.5), (3, 1.6), (2, 0.8)])
def test_a_ring_keeps_the_pitch_on_its_outer_rail_and_room_on_its_inner_one(outer, inner):
    ring = part_of(circle(outer), circle(inner), closed=True, foundation=False)
    spot = ((outer + inner) / 2, 0.0)
    cover = of_layer(sewn(ring, spot, spot), "cover")
    radius = np.hypot(*cover.T)
    angle = np.mod(np.arctan2(cover[:, 1], cover[:, 0]), 2 * np.pi)
    rim = outer + max(0.15, 0.05 * (outer - inner))
    seam = 0.75 / rim
    outside = np.sort(angle[(radius > rim - 0.02) & (angle > seam) & (angle < 2 * np.pi - seam)])
    assert rim * np.diff(outside) == pytest.approx(0.40, rel=0.05)
    within = cover[(radius < (outer + inner) / 2) & (angle > seam) & (angle < 2 * np.pi - seam)]
    assert cKDTree(within).query(within, 2)[0][:, 1].min() >= 0.20


def test_a_rings_seam_overlaps_with_its_points_between_those_beneath():
    ring = part_of(circle(8), circle(5.5), closed=True, foundation=False)
    cover = of_layer(sewn(ring, (6.75, 0.0), (6.75, 0.0)), "cover")[1:-1]
    rim = 8.15
    turn = np.unwrap(np.arctan2(cover[:, 1], cover[:, 0]))
    crossings = 2 * round((2 * np.pi * rim / 0.2 - 1) / 2) + 1
    assert len(cover) == 1 + crossings + 2 * round(SATIN.seam_mm / 0.4)
    assert rim * (abs(turn[-1] - turn[0]) - 2 * np.pi) == pytest.approx(SATIN.seam_mm, rel=0.25)
    outside = cover[np.hypot(*cover.T) > rim - 0.02]
    near = cKDTree(outside).query(outside, 2)[0][:, 1]
    assert near.min() == pytest.approx(0.2, rel=0.05)


def test_a_wedge_is_sewn_to_its_exact_width():
    x = np.linspace(0, 25, 2)
    width = np.array([0.6, 6.0])
    level = np.column_stack([x, 0 * x])
    half = np.column_stack([0 * x, width / 2])
    cover = of_layer(sewn(part_of(level + half, level - half), (24.9, 0), (24.9, 0)), "cover")[:-1]
    local = 0.6 + 5.4 * cover[:, 0] / 25
    wanted = local / 2 + np.maximum(0.15, 0.05 * local)
    assert np.abs(cover[:, 1]) == pytest.approx(wanted, abs=0.01)


def test_rungs_never_cross_even_where_compensation_reaches_into_a_bend():
    for name in ("bend", "hook", "wave", "corner"):
        rungs = ladder(COLUMNS[name].column, 0.4, 0.1)
        left, right = rungs.rails(np.linspace(0, rungs.total, 400), wide=True)
        lines = shapely.linestrings(np.stack([left, right], axis=1))
        assert not shapely.crosses(lines[:-1], lines[1:]).any()


@pytest.mark.parametrize(("width", "kinds", "passes"), [(1.4, 0, 0), (2.0, 1, 2), (3.2, 2, 2), (5.5, 2, 4)])
def test_foundation_goes_by_width(width, kinds, passes):
    part = part_of(*rectangle(24, width))
    bed = of_layer(sewn(part, (0.1, width / 2), (23.9, width / 2)), "foundation")
    if not passes:
        assert not len(bed)
        return
    way = np.sum(np.abs(np.diff(bed[:, 0])))
    assert way == pytest.approx(passes * 23, rel=0.06)
    assert bed[:, 1].min() >= 0.4
    assert bed[:, 1].max() <= width - 0.4
    heights = (
        np.unique(np.round(bed[np.abs(bed[:, 1] - width / 2) > width / 2 - 0.55][:, 1], 2)) if kinds > 1 else []
    )
    assert len(heights) == (2 if kinds > 1 else 0)


def test_the_open_zigzag_has_its_crossings_two_mm_apart():
    bed = of_layer(sewn(part_of(*rectangle(24.6, 5)), (0.1, 2.5), (0.1, 2.5)), "foundation")
    corners = bed[np.isclose(bed[:, 1], 0.5) | np.isclose(bed[:, 1], 4.5)]
    flips = corners[1:][np.diff(corners[:, 1]) != 0]
    assert np.abs(np.diff(flips[:, 0]))[1:] == pytest.approx(2.0, rel=0.05)


def test_foundation_only_where_the_part_asks_for_it():
    whole = part_of(*rectangle(24, 3))
    bare = MultiPolygon([shapely.box(8, -1, 16, 4)])
    part = Part(**{**whole.__dict__, "foundation": bare, "bare": bare})
    for end in ((0.1, 1.5), (23.9, 1.5)):
        bed = of_layer(sewn(part, (0.1, 1.5), end), "foundation")
        assert len(bed)
        assert bed[:, 0].min() >= 8.0
        assert bed[:, 0].max() <= 16.0


def test_an_overlay_gets_no_foundation():
    strands = sewn(part_of(*rectangle(24, 3), foundation=False), (0.1, 1.5), (0.1, 1.5))
    assert {strand.layer for strand in strands} == {"travel", "cover"}


def test_split_stitches_are_staggered():
    cover = of_layer(sewn(part_of(*rectangle(12, 9)), (0.1, 4.5), (0.1, 4.5)), "cover")
    inner = cover[(cover[:, 1] > 1) & (cover[:, 1] < 8)][:-1]
    assert len(inner) > 40
    neighbours = cKDTree(inner).query(inner, 2)[0][:, 1]
    assert neighbours.min() > 0.4
    assert len(np.unique(np.round(inner[:, 1], 1))) >= 4


def test_a_taper_ends_in_a_run_to_its_very_tip():
    x = np.linspace(0, 20, 50)
    part = part_of(*around(np.column_stack([x, 0 * x]), 3 * (1 - x / 20)))
    cover = of_layer(sewn(part, (0.1, 0), (0.1, 0)), "cover")
    assert cover[:, 0].max() == pytest.approx(20, abs=0.01)
    tip = cover[cover[:, 0] > 20 * (1 - SATIN.tip_mm / 3) + 0.2]
    assert np.abs(tip[:, 1]).max() <= SATIN.tip_mm / 2


def test_a_tip_that_the_thread_leaves_from_is_sewn_three_times():
    x = np.linspace(0, 20, 50)
    part = part_of(*around(np.column_stack([x, 0 * x]), 3 * (1 - x / 20)))
    cover = of_layer(sewn(part, (0.1, 0), (19.9, 0)), "cover")
    base = 20 * (1 - SATIN.tip_mm / 3)
    beyond = np.abs(np.diff(np.maximum(cover[:, 0], base))).sum()
    assert beyond > 2.8 * (20 - base)


def test_turned_input_gives_the_same_sewing():
    part = COLUMNS["bend"]
    turn = np.radians(33)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    start = ends_of(part)["there and back"][0]
    plain = all_points(sewn(part, start, start))
    turned = part_of(part.column.left @ spin, part.column.right @ spin)
    spot = tuple(np.array(start) @ spin)
    assert all_points(sewn(turned, spot, spot)) == pytest.approx(plain @ spin, abs=1e-6)


def random_column(seed):
    """A seeded column: bends down to a radius just over half its width, tapers, pinches."""
    rng = np.random.default_rng(seed)
    knots, whole = int(rng.integers(4, 9)), float(rng.uniform(1.0, 14.0))
    wide = float(rng.choice([1.0, 1.5, 2.5, 4.0, 6.0]) * rng.uniform(0.7, 1.3))
    along = np.linspace(0, whole, max(8, int(whole / 0.3)))
    widths = wide * rng.uniform(0.6, 1.2, knots)
    if rng.random() < 0.4:
        widths[-1] = rng.choice([0.0, 0.05, 0.3])
    least = 1 / (wide * 0.62)
    bend = np.interp(along, np.linspace(0, whole, knots), rng.uniform(-least, least, knots))
    step = np.gradient(along)
    turn = np.cumsum(bend * step)
    turn *= min(1.0, 2.5 / max(np.ptp(turn), 1e-9))  # never far enough round to meet itself
    centre = np.column_stack([np.cumsum(np.cos(turn) * step), np.cumsum(np.sin(turn) * step)])
    half = np.column_stack([np.sin(turn), -np.cos(turn)])
    half = half * (np.interp(along, np.linspace(0, whole, knots), widths) / 2)[:, None]
    return part_of(centre + half, centre - half, foundation=bool(rng.random() < 0.5)), centre


@pytest.mark.parametrize("seed", range(60))
def test_seeded_columns_keep_their_promises(seed):
    part, centre = random_column(seed)
    start, end = tuple(centre[0]), tuple(centre[-1] if seed % 2 else centre[0])
    strands = sewn(part, start, end)
    dots = all_points(strands)
    on_grid = np.hypot(*np.diff(np.rint(dots * 10) / 10, axis=0).T)
    assert np.isfinite(dots).all()
    assert on_grid.min() >= 0.3 - 1e-9
    assert np.hypot(*np.diff(dots, axis=0).T).max() <= 7.0
    assert np.hypot(*(dots[-1] - end)) <= 0.5
    assert cKDTree(dots).query_ball_point(dots, 0.5, return_length=True).max() <= 14
    sewn_line = LineString(dots)
    assert part.area.intersection(sewn_line.buffer(0.225)).area >= 0.985 * part.area.area


def test_a_satin_part_without_a_column_is_our_fault():
    part = Part(**{**COLUMNS["short"].__dict__, "column": None})
    with pytest.raises(BrokenPromiseError, match="p1"):
        sewn(part, (0, 0), (0, 0))


def fan(width, degrees=120.0, count=60):
    """A column that turns about a point, between two straights."""
    turn = np.radians(np.linspace(0, degrees, count))
    arc = width * np.column_stack([np.sin(turn), -np.cos(turn)])
    out = 6 * np.array([np.cos(turn[-1]), np.sin(turn[-1])])
    left = np.vstack([[-6.0, 0.0], np.zeros((count, 2)), out])
    right = np.vstack([[-6.0, -width], arc, arc[-1] + out])
    return left, right


def thread_mm(cover, cells=1.0):
    """The most thread in a square of a millimetre."""
    pieces = [np.linspace(a, b, 40, endpoint=False) for a, b in pairwise(cover)]
    length = np.repeat(np.hypot(*np.diff(cover, axis=0).T) / 40, 40)
    _, cell = np.unique(np.floor(np.vstack(pieces) / cells), axis=0, return_inverse=True)
    return np.bincount(cell.reshape(-1), length).max()


@pytest.mark.parametrize("width", [3.0, 5.0, 6.5])
def test_a_fan_about_a_point_lies_no_thicker_than_three_layers(width):
    left, right = fan(width)
    cover = of_layer(sewn(part_of(left, right), tuple(left[0]), tuple(right[-1])), "cover")
    assert thread_mm(cover) < 3 * 5.0
    bare = part_of(left, right).area.buffer(-0.05).difference(LineString(cover).buffer(0.225))
    assert bare.area < 0.02 * part_of(left, right).area.area


@pytest.mark.parametrize("slant_deg", [10.0, 20.0, 45.0])
def test_a_slanted_end_lies_no_thicker_than_a_straight_one(slant_deg):
    reach = 5.0 * np.tan(np.radians(slant_deg))
    part = part_of([[0, 4.9], [reach, 0], [20, 0]], [[0, 5], [reach, 5], [20, 5]])
    cover = of_layer(sewn(part, (0, 5), (20, 2.5)), "cover")
    assert thread_mm(cover) < 2.2 * 5.0
    bare = part.area.buffer(-0.05).difference(LineString(cover).buffer(0.225))
    assert bare.area < 0.02 * part.area.area


@pytest.mark.parametrize("width", [6.5, 6.65])
def test_compensation_does_not_make_a_crossing_so_long_that_it_is_split(width):
    part = part_of(*rectangle(20, width))
    cover = of_layer(sewn(part, (0, width / 2), (20, width / 2)), "cover")
    steps = np.hypot(*np.diff(cover, axis=0).T)
    assert steps.max() <= CRAFT.longest_mm
    assert np.sort(steps)[3:].min() > width


def test_stations_that_advance_by_turns_cost_no_extra_crossings():
    places = np.linspace(0, 20, 81)
    left = np.column_stack([np.repeat(places, 2)[:-1], np.zeros(161)])
    right = np.column_stack([np.repeat(places, 2)[1:], np.full(161, 3.0)])
    plain = of_layer(sewn(part_of(*rectangle(20, 3)), (0, 1.5), (20, 1.5)), "cover")
    uneven = of_layer(sewn(part_of(left, right), (0, 1.5), (20, 1.5)), "cover")
    assert abs(len(uneven) - len(plain)) <= 0.03 * len(plain)


def test_foundation_does_not_crowd_the_inside_of_an_acute_bend():
    left, right = fan(5.0, 150.0)
    hidden = of_layer(sewn(part_of(left, right), tuple(left[0]), tuple(right[-1])), "foundation")
    crowd = cKDTree(hidden).query_ball_point(hidden, 0.5, return_length=True)
    assert crowd.max() <= 2 * (SATIN.hidden_crowd + 1)


def test_the_seam_of_a_narrow_ring_is_short():
    overlaps = []
    for width in (2.0, 0.5):
        part = part_of(circle(5), circle(5 - width), closed=True)
        cover = of_layer(sewn(part, (5, 0), (5, 0)), "cover")
        turn = np.unwrap(np.arctan2(cover[1:, 1], cover[1:, 0]))
        overlaps.append(abs(turn[-1] - turn[0]) * 5 - 2 * np.pi * 5)
    assert overlaps[0] == pytest.approx(SATIN.seam_mm, abs=0.3)
    assert overlaps[1] < overlaps[0] - 0.1
