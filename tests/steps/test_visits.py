"""The order inside a colour stop, against all orders and against published instances."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from shapely.geometry import box

from pipeline.geometry.polygon import NOTHING
from pipeline.model import Column, Line, Part, points
from pipeline.steps.gates import gates
from pipeline.steps.prices import Field, chosen_exits, field_of, price_of
from pipeline.steps.settings import StepSettings
from pipeline.steps.tour import Flags, Problem, best_tour
from pipeline.steps.units import Unit, units
from pipeline.steps.visits import ordered

NOWHERE = np.zeros((0, 2))


def unit(part: Part) -> Unit:
    return units((part,), {"r1": "#a"}, {"r1": 0})[0]


def tatami(x: float, y: float, width: float = 4, height: float = 4, angle_deg: float = 0.0) -> Unit:
    area = box(x, y, x + width, y + height)
    return unit(Part("r1.1", "r1", "tatami", area, (4, 4, 4), NOTHING, 0.2, "made", angle_deg=angle_deg))


def strewn(seed: int, count: int, patches: int, precedence: float = 0.0) -> Field:
    random = np.random.default_rng(seed)
    found = [tatami(x, y) for x, y in random.uniform(0, 60, (count, 2))]
    before = np.tril(random.random((count, count)) < precedence, -1)
    for row in range(count):
        before[row] |= before[before[row]].any(axis=0)
    ground = random.integers(0, patches, count)
    return field_of([gates(item, NOWHERE) for item in found], ground, before, StepSettings())


def kept(before: Flags, order: list[int]) -> bool:
    place = {unit: k for k, unit in enumerate(order)}
    return all(place[low] < place[high] for high, low in np.argwhere(before).tolist())


@pytest.mark.parametrize("seed", range(6))
def test_few_units_are_in_the_best_of_all_orders(seed: int) -> None:
    field = strewn(seed, 6, 2, 0.15)
    every = [list(order) for order in itertools.permutations(range(6)) if kept(field.before, list(order))]
    best = min(price_of(field, np.array(order)) for order in every)
    found = ordered(field)
    assert kept(field.before, found.tolist())
    assert price_of(field, found) == pytest.approx(best)


@pytest.mark.parametrize("count", [12, 50, 90, 170])
def test_many_units_keep_what_comes_before_and_beat_nearest_first(count: int) -> None:
    field = strewn(count, count, 1, 2.0 / count**2)
    found = ordered(field)
    assert sorted(found.tolist()) == list(range(count))
    assert kept(field.before, found.tolist())
    assert price_of(field, found) < price_of(field, np.arange(count)) * 0.6


def test_a_patch_is_left_once_only() -> None:
    field = strewn(3, 30, 3)
    ground = field.patch[ordered(field)]
    assert np.count_nonzero(np.diff(ground)) == 2


def test_rows_begin_at_corners_and_end_on_the_other_side() -> None:
    gate = gates(tatami(0, 0, 10, 6), NOWHERE)
    corners = {(0.0, 0.0), (10.0, 0.0), (0.0, 6.0), (10.0, 6.0)}
    assert {tuple(spot) for spot in gate.enter.tolist()} == corners
    free = np.argwhere(gate.extra < 1e-9)
    assert len(free)
    assert all(gate.enter[a][1] != gate.leave[b][1] for a, b in free)


def test_satin_is_free_from_end_to_end_and_ring_where_it_began() -> None:
    rails = np.linspace(0, 20, 11)
    column = Column(points(np.column_stack([rails, rails * 0])), points(np.column_stack([rails, rails * 0 + 3])))
    part = Part("r1.1", "r1", "satin", box(0, 0, 20, 3), (3, 3, 3), NOTHING, 0.2, "made", column=column)
    assert gates(unit(part), NOWHERE).extra.tolist() == [[20.0, 0.0], [0.0, 20.0]]
    line = Line(points([(0, 0), (9, 0), (9, 9)]), closed=True)
    loop = Part("r1.1", "r1", "run", box(0, 0, 9, 9), (0.3, 0.3, 0.3), NOTHING, 0.2, "made", lines=(line,))
    assert np.diag(gates(unit(loop), NOWHERE).extra).tolist() == [0.0] * 6


def test_exits_are_chosen_for_the_whole_way() -> None:
    row = [tatami(10 * k, 0) for k in range(4)]
    field = field_of(
        [gates(item, NOWHERE) for item in row], np.arange(4), np.zeros((4, 4), dtype=bool), StepSettings()
    )
    exits = field.leave[chosen_exits(field, np.arange(4))]
    assert exits[:3, 0].tolist() == [4.0, 14.0, 24.0]


# TSPLIB (G. Reinelt, ORSA Journal on Computing 3(4), 1991), written down from memory; the optimum is published.
ESC07 = """0 0 0 0 0 0 0 0 1000000 | -1 0 100 200 75 0 300 100 0 | -1 400 0 500 325 400 600 0 0
| -1 700 800 0 550 700 900 800 0 | -1 -1 250 225 0 275 525 250 0 | -1 -1 100 200 -1 0 -1 -1 0
| -1 -1 1100 1200 1075 1000 0 1100 0 | -1 -1 0 500 325 400 600 0 0 | -1 -1 -1 -1 -1 -1 -1 -1 0"""


def test_published_sequential_ordering_instance() -> None:
    given = np.array([row.split() for row in ESC07.split("|")], dtype=np.float64)
    before = given == -1
    cost = np.where(before, np.inf, given)
    first = np.where(before.any(axis=1), np.inf, 0.0)
    tour, exact = best_tour(Problem(np.arange(9), first, np.zeros(9), cost, before), 10**6)
    assert exact
    assert sum(cost[a, b] for a, b in itertools.pairwise(tour)) == 2125


def test_narrow_beam_says_that_it_is_not_exact() -> None:
    field = strewn(1, 10, 2)
    problem, _ = field.problem(np.arange(10), None, None)
    assert best_tour(problem, 10)[1] is False


@pytest.mark.parametrize("precedence", [0.02, 0.1])
@pytest.mark.parametrize("count", [12, 20])
def test_no_piece_is_turned_round_in_which_one_comes_before_another(count: int, precedence: float) -> None:
    for seed in range(3):
        field = strewn(seed, count, 1, precedence)
        assert kept(field.before, ordered(field).tolist())
