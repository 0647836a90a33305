"""Run and triple run: the walk against an outside judge, the stitches against the line."""

import itertools

import networkx as nx
import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.geometry import LineString, MultiLineString, MultiPolygon, Point

from pipeline.errors import BrokenPromiseError
from pipeline.model import Fabric, Line, Part, Step, points
from pipeline.stitch.postman import walk
from pipeline.stitch.run import lay_run
from pipeline.stitch.settings import RunSettings

RUN = RunSettings()
TWILL = Fabric("twill", 0.15, 0.20, 0.40, "edge and rows", "tear-away", 1.0)


def line(*spots, closed=False):
    return Line(points(spots), closed)


def shapes_of(lines):
    return MultiLineString([np.vstack([x.points, x.points[:1]]) if x.closed else x.points for x in lines])


def sewn(lines, start, end, kind="run", settings=RUN, width=0.25):
    area = shapes_of(lines).buffer(0.4).convex_hull
    part = Part("p1", "r1", kind, area, (width, width, width), MultiPolygon(), 0.2, "", lines=tuple(lines))
    strands = lay_run(Step(part, "#000000", start, end), settings, CRAFT).strands
    assert [strand.layer for strand in strands] == ["cover"]
    return strands[0].points


def walked(lines, start, end):
    return sum(LineString(leg.points).length for leg in walk(tuple(lines), start, end, 0.0))


def judged(lines, start, end):
    """The least possible walk, by networkx: all lines once, and a shortest matching of the odd nodes."""
    graph = nx.MultiGraph()
    for one in lines:
        ends = [tuple(np.round(spot, 6)) for spot in (one.points[0], one.points[0 if one.closed else -1])]
        graph.add_edge(*ends, weight=shapes_of([one]).length)
    odd = {node for node in graph if (graph.degree(node) + (node == start) + (node == end)) % 2}
    far = dict(nx.all_pairs_dijkstra_path_length(graph))
    complete = nx.Graph()
    for a, b in itertools.combinations(sorted(odd), 2):
        complete.add_edge(a, b, weight=far[a][b])
    doubled = sum(far[a][b] for a, b in nx.min_weight_matching(complete))
    return graph.size(weight="weight") + doubled


def lattice(columns, rows, seed):
    """A lattice with some of its edges left out, connected, its nodes moved a little."""
    rng = np.random.default_rng(seed)
    spots = {
        (i, j): tuple(3 * np.array([i, j]) + rng.uniform(-1, 1, 2)) for i in range(columns) for j in range(rows)
    }
    pairs = [((i, j), (i + 1, j)) for i in range(columns - 1) for j in range(rows)]
    pairs += [((i, j), (i, j + 1)) for i in range(columns) for j in range(rows - 1)]
    graph = nx.Graph(pairs)
    for n in rng.permutation(len(pairs)).tolist():
        if rng.random() < 0.35:
            graph.remove_edge(*pairs[n])
            if not nx.is_connected(graph):
                graph.add_edge(*pairs[n])
    lines = [line(spots[a], spots[b]) for a, b in pairs if graph.has_edge(a, b)]
    nodes = sorted({tuple(np.round(spot, 6)) for one in lines for spot in one.points})
    return lines, nodes


@pytest.mark.parametrize(
    ("foot", "way"),
    [
        ((12.817135, 1.240865), (-3.26, 3.53)),
        ((33.387645000000006, 1.591485), (-2.01, -2.06)),
        ((4.7799450000000006, 22.490385000000003), (3.82, 3.1)),
        ((7.899605, 6.510055), (-0.57, -3.49)),
    ],
)
def test_a_line_that_ends_in_the_midst_of_another_is_joined_there(foot, way):
    """These ends lie on the border between cells of 10 nm: cell by cell, no link ever joined the two lines."""
    foot, way = np.array(foot), np.array(way)
    lines = line(foot - way, foot + way), line(foot, foot + way[::-1] * [1, -1])
    assert walked(lines, tuple(foot - way), tuple(foot + way)) == pytest.approx(4 * np.hypot(*way), abs=1e-4)


def test_many_lines_apart_are_joined_by_short_links():
    """No longer than a spanning tree of their gaps, by networkx; links from links may make it shorter."""
    rng = np.random.default_rng(5)
    lines = [line(spot, spot + rng.uniform(-1, 1, 2)) for spot in rng.uniform(0, 60, (25, 2))]
    gaps = nx.Graph()
    for (a, one), (b, other) in itertools.combinations(enumerate(lines), 2):
        gaps.add_edge(a, b, weight=shapes_of([one]).distance(shapes_of([other])))
    least = nx.minimum_spanning_tree(gaps).size(weight="weight")
    own = {leg.edge: LineString(leg.points).length for leg in walk(tuple(lines), (0, 0), (0, 0), 0.0)}
    links = sum(own.values()) - shapes_of(lines).length
    assert 0.9 * least < links <= least + 1e-6


@pytest.mark.parametrize("seed", range(24))
def test_the_walk_is_as_short_as_networkx_says(seed):
    lines, nodes = lattice(3 + seed % 4, 3 + seed % 3, seed)
    rng = np.random.default_rng(seed)
    start, end = (nodes[n] for n in rng.integers(0, len(nodes), 2))
    assert walked(lines, start, end) == pytest.approx(judged(lines, start, end), abs=1e-6)
    if seed % 3 == 0:
        assert walked(lines, start, start) == pytest.approx(judged(lines, start, start), abs=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_many_odd_nodes_are_matched_exactly_too(seed):
    lines, nodes = lattice(9, 7, 100 + seed)
    assert walked(lines, nodes[0], nodes[-1]) == pytest.approx(judged(lines, nodes[0], nodes[-1]), abs=1e-6)


def test_a_net_of_a_hundred_odd_nodes_is_walked_in_little_more_than_the_least():
    lines, nodes = lattice(15, 15, 300)
    least = judged(lines, nodes[0], nodes[-1])
    assert least - 1e-6 <= walked(lines, nodes[0], nodes[-1]) <= 1.02 * least


@pytest.mark.parametrize("seed", range(10))
def test_a_tree_is_walked_out_and_back_and_nothing_more(seed):
    rng = np.random.default_rng(seed)
    spots = [np.zeros(2)]
    lines = []
    for _ in range(40):
        base = spots[int(rng.integers(len(spots)))]
        tip = base + rng.uniform(-6, 6, 2)
        spots.append(tip)
        lines.append(line(base, tip))
    whole = shapes_of(lines).length
    start, end = tuple(np.round(spots[3], 6)), tuple(np.round(spots[17], 6))
    assert walked(lines, start, start) == pytest.approx(2 * whole)
    assert walked(lines, start, end) == pytest.approx(judged(lines, start, end))


@pytest.mark.parametrize("kind", ["run", "triple run"])
@pytest.mark.parametrize("seed", range(8))
def test_every_line_is_sewn_from_start_to_end_with_sane_stitches(seed, kind):
    lines, nodes = lattice(4, 3, seed)
    start, end = nodes[0], nodes[-1]
    dots = sewn(lines, start, end, kind)
    stitch = np.hypot(*np.diff(dots, axis=0).T)
    assert np.hypot(*(dots[0] - start)) <= 0.5
    assert np.hypot(*(dots[-1] - end)) <= 0.5
    assert stitch.max() <= RUN.stitch_mm + 1e-9
    assert stitch.min() >= 0.45 - 1e-9
    sewing = LineString(dots)
    assert shapes_of(lines).difference(sewing.buffer(0.08)).length <= 0.5
    assert sewing.difference(shapes_of(lines).buffer(0.08)).length <= 0.01


def kinked(seed):
    """A polyline that turns by less than a corner at every vertex, one to three mm apart."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(np.radians(rng.uniform(-44, 44, 40)))
    step = rng.uniform(1, 3, 40)
    return np.cumsum(np.column_stack([step * np.cos(heading), step * np.sin(heading)]), axis=0)


def curves():
    t = np.linspace(0, 20, 400)
    angle = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    spiral = np.linspace(1.5, 14, 400)
    return {
        "sine": Line(points(np.column_stack([t, 2 * np.sin(t)]))),
        "circle 8": Line(points(8 * np.column_stack([np.cos(angle), np.sin(angle)])), closed=True),
        "circle 2": Line(points(2 * np.column_stack([np.cos(angle), np.sin(angle)])), closed=True),
        "circle 0.6": Line(points(0.6 * np.column_stack([np.cos(angle), np.sin(angle)])), closed=True),
        "spiral": Line(points(spiral[:, None] * np.column_stack([np.cos(spiral), np.sin(spiral)]))),
        "zigzag": line((0, 0), (2.5, 3), (5, 0), (7, 3), (9, 0), (12, 0.4)),
        "kinks": Line(points(kinked(11))),
        "rough arc": Line(points(np.column_stack([t, 0.02 * t**2 + 0.01 * np.sin(40 * t)]))),
    }


@pytest.mark.parametrize("name", curves())
def test_chords_stay_within_eight_hundredths(name):
    curve = curves()[name]
    start = tuple(curve.points[0])
    end = start if curve.closed else tuple(curve.points[-1])
    dots = sewn([curve], start, end)
    whole = shapes_of([curve])
    fine = shapely.line_interpolate_point(LineString(dots), np.linspace(0, LineString(dots).length, 3000))
    assert shapely.distance(whole, fine).max() <= 0.08
    back = shapely.line_interpolate_point(whole.geoms[0], np.linspace(0, whole.length, 3000))
    assert shapely.distance(LineString(dots), back).max() <= 0.08
    stitch = np.hypot(*np.diff(dots, axis=0).T)
    assert stitch.min() >= 0.45
    assert stitch.max() <= RUN.stitch_mm + 1e-9


def test_stitches_are_long_where_the_line_is_straight_and_shorter_in_bends():
    straight = sewn([line((0, 0), (40, 0))], (0, 0), (40, 0))
    assert len(straight) == 1 + int(np.ceil(40 / RUN.stitch_mm))
    bend = np.hypot(*np.diff(sewn([curves()["circle 2"]], (2, 0), (2, 0)), axis=0).T)
    assert bend.min() >= 0.9  # √(8 · 0.07 · 2) = 1.06 mm: a chord over radius 2 mm strays 0.07 mm
    assert bend.max() <= 1.25


def test_corners_get_a_needle_point():
    zigzag = curves()["zigzag"]
    dots = sewn([zigzag], tuple(zigzag.points[0]), tuple(zigzag.points[-1]))
    for corner in zigzag.points[[0, 1, 2, 3, 5]]:
        assert np.hypot(*(dots - corner).T).min() < 1e-9


def test_triple_run_goes_forward_back_forward():
    dots = sewn([line((0, 0), (9, 0))], (0, 0), (9, 0), "triple run")
    stops = np.unique(dots[:, 0])
    wanted = [stops[0]] + [x for a, b in itertools.pairwise(stops) for x in (b, a, b)]
    assert dots[:, 0].tolist() == wanted


@pytest.mark.parametrize("width", [0.6, 0.8, 1.0])
def test_a_triple_run_is_as_bold_as_its_line(width):
    bold = [line((0, 0), (9, 0), (12, 5)), line((9, 0), (14, -2))]
    dots = sewn(bold, (0, 0), (14, -2), "triple run", width=width)
    painted = shapes_of(bold).buffer(width / 2, cap_style="flat")
    assert painted.intersection(LineString(dots).buffer(0.225)).area >= 0.97 * painted.area
    assert LineString(dots).buffer(0.125).difference(painted.buffer(0.2)).area < 0.01
    assert np.hypot(*np.diff(dots, axis=0).T).min() >= 0.45
    holes = np.unique(np.round(dots, 6), axis=0, return_counts=True)[1]
    assert holes.max() <= 2


@pytest.mark.parametrize("name", ["sine", "circle 2", "circle 0.6", "spiral"])
def test_a_bold_bend_has_no_short_stitch(name):
    curve = curves()[name]
    dots = sewn([curve], tuple(curve.points[0]), tuple(curve.points[-1]), "triple run", width=0.8)
    on_grid = np.hypot(*np.diff(np.rint(dots * 10) / 10, axis=0).T)
    assert on_grid.min() >= 0.3 - 1e-9


def test_a_triple_run_takes_a_line_it_must_repeat_only_once_more():
    dots = sewn([line((0, 0), (9, 0))], (0, 0), (0, 0), "triple run")
    assert LineString(dots).length == pytest.approx(4 * 9)


@pytest.mark.parametrize("kind", ["run", "triple run"])
@pytest.mark.parametrize("returns", [True, False])
@pytest.mark.parametrize("long", [0.1, 0.3, 0.5, 0.7, 0.95, 1.0, 1.3, 2.0])
def test_a_dash_is_a_dot_of_a_few_sane_stitches(long, returns, kind):
    slope = np.array([0.8, 0.6])
    end = (0.0, 0.0) if returns else tuple(long * slope)
    dots = sewn([line((0, 0), long * slope)], (0, 0), end, kind)
    on_grid = np.hypot(*np.diff(np.rint(dots * 10) / 10, axis=0).T)
    assert len(on_grid) <= 4
    assert len(on_grid) >= (2 if long < 1 or returns else 1)
    assert on_grid.min() >= 0.3
    along = dots @ slope
    assert np.ptp(along) == pytest.approx(max(long, 0.5))
    assert np.abs(dots @ [-0.6, 0.8]).max() < 1e-9
    assert np.hypot(*(dots[-1] - end)) <= 0.25


def test_a_loop_entered_anywhere_is_sewn_once_round():
    circle = curves()["circle 8"]
    for angle in (0.0, 1.0, 2.5, 4.4):
        spot = (8 * np.cos(angle), 8 * np.sin(angle))
        dots = sewn([circle], spot, spot)
        assert LineString(dots).length == pytest.approx(16 * np.pi, rel=0.01)
        assert np.hypot(*(dots[0] - spot)) < 0.12
        assert np.hypot(*(dots[-1] - spot)) < 0.12


def test_a_loop_left_at_its_far_side_goes_half_round_again():
    circle = curves()["circle 8"]
    assert walked([circle], (8, 0), (-8, 0)) == pytest.approx(1.5 * 16 * np.pi, rel=0.01)


def test_loops_on_a_stem():
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    left = Line(points(np.column_stack([2 * np.cos(angle), 2 * np.sin(angle)])), closed=True)
    right = Line(points(np.column_stack([8 - 2 * np.cos(angle), 2 * np.sin(angle)])), closed=True)
    stem = line((2, 0), (6, 0))
    assert walked([left, stem, right], (2, 0), (6, 0)) == pytest.approx(shapes_of([left, stem, right]).length)


def test_a_line_that_meets_another_between_its_ends_is_joined_there():
    cross = [line((0, 0), (5, 0), (10, 0)), line((5, 0), (5, 6))]
    assert walked(cross, (0, 0), (10, 0)) == pytest.approx(10 + 2 * 6)


def test_lines_that_nearly_meet_are_sewn_in_one_thread():
    lines = [line((0, 0), (4, 0)), line((5, 0.3), (5, 4)), line((2, 0.5), (2, 3))]
    dots = sewn(lines, (0, 0), (4, 0))
    assert shapes_of(lines).difference(LineString(dots).buffer(0.08)).length <= 0.1
    assert np.hypot(*np.diff(dots, axis=0).T).min() >= 0.45 - 1e-9


def test_crumbs_of_lines_leave_no_short_stitch():
    rng = np.random.default_rng(7)
    for _ in range(20):
        centre = rng.uniform(0, 10, 2)
        lines = [line(centre, centre + rng.uniform(-1, 1, 2) * rng.choice([0.1, 0.4, 3])) for _ in range(5)]
        dots = sewn(lines, tuple(centre), tuple(centre))
        assert np.hypot(*np.diff(dots, axis=0).T).min() >= 0.3


def test_the_end_is_the_nearest_place_on_the_lines():
    dots = sewn([line((0, 0), (20, 0))], (6, 1), (13, -1))
    assert Point(dots[0]).distance(Point(6, 0)) < 0.2
    assert Point(dots[-1]).distance(Point(13, 0)) < 0.2
    assert LineString(dots).length == pytest.approx(6 + 20 + 7, abs=0.5)


def test_a_run_without_lines_is_our_fault():
    part = Part("p1", "r1", "run", Point(0, 0).buffer(1), (1, 1, 1), MultiPolygon(), 0.2, "")
    with pytest.raises(BrokenPromiseError, match="p1"):
        lay_run(Step(part, "#000000", (0, 0), (0, 0)), RUN, CRAFT)
