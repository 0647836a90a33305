from __future__ import annotations

import numpy as np
import pytest
from crafts import CRAFT
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

from pipeline.geometry.polygon import NOTHING
from pipeline.model import Block, Column, Line, Part, Pass, Points, Sewing, Spot, Step, Strand, points
from pipeline.tie.grid import on_grid
from pipeline.tie.join import join
from pipeline.tie.locks import Crowd, tie_off
from pipeline.tie.settings import TieSettings

SETTINGS = TieSettings()


def block(name: str, colour: str, area: Polygon, path: list[tuple[float, float]]) -> Block:
    part = Part(f"{name}.1", name, "tatami", area, (1, 5, 9), NOTHING, 0.2, "made", angle_deg=0.0)
    return Block(Step(part, colour, path[0], path[-1]), (Strand("cover", points(path)),))


def satin(name: str, left: list[Spot], right: list[Spot], path: list[Spot]) -> Block:
    column = Column(points(left), points(right))
    area = Polygon([*left, *right[::-1]])
    part = Part(f"{name}.1", name, "satin", area, (1, 2, 3), NOTHING, 0.2, "made", column=column)
    return Block(Step(part, "#a", path[0], path[-1]), (Strand("cover", points(path)),))


def sewn(*blocks: Block) -> Sewing:
    return join(blocks, SETTINGS, CRAFT)


def approaches(sewing: Sewing) -> list[str]:
    return [item.approach for item in sewing.passes if item.approach != "sewn"]


LEFT, RIGHT, FAR = box(0, 0, 10, 10), box(10, 0, 20, 10), box(40, 0, 50, 10)


def test_colour_change_cuts_and_locks_on_both_sides() -> None:
    sewing = sewn(block("r1", "#a", LEFT, [(1, 1), (4, 1), (8, 1)]), block("r2", "#b", RIGHT, [(11, 1), (15, 1)]))
    assert approaches(sewing) == ["colour", "colour"]
    assert [item.layer for item in sewing.passes] == ["lock", "cover", "lock"] * 2
    assert sewing.colours == ("#a", "#b")


def test_far_neighbour_of_one_colour_is_trimmed() -> None:
    sewing = sewn(block("r1", "#a", LEFT, [(1, 1), (8, 1)]), block("r2", "#a", FAR, [(41, 1), (45, 1)]))
    assert approaches(sewing) == ["colour", "trim"]


def test_travel_runs_beneath_cover_still_to_come() -> None:
    body = box(0, 0, 60, 10)
    first = block("r1", "#a", box(0, 8, 5, 20), [(2, 19), (2, 9)])
    second = block("r1", "#a", box(50, 8, 55, 20), [(52, 9), (52, 19), (52, 9)])
    last = block("r1", "#a", body, [(52, 5), (2, 5)])
    sewing = sewn(first, second, last)
    travel = [item for item in sewing.passes if item.layer == "travel"]
    assert approaches(sewing) == ["colour"]
    assert travel
    assert all(body.buffer(0.2).covers(Polygon(box(x, y, x + 0.01, y + 0.01))) for x, y in travel[0].points)


def test_travel_goes_round_a_hole_that_nothing_covers() -> None:
    ring = box(0, 0, 30, 30).difference(box(5, 5, 25, 25))
    first = block("r1", "#a", box(0, 28, 4, 40), [(2, 39), (2, 29)])
    second = block("r2", "#a", box(26, -10, 30, 2), [(28, 1), (28, -9)])
    last = block("r3", "#b", ring, [(1, 1), (28, 1)])
    sewing = sewn(first, second, last)
    assert approaches(sewing) == ["colour", "colour"]
    path = np.vstack([[2, 29], *[p.points for p in sewing.passes if p.layer == "travel"], [28, 1]])
    assert ring.buffer(0.3).covers(LineString(path[:-1]))


def test_points_lie_on_the_grid_about_the_centre() -> None:
    sewing = sewn(block("r1", "#a", LEFT, [(1.234, 1.111), (4.321, 1.999), (8.05, 1.06)]))
    every = np.vstack([item.points for item in sewing.passes])
    off = (every - sewing.centre) * 10
    assert np.abs(off - np.rint(off)).max() < 1e-9


def legs(path: Points) -> list[Pass]:
    return [Pass(0, "r1", "r1.1", "cover", "colour", path)]


@pytest.mark.parametrize("seed", range(5))
def test_no_short_stitch_is_left_and_no_corner_lost(seed: int) -> None:
    random = np.random.default_rng(seed)
    path = np.cumsum(random.uniform(-0.4, 0.6, (400, 2)), axis=0)
    _, passes = on_grid(legs(path), 0.3, 7.0)
    left = passes[0].points
    assert np.hypot(*np.diff(left, axis=0).T).min() >= 0.3 - 1e-9
    away = np.hypot(*(path[:, None] - left[None]).transpose(2, 0, 1)).min(axis=1)
    assert away.max() < 0.6


@pytest.mark.parametrize(("length", "pieces"), [(7.0, 1), (9.0, 2), (30.0, 5)])
def test_long_stitch_is_split_evenly(length: float, pieces: int) -> None:
    _, passes = on_grid(legs(np.array([[0.0, 0.0], [length, 0.0], [length, 3.0]])), 0.3, 7.0)
    steps = np.hypot(*np.diff(passes[0].points, axis=0).T)
    assert steps.max() <= 7.0 + 1e-9
    assert len(steps) == pieces + 1
    assert np.ptp(steps[:pieces]) <= 0.2 + 1e-9


def test_lock_stitches_stay_on_the_path() -> None:
    sewing = sewn(block("r1", "#a", LEFT, [(1, 1), (8, 1), (8, 5)]))
    lock = [item for item in sewing.passes if item.layer == "lock"]
    assert [len(item.points) for item in lock] == [3, 3]
    assert np.abs(lock[0].points[:, 1] - 1.0).max() < 0.11
    assert np.abs(lock[1].points[:, 0] - 8.0).max() < 0.11


def test_folded_path_still_gets_its_locks() -> None:
    zigzag = [(1.0 + 0.1 * k, 1.0 + 0.4 * (k % 2)) for k in range(12)]
    sewing = sewn(block("r1", "#a", LEFT, zigzag))
    assert [len(item.points) for item in sewing.passes if item.layer == "lock"] == [3, 3]


def test_locks_keep_away_from_where_the_needle_goes_in_often() -> None:
    dense = [(1.0 + 0.04 * k, 1.0 + 0.5 * (k % 2)) for k in range(24)]
    sewing = sewn(block("r1", "#a", LEFT, dense + [(2.5 + 0.5 * k, 1.5) for k in range(12)]))
    first, last = (item.points for item in sewing.passes if item.layer == "lock")
    every = np.vstack([item.points for item in sewing.passes])
    for lock in (first, last):
        steps = np.hypot(*np.diff(lock, axis=0).T)
        assert steps.min() >= 0.5
        assert len(np.unique(lock, axis=0)) == len(lock)
    assert first[:, 0].max() > 2.5  # the nearest place, about (1, 1), has two dozen needle points
    about = np.hypot(*(every[:, None] - first[None]).transpose(2, 0, 1)) <= 0.5
    assert about.sum(axis=0).max() <= 10


@pytest.mark.parametrize("seed", range(8))
def test_a_lock_on_a_run_to_and_fro_keeps_stitches_that_can_be_sewn(seed: int) -> None:
    generator = np.random.default_rng(seed)
    along = 3.0 + 1.1 * np.abs(np.linspace(0, 2 * (1 + seed % 4), 14) % 2 - 1)
    run = np.round(np.column_stack([along, 3 + 0.1 * generator.standard_normal(14)]), 1)
    crowd = Crowd([run, np.round(generator.uniform(2.5, 7, (60, 2)), 1)])
    lock = tie_off(points(run), LEFT, 0.7, crowd, CRAFT)
    steps = np.hypot(*np.diff(np.vstack([run[-1:], lock]), axis=0).T)
    assert steps.min() >= 0.45


def test_an_end_that_pull_brings_outside_its_face_still_leads_beneath_what_follows() -> None:
    limb = satin("r1", [(0, 0), (8, 0)], [(0, 1), (8, 1)], [(7.5, 0.5), (4.0, -0.25)])
    body = satin("r1", [(6, 0.5), (6, 20)], [(3, 0.5), (3, 20)], [(4.5, 18.0), (4.5, 1.0)])
    sewing = sewn(limb, body)
    assert approaches(sewing) == ["colour"]
    assert [item.layer for item in sewing.passes if item.layer == "travel"] == ["travel"]


def test_travel_runs_a_short_way_over_sewn_cover_of_its_own_colour_only() -> None:
    body = block("r1", "#a", box(0, 0, 20, 10), [(19, 1), (2, 9)])

    def pair(apart: float) -> tuple[Block, Block]:
        near, far = box(0, 9, 4, 14), box(apart, 9, 4 + apart, 14)
        left = block("r2", "#a", near, [(2, 13), (2, 9.5)])
        return left, block("r3", "#a", far, [(2 + apart, 9.5), (2 + apart, 13)])

    assert approaches(sewn(body, *pair(5.0))) == ["colour"]
    assert approaches(sewn(body, *pair(16.0))) == ["colour", "trim"]
    between = block("r4", "#b", box(0, 0, 20, 10), [(19, 1), (2, 9)])
    assert approaches(sewn(body, between, *pair(5.0))) == ["colour", "colour", "colour", "trim"]


def test_way_goes_on_through_several_faces() -> None:
    arms = [box(0, 0, 4, 40), box(0, 36, 40, 40), box(36, 0, 40, 40)]
    first = block("r1", "#a", box(0, -6, 4, 1), [(2, -5), (2, 0.5)])
    second = block("r2", "#a", box(36, -6, 40, 1), [(38, 0.5), (38, -5)])
    later = [block(f"r{k + 3}", "#b", arm, [(2, 38), (3, 38)]) for k, arm in enumerate(arms)]
    long = TieSettings(travel_mm=150)
    sewing = join((first, second, *later), long, CRAFT)
    travel = next(item for item in sewing.passes if item.layer == "travel")
    assert approaches(sewing)[:2] == ["colour", "colour"]
    assert unary_union(arms).buffer(0.3).covers(LineString(travel.points))


def test_thread_that_would_lie_open_for_long_is_cut_unless_cover_comes() -> None:
    """Between two stars on a field of another colour it would be seen as a line."""
    one, other = (
        block("r1", "#a", LEFT, [(1, 1), (9.9, 5)]),
        block("r2", "#a", box(11.5, 0, 20, 10), [(11.6, 5), (15, 5)]),
    )
    assert approaches(sewn(one, other)) == ["colour", "trim"]
    cover = block("r3", "#b", box(8, 0, 13, 10), [(9, 1), (12, 9)])
    assert "trim" not in approaches(sewn(one, other, cover))


def test_lock_turns_away_from_bare_fabric() -> None:
    notch = box(0, 0, 10, 10).difference(box(0.2, 0.2, 3, 3))
    sewing = sewn(block("r1", "#a", notch, [(0.1, 0.1), (4, 4), (0.1, 4), (0.1, 9), (5, 9)]))
    lock = next(item for item in sewing.passes if item.layer == "lock")
    assert notch.buffer(0.2).covers(LineString(lock.points))


def line_block(name: str, lines: list[list[Spot]], path: list[Spot]) -> Block:
    area = unary_union([LineString(line).buffer(0.2) for line in lines])
    drawn = tuple(Line(points(line)) for line in lines)
    part = Part(f"{name}.1", name, "run", area, (0.4, 0.4, 0.4), NOTHING, 0.2, "made", lines=drawn)
    return Block(Step(part, "#a", path[0], path[-1]), (Strand("cover", points(path)),))


def test_travel_keeps_to_the_lines_of_a_run_still_to_come() -> None:
    """Two ends of a bent line are sewn before it: no cut between them, and no thread off the line."""
    bend = [(0.0, 0.0), (0.0, 20.0), (20.0, 20.0)]
    first = block("r1", "#a", box(-1, -2, 1, 0.3), [(0, -1.5), (0, 0)])
    second = block("r1", "#a", box(19.7, 19, 22, 21), [(20, 20), (21.5, 20), (20, 20)])
    sewing = sewn(first, second, line_block("r1", [bend[:2], bend[1:]], [(20, 20), (0, 20), (0, 0)]))
    assert approaches(sewing) == ["colour"]
    travel = np.vstack([item.points for item in sewing.passes if item.layer == "travel"])
    assert (
        LineString(travel).hausdorff_distance(LineString(travel).intersection(LineString(bend).buffer(0.15))) < 0.3
    )
    assert LineString(travel).length > 30


def test_a_way_that_is_too_long_gives_way_to_another() -> None:
    """As the crow flies both faces are as good; round the horseshoe it is too far, through the band it is not."""
    horseshoe = box(0, 0, 90, 90).difference(box(6, 6, 84, 91))
    first = block("r1", "#a", box(-3, 84, 4, 89), [(-2, 86), (3, 86)])
    second = block("r1", "#a", box(86, 84, 93, 89), [(87, 86), (92, 86)])
    band = block("r1", "#a", box(1, 82, 89, 96), [(3, 88), (9, 88)])
    right, left = (87.0, 50.0), (3.0, 60.0)
    free = TieSettings(own_cover_cost=2.0)
    round_first = join((first, second, block("r1", "#a", horseshoe, [right, left]), band), free, CRAFT)
    band_first = join((first, second, band, block("r1", "#a", horseshoe, [left, right])), free, CRAFT)
    assert approaches(round_first) == approaches(band_first) == ["colour"]


@pytest.mark.parametrize("path", [[(4, 4), (6, 4)], [(4, 4), (4.5, 4)] * 2, [(4, 4), (4, 6), (4.2, 4), (4.2, 6)]])
def test_threads_that_begin_on_one_short_path_are_locked_in_holes_of_their_own(path: list[Spot]) -> None:
    sewing = sewn(*(block(f"r{k}", "#ab"[: 2 + k % 2], LEFT, path) for k in range(10)))
    locks = [item.points for item in sewing.passes if item.layer == "lock"]
    assert len(locks) == 20
    _, hits = np.unique(np.round(np.vstack(locks), 1), axis=0, return_counts=True)
    assert hits.max() <= 4  # 20 where the nearest place is always taken


def test_travel_keeps_its_inset_where_it_has_to_turn() -> None:
    corner = unary_union([box(0, 0, 30, 6), box(0, 0, 6, 30)])
    first = block("r1", "#a", box(28, 0, 36, 6), [(35, 3), (29, 3)])
    last = block("r2", "#a", corner, [(3, 29), (5, 1), (1, 1)])
    away = []
    for inset in (0.2, 0.8, 1.6):
        passes = join((first, last), TieSettings(travel_inset_mm=inset), CRAFT).passes
        travel = np.vstack([item.points for item in passes if item.layer == "travel"])
        assert corner.covers(LineString(travel))
        away.append(LineString(travel).distance(corner.boundary))
        assert away[-1] >= 0.9 * inset - 0.1
    assert away == sorted(away)
    assert away[-1] > away[0] + 0.5
