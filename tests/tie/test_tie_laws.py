"""How blocks are joined: budgets of travel and jumps, locks in order, over seeded fields of blocks."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from crafts import CRAFT
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box

from pipeline.geometry.polygon import NOTHING
from pipeline.model import Block, Column, Line, Part, Pass, Sewing, Spot, Step, Strand, points
from pipeline.tie.join import join
from pipeline.tie.settings import TieSettings

SETTINGS = TieSettings()
CUTS = ("trim", "colour")


def rows(area: Polygon, step_mm: float = 1.0) -> list[Spot]:
    """A coarse fill of a box, to and fro."""
    left, low, right, high = area.bounds
    across = np.arange(left + 0.5, right, 2.0)
    found: list[Spot] = []
    for k, y in enumerate(np.arange(low + 0.5, high, step_mm)):
        found += [(float(x), float(y)) for x in (across if k % 2 == 0 else across[::-1])]
    return found


def block(name: str, colour: str, area: Polygon, path: list[Spot] | None = None, z: int = 0) -> Block:
    path = path or rows(area)
    part = Part(f"{name}.1", name, "tatami", area, (5, 5, 9), NOTHING, 0.2, "", angle_deg=0.0)
    return Block(Step(part, colour, path[0], path[-1]), (Strand("cover", points(path)),))


def field(seed: int) -> tuple[Block, ...]:
    """A dozen boxes of three colours, strewn so that many overlap or meet."""
    random = np.random.default_rng(seed)
    found = []
    for k in range(12):
        x, y = np.round(random.uniform(0, 45, 2), 1)
        w, h = np.round(random.uniform(5, 16, 2), 1)
        colour = "#abc"[: 1 + int(random.integers(1, 4))]
        found.append((colour, block(f"r{k}", colour, box(x, y, x + w, y + h))))
    return tuple(item for _, item in sorted(found, key=lambda pair: pair[0]))


def moves(sewing: Sewing) -> list[tuple[Pass | None, Pass]]:
    return list(zip((None, *sewing.passes[:-1]), sewing.passes, strict=True))


SEEDS = range(10)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_thread_is_locked_where_it_begins_and_where_it_ends_and_nowhere_else(seed: int) -> None:
    passes = join(field(seed), SETTINGS, CRAFT).passes
    for k, item in enumerate(passes):
        begins = item.approach in CUTS
        ends = k + 1 == len(passes) or passes[k + 1].approach in CUTS
        assert (item.layer == "lock") == (begins or ends), "a lock after each cut and before each, and only there"
        assert 3 <= len(item.points) <= 4 or item.layer != "lock"


@pytest.mark.parametrize("seed", SEEDS)
def test_locks_stand_beside_the_end_that_they_hold(seed: int) -> None:
    """The tie-in leads to its cover's first point, the tie-off away from its last; within a few lock stitches."""
    blocks = {item.step.part.id: item for item in field(seed)}
    passes = join(field(seed), SETTINGS, CRAFT).passes
    for k, item in enumerate(passes):
        if item.layer != "lock":
            continue
        path = blocks[item.part].strands[0].points
        begins = item.approach in CUTS
        end = path[0] if begins else path[-1]
        far = np.hypot(*(item.points - end).T)
        assert far.max() <= 4.0 * SETTINGS.lock_mm + 0.2
        follows = passes[k + 1].points[0] if begins else passes[k - 1].points[-1]
        link = item.points[-1] if begins else item.points[0]
        assert np.hypot(*(link - follows)) <= 2.0
        assert blocks[item.part].step.part.area.buffer(0.2).covers(LineString(item.points))
        steps = np.hypot(*np.diff(item.points, axis=0).T)
        assert steps.min() >= 0.3
        assert steps.max() <= 2.0


@pytest.mark.parametrize("seed", SEEDS)
def test_budgets_of_travel_and_jumps_hold_and_what_is_hidden_is(seed: int) -> None:
    blocks = field(seed)
    order = {item.step.part.id: k for k, item in enumerate(blocks)}
    sewing = join(blocks, SETTINGS, CRAFT)
    assert seed == 7 or any(item.layer == "travel" for item in sewing.passes)
    for before, item in moves(sewing):
        if before is None:
            continue
        here, there = before.points[-1], item.points[0]
        way = LineString([here, there])
        if item.approach == "jump":
            assert way.length <= SETTINGS.jump_mm + 0.15
        if item.approach == "sewn" and before.part != item.part and item.layer != "travel":
            assert way.length <= max(SETTINGS.direct_mm, SETTINGS.travel_stitch_mm) + 0.15
        if item.layer == "travel":
            line = LineString([here, *item.points])
            steps = np.hypot(*np.diff(np.vstack([here, item.points]), axis=0).T)
            assert steps.max() <= SETTINGS.travel_stitch_mm + 0.15
            assert line.length <= SETTINGS.travel_mm
            k = order[item.part]
            colour = blocks[k].step.colour
            hiding = [b.step.part.area for i, b in enumerate(blocks) if i >= k or b.step.colour == colour]
            assert line.difference(shapely.union_all(hiding).buffer(0.3)).length == 0.0


@pytest.mark.parametrize("seed", SEEDS)
def test_a_cut_is_made_only_where_no_hidden_way_leads(seed: int) -> None:
    """Judged by the connected ground of all that is still to be sewn."""
    blocks = field(seed)
    order = {item.step.part.id: k for k, item in enumerate(blocks)}
    sewing = join(blocks, SETTINGS, CRAFT)
    assert sum(item.approach == "trim" for item in sewing.passes) >= 5
    for before, item in moves(sewing):
        if before is None or item.approach != "trim":
            continue
        k = order[item.part]
        ground = [b.step.part.area for b in blocks[k:]]
        ends = [Point(blocks[j].strands[0].points[e]) for j, e in ((k - 1, -1), (k, 0))]
        solid = shapely.union_all(ground).buffer(-0.15)
        joined = [p for p in shapely.get_parts(solid) if all(p.distance(end) < 0.4 for end in ends)]
        assert not joined, "a hidden way was there"


def test_travel_keeps_to_its_stitch_and_inside_what_hides_it() -> None:
    body = box(0, 0, 60, 20).difference(box(20, -1, 40, 12))
    limbs = (
        block("r1", "#a", box(2, -8, 6, 1), [(4, -7), (4, 0.8)]),
        block("r1", "#a", box(54, -8, 58, 1), [(56, 0.8), (56, -7)]),
    )
    sewing = join((*limbs, block("r2", "#a", body, [(50.0, 18.0), (10.0, 18.0)])), SETTINGS, CRAFT)
    travel = [item for item in sewing.passes if item.layer == "travel"]
    line = np.vstack([travel[0].points])
    assert body.buffer(0.2).covers(LineString(line))
    steps = np.hypot(*np.diff(line, axis=0).T)
    assert steps.max() <= SETTINGS.travel_stitch_mm + 0.15
    assert np.median(steps) >= 0.75 * SETTINGS.travel_stitch_mm
    assert LineString(line).length <= 1.1 * LineString([(4, 0.8), (20, 12), (40, 12), (56, 0.8)]).length


def test_neither_locks_of_one_thread_nor_of_the_next_crowd_one_place() -> None:
    """Six stars of six colours that begin at one point."""
    stars = []
    for k in range(6):
        turn = np.radians(60 * k)
        path = [(10 + r * np.cos(turn), 10 + r * np.sin(turn)) for r in np.linspace(0, 8, 16)]
        area = LineString(path).buffer(1.5)
        stars.append(block(f"r{k}", f"#{k}", area, [(float(x), float(y)) for x, y in path]))
    locks = [item.points for item in join(tuple(stars), SETTINGS, CRAFT).passes if item.layer == "lock"]
    every = np.vstack(locks)
    about = (np.hypot(*(every[:, None] - every[None]).transpose(2, 0, 1)) <= 0.5).sum(axis=1)
    assert about.max() <= 9


def run_block(name: str, path: list[Spot], kind: str = "run") -> Block:
    area = LineString(path).buffer(0.25)
    lines = tuple(Line(points(pair)) for pair in itertools.pairwise(path))
    part = Part(f"{name}.1", name, kind, area, (0.5,) * 3, NOTHING, 0.2, "", lines=lines)  # type: ignore[arg-type]
    return Block(Step(part, "#a", path[0], path[-1]), (Strand("cover", points(path)),))


def test_a_run_hides_nothing_beside_it() -> None:
    """A jump of 1.8 mm across a later run lies open, and is cut; under a later panel it stays."""
    one, other = (
        block("r1", "#a", box(0, 0, 5, 5), [(0.5, 2.5), (4.9, 2.5)]),
        block("r2", "#a", box(6.7, 0, 11, 5), [(6.7, 2.5), (10, 2.5)]),
    )
    thin = run_block("r3", [(5.8, -3.0), (5.8, 8.0)])
    wide = block("r3", "#a", box(4.5, -1, 7.2, 6))
    approaches = [
        next(item.approach for item in join((one, other, last), SETTINGS, CRAFT).passes if item.part == "r2.1")
        for last in (thin, wide)
    ]
    assert approaches == ["trim", "sewn"]


@pytest.mark.parametrize(("gap", "approach"), [(0.4, "sewn"), (0.75, "jump"), (1.2, "jump"), (1.6, "trim")])
def test_a_step_between_two_edges_is_sewn_a_longer_one_left_and_a_long_one_cut(gap: float, approach: str) -> None:
    one = block("r1", "#a", box(0, 0, 5, 5), [(0.5, 2.5), (5.0, 2.5)])
    other = block("r2", "#a", box(5 + gap, 0, 11, 5), [(5.0 + gap, 2.5), (10, 2.5)])
    first = next(item for item in join((one, other), SETTINGS, CRAFT).passes if item.part == "r2.1")
    assert first.approach == approach
    assert first.layer == ("lock" if approach == "trim" else "cover"), "an uncut thread needs no lock"


def test_a_way_beneath_cover_to_come_is_preferred_to_one_over_finished_satin() -> None:
    """The one over a finished column of the same colour is shorter, but would show."""
    rails = points([(0.0, 0.0), (30.0, 0.0)]), points([(0.0, 3.0), (30.0, 3.0)])
    column = Column(*rails)
    bar = Part("r0.1", "r0", "satin", box(0, 0, 30, 3), (3, 3, 3), NOTHING, 0.2, "", column=column)
    done = Block(Step(bar, "#a", (0.0, 1.5), (30.0, 1.5)), (Strand("cover", rails[0]),))
    left, right = box(0, 2.5, 4, 9), box(26, 2.5, 30, 9)
    first = block("r1", "#a", left, [(2.0, 8.5), (2.0, 2.8)])
    second = block("r2", "#a", right, [(28.0, 2.8), (28.0, 8.5)])
    band = block("r3", "#a", box(0, 8.0, 30, 14.0))
    sewing = join((done, first, second, band), SETTINGS, CRAFT)
    travel = [item for item in sewing.passes if item.layer == "travel" and item.part == "r2.1"]
    assert travel
    line = np.vstack([item.points for item in travel])
    assert line[np.abs(line[:, 0] - 15.0) < 9.0][:, 1].min() >= 7.0


def test_a_long_stitch_is_divided_evenly_and_none_is_longer_than_the_limit() -> None:
    for length in (7.1, 10.5, 13.9, 20.9, 33.0):
        path = [(0.0, 1.0), (length, 1.0), (length, 3.0)]
        sewing = join((block("r1", "#a", box(-1, 0, 40, 4), path),), SETTINGS, CRAFT)
        cover = np.vstack([item.points for item in sewing.passes if item.layer == "cover"])
        steps = np.hypot(*np.diff(cover, axis=0).T)
        assert steps.max() <= CRAFT.longest_mm + 1e-9
        assert len(steps) <= np.ceil(length / (CRAFT.longest_mm - 0.1)) + 1
        assert np.ptp(steps[:-1]) <= 0.15


def test_of_stitches_too_short_every_other_goes_and_not_all() -> None:
    path = [(0.2 * k, 1.0) for k in range(51)]
    sewing = join((block("r1", "#a", box(-1, 0, 12, 2), path),), SETTINGS, CRAFT)
    cover = np.vstack([item.points for item in sewing.passes if item.layer == "cover"])
    assert 23 <= len(cover) <= 28
    assert MultiPolygon([box(-1, 0, 12, 2)]).covers(LineString(cover))


def test_a_way_of_four_millimetres_in_the_open_is_cut_even_where_cover_comes() -> None:
    """A run hides no travel, and the panel that would hide a jump does not make it short."""
    one = block("r1", "#a", box(0, 0, 5, 5), [(0.5, 2.5), (5.0, 2.5)])
    other = block("r2", "#a", box(9, 0, 14, 5), [(9.0, 2.5), (13, 2.5)])
    stones = [block(f"r{k + 3}", "#b", box(5.6 + 1.2 * k, 1, 6.3 + 1.2 * k, 4)) for k in range(3)]
    passes = join((one, other, *stones), SETTINGS, CRAFT).passes
    assert next(item.approach for item in passes if item.part == "r2.1") == "trim"


def test_a_move_of_a_millimetre_over_finished_cover_of_another_colour_is_no_stitch() -> None:
    """Its ends lie on two panels of one colour, with a strip of another sewn over both between them."""
    one = block("r1", "#a", box(0, 0, 5, 5), [(0.5, 2.5), (4.5, 2.5)])
    other = block("r2", "#a", box(5, 0, 10, 5), [(5.5, 2.5), (9, 2.5)])
    steps = [p for p in join((one, other), SETTINGS, CRAFT).passes if p.part == "r2.1"]
    assert [item.layer for item in steps[:1]] == ["cover"]
    assert steps[0].approach == "sewn"


def test_threads_that_begin_on_one_path_are_locked_in_holes_of_their_own() -> None:
    """A hole hit again and again cuts the fabric."""
    path = [(float(x), 10.0) for x in range(24)]
    area = LineString(path).buffer(2)
    passes = join(tuple(block(f"r{k}", f"#{k}", area, path) for k in range(3)), SETTINGS, CRAFT).passes
    begun = [item.points for item in passes if item.approach == "colour"]
    assert len(np.unique(np.vstack(begun), axis=0)) >= 8


def test_a_thread_sewn_backwards_is_locked_in_the_same_holes_the_other_way_round() -> None:
    path = [(0.0, 0.0), (3.0, 0.0), (9.0, 1.0), (15.0, 0.0), (20.0, 3.0)]
    area = LineString(path).buffer(2)
    sewn = [
        np.vstack([item.points for item in join((block("r1", "#a", area, way),), SETTINGS, CRAFT).passes])
        for way in (path, path[::-1])
    ]
    assert np.abs(sewn[0] - sewn[1][::-1]).max() < 1e-6


@pytest.mark.parametrize(("inside", "approach"), [(0.1, "sewn"), (0.4, "jump")])
def test_the_needle_goes_straight_on_over_a_crack_only_to_a_place_close_by(inside: float, approach: str) -> None:
    """Half a millimetre between two panels, lost between their edges; 0.7 mm from point to point, then 1.3."""
    one = block("r1", "#a", box(0, 0, 5, 5), [(0.5, 2.5), (5.0 - inside, 2.5)])
    other = block("r2", "#a", box(5.5, 0, 11, 5), [(5.5 + inside, 2.5), (10, 2.5)])
    first = next(item for item in join((one, other), SETTINGS, CRAFT).passes if item.part == "r2.1")
    assert first.approach == approach


@pytest.mark.parametrize("flip", [False, True])
@pytest.mark.parametrize("nearer", [0.0, 0.3, 0.5])
@pytest.mark.parametrize("gap", [2.3, 2.7, 3.0])
def test_of_two_ways_over_finished_cover_the_one_over_tatami_is_taken(
    gap: float, nearer: float, flip: bool
) -> None:
    """On satin's long stitches a thread shows, so that a way over it is taken only where it is much the shorter."""
    far = 8.0 + gap
    low, high = ((4.5, 6.0), (0.0, 1.5)) if flip else ((0.0, 1.5), (4.5, 6.0))
    rails = [points([(3.5, y), (far - 3.5, y)]) for y in low]
    bar = box(3.5, low[0], far - 3.5, low[1])
    satin = Part("r0.1", "r0", "satin", bar, (1.5,) * 3, NOTHING, 0.2, "", column=Column(rails[0], rails[1]))
    done = Block(Step(satin, "#a", (3.5, low[0]), (far - 3.5, low[0])), (Strand("cover", rails[0]),))
    band = block(
        "r1", "#a", box(3.5, high[0], far - 3.5, high[1]), [(3.6, high[0] + 0.7), (far - 3.6, high[0] + 0.7)]
    )
    y = 3.0 + (nearer if flip else -nearer)
    one = block("r2", "#a", box(0, 0, 4, 6), [(1.0, 3.0), (3.8, y)])
    other = block("r3", "#a", box(far - 4, 0, far, 6), [(far - 3.8, y), (far - 1.0, 3.0)])
    passes = join((done, band, one, other), SETTINGS, CRAFT).passes
    way = np.vstack([item.points for item in passes if item.layer == "travel" and item.part == "r3.1"])
    across = LineString(way).intersection(box(4.2, -1, far - 4.2, 7))
    assert not across.is_empty
    assert high[0] - 0.1 <= across.bounds[1] <= across.bounds[3] <= high[1] + 0.1
